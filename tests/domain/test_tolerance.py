"""Tolerances: letters, per cent, and what they look like in print."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.tolerance import Letter, letter, show_tolerance, split_percent
from benchlog.errors import BadInput


@pytest.mark.parametrize(
    ("text", "rest", "tolerance"),
    [
        ("4k7 5%", "4k7", (-0.05, 0.05)),
        ("4k7 ±5 %", "4k7", (-0.05, 0.05)),
        ("4k7 +/- 0,5 %", "4k7", (-0.005, 0.005)),
        ("10u +50/-20%", "10u", (-0.2, 0.5)),
        ("10u -20/+50 % 63V", "10u 63V", (-0.2, 0.5)),
        ("10u +80% -20%", "10u", (-0.2, 0.8)),
        ("10u -0/+100%", "10u", (0.0, 1.0)),
        ("-38 V 10%", "-38 V", (-0.1, 0.1)),
        ("4k7", "4k7", None),
    ],
)
def test_per_cent_are_taken_off(text: str, rest: str, tolerance: tuple[float, float] | None) -> None:
    assert split_percent(text) == (rest, tolerance)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("4k7 +5%", "has a tolerance on one side only; write both, as in +10/-0%, or 10%"),
        ("4k7 -5%", "write both, as in +0/-10%, or 10%"),
        ("4k7 5% 10%", "has more than one tolerance; write one"),
        ("4k7 1,234%", "1,234 % is not a tolerance"),
        ("4k7 2000%", "2000 % is not a tolerance"),
        ("4k7 +1.2.3/-5%", "1.2.3 % is not a tolerance"),
    ],
)
def test_what_is_no_tolerance_is_refused(text: str, sentence: str) -> None:
    with pytest.raises(BadInput) as caught:
        split_percent(text)
    assert sentence in str(caught.value)


def test_below_ten_picofarads_the_letter_is_absolute() -> None:
    assert letter("C", 4.7e-12, "F") == Letter(((-0.0531914893617, 0.0531914893617),))
    assert letter("C", 10e-12, "F") == Letter(((-0.0025, 0.0025),))
    assert letter("J", 4.7e-12, "F") == Letter(((-0.05, 0.05),))
    assert letter("D", 4.7, "ohm") == Letter(((-0.005, 0.005),))


def test_letters_of_capacitors_mean_nothing_on_resistors() -> None:
    assert letter("Z", 1e-5, "F") == Letter(((-0.2, 0.8),))
    for mark in "ZSTQ":
        assert letter(mark, 4700.0, "ohm") is None
    assert letter("X", 4700.0, "ohm") is None


def test_disputed_letters_are_never_sure() -> None:
    for mark in "EHLPWQ":
        found = letter(mark, 1e-6, "F")
        assert found is not None
        assert not found.sure
    assert letter("P", 4700.0, "ohm") == Letter(((-0.0002, 0.0002),), sure=False)


@given(st.text("0123456789.,+-/% kV", max_size=20))
def test_any_text_is_split_or_refused(text: str) -> None:
    try:
        rest, _ = split_percent(text)
    except BadInput:
        return
    assert "%" not in rest or "%" in text


@given(st.integers(0, 1000), st.integers(0, 1000))
def test_what_is_printed_is_read_back(above: int, below: int) -> None:
    tolerance = (0.0 - below / 100, above / 100)
    assert split_percent(f"x {show_tolerance(tolerance)}") == ("x", tolerance)
