"""A meter's error: data-sheet figures in, half-widths out, and no count without its size."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.accuracy import FunctionError, MeterError, MeterRange
from benchlog.errors import BadInput


@pytest.mark.parametrize(
    ("text", "value", "half_width"),
    [
        ("0.5%+2@0.1", 100.0, 0.7),
        ("0,5 % + 2@0,1", 100.0, 0.7),
        ("±(1 % + 2 counts@0.1)", 100.0, 1.2),
        ("0.5%+2@0.1mV", -0.0125, 0.0002625),
        ("0.002%+0.0005%@10", 5.0, 150e-6),
        ("0.002%+0.0005%@10V", 5.0, 150e-6),
        ("50mV", 38.0, 0.05),
        ("0.5", 38.0, 0.5),
        ("1%", -50.0, 0.5),
        ("0.5%+1 mV", 1.0, 0.006),
        ("2@0.01", 5.0, 0.02),
        ("3d@0.01", 5.0, 0.03),
        ("0%", 5.0, 0.0),
    ],
)
def test_a_stated_error_is_a_half_width(text: str, value: float, half_width: float) -> None:
    meter = MeterError.parse(text)
    assert meter.half_width(value) == half_width
    assert meter.standard(value) == pytest.approx(half_width * 0.5773502691896258)


def test_counts_need_the_last_digit() -> None:
    meter = MeterError.parse("0.5%+2")
    with pytest.raises(BadInput, match="counts digits, and the last digit of this reading is not known"):
        meter.half_width(100.0)
    assert meter.half_width(100.0, 0.1) == 0.7
    assert MeterError.parse("0.5%+2@0.01").half_width(100.0, 0.1) == 0.52


def test_a_resolution_of_nothing_is_still_known() -> None:
    assert MeterError.parse("1%").half_width(1.0, 0.001) == 0.01


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "is not a meter's error; write it as in 0.5%+2@0.1"),
        ("abc", "is not a meter's error"),
        ("2", "write 2@0.1 for counts, or a unit as in 2 mV"),
        ("-1 V", "is not a meter's error"),
        ("-1%", "is not a meter's error"),
        ("1,234%", "1,234 % is not a meter's error"),
        ("200%", "200 % is not a meter's error"),
        ("0.5%+2@0.1+3@0.1", "does not add up"),
        ("0.5%+1 mV+2@0.1Ω", "does not add up"),
        ("0.5%+2@0", "0 is no range and no count"),
        ("0.5%+2@x", "is not a value"),
        ("0.5%+", "is not a meter's error"),
    ],
)
def test_what_is_no_error_is_refused(text: str, sentence: str) -> None:
    with pytest.raises(BadInput) as caught:
        MeterError.parse(text)
    assert sentence in str(caught.value)


def test_a_share_of_the_range_needs_the_range() -> None:
    meter = MeterError.parse("0.0020 % of reading + 0.0005 % of range")
    with pytest.raises(
        BadInput, match="takes a share of the range, and the range of this reading is not known"
    ):
        meter.half_width(5.0)
    assert meter.half_width(5.0, range_=10.0) == 150e-6
    assert MeterError.parse("0.002% rdg+0.0005% rng").half_width(5.0, range_=10.0) == 150e-6


# --- by function and range -----------------------------------------------------------------------

LOW = MeterRange(1.0, 1e-6, MeterError.parse("0.003%+0.001% of range"))
HIGH = MeterRange(10.0, 1e-5, MeterError.parse("0.002%+0.0005% of range"))
LISTED = FunctionError("V", ranges=(LOW, HIGH))


@pytest.mark.parametrize(
    ("value", "resolution", "top", "error", "digit"),
    [
        (5.0, None, 10.0, 150e-6, 1e-5),
        (-5.0, None, 10.0, 150e-6, 1e-5),
        (0.5, None, 1.0, 25e-6, 1e-6),
        (0.5, 1e-6, None, 25e-6, 1e-6),
        (0.5, 1e-5, None, 60e-6, 1e-5),
        (1.2, None, 1.0, 46e-6, 1e-6),
        (5.0, None, None, None, None),
        (5.0, None, 1.0, None, None),
        (5.0, None, 1000.0, None, None),
        (5.0, 1e-3, None, None, 1e-3),
    ],
)
def test_the_range_in_use_decides(
    value: float, resolution: float | None, top: float | None, error: float | None, digit: float | None
) -> None:
    assert LISTED.of(value, resolution, top) == (pytest.approx(error) if error else None, digit)


def test_one_range_is_the_range_in_use() -> None:
    assert FunctionError("V", ranges=(HIGH,)).of(5.0) == (pytest.approx(150e-6), 1e-5)


def test_counts_take_the_last_digit_from_the_reading_or_the_range() -> None:
    counts = FunctionError("V", MeterError.parse("0.5%+2"), (MeterRange(10.0, 0.01),))
    assert counts.of(5.0, 0.001) == (pytest.approx(0.027), 0.001)
    assert counts.of(5.0, None, 10.0) == (pytest.approx(0.045), 0.01)
    assert FunctionError("V", MeterError.parse("0.5%+2")).of(5.0) == (None, None)


def test_an_error_in_another_unit_says_nothing_here() -> None:
    assert FunctionError("ohm", MeterError.parse("50mV")).of(5.0) == (None, None)
    assert FunctionError("V", MeterError.parse("50mV")).of(5.0) == (0.05, None)


@pytest.mark.parametrize(
    ("known", "needed"),
    [
        (LISTED, True),
        (FunctionError("V"), False),
        (FunctionError("V", MeterError.parse("0.3%")), False),
        (FunctionError("V", MeterError.parse("0.3%+2@0.1")), False),
        (FunctionError("V", MeterError.parse("0.3%+2")), True),
        (FunctionError("V", MeterError.parse("0.3%+0.1% of range")), True),
    ],
)
def test_whether_the_range_must_be_known(known: FunctionError, needed: bool) -> None:
    assert known.needs_range is needed


@given(st.text("0123456789.,%+@ mVkΩd()±-ofrangedig", max_size=20))
def test_any_text_is_an_error_or_refused(text: str) -> None:
    try:
        meter = MeterError.parse(text)
    except BadInput as error:
        assert str(error)
        return
    assert meter.half_width(12.5, 0.1, 20.0) >= 0
