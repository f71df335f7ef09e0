"""Expectations: nominal and tolerance, limits, absolute near zero, and their text both ways."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.kind import Kind
from benchlog.errors import BadInput

INF = math.inf


@pytest.mark.parametrize(
    ("text", "nominal", "low", "high", "unit"),
    [
        ("4k7 5%", 4700.0, 4465.0, 4935.0, "ohm"),
        ("4k7 +20/-10%", 4700.0, 4230.0, 5640.0, "ohm"),
        ("4K7J", 4700.0, 4465.0, 4935.0, "ohm"),
        ("47K 5%", 47e3, 44650.0, 49350.0, "ohm"),
        ("yellow violet red gold", 4700.0, 4465.0, 4935.0, "ohm"),
        ("10 µF Z", 10e-6, 8e-6, 18e-6, "F"),
        ("10u +50/-20% 63V", 10e-6, 8e-6, 15e-6, "F"),
        ("-38 V 10%", -38.0, -41.8, -34.2, "V"),
        ("-38 V +20/-10%", -38.0, -45.6, -34.2, "V"),
        ("38 V ±1 V", 38.0, 37.0, 39.0, "V"),
        ("38 V +1/-2 V", 38.0, 36.0, 39.0, "V"),
        ("0 V +/-20 mV", 0.0, -0.02, 0.02, "V"),
        ("0 ±20 mV", 0.0, -0.02, 0.02, "V"),
        ("16.5 ±1 mV", 0.0165, 0.0155, 0.0175, "V"),
        ("12..15 mV", None, 0.012, 0.015, "V"),
        ("15..12 mV", None, 0.012, 0.015, "V"),
        ("0.55-0.7 V", None, 0.55, 0.7, "V"),
        ("0.55 V – 0.7 V", None, 0.55, 0.7, "V"),
        ("900 to 1k1", None, 900.0, 1100.0, "ohm"),
        ("4.5..4.9 k", None, 4500.0, 4900.0, "ohm"),
        ("900..1.1k", None, 900.0, 1100.0, "ohm"),
        ("-41..-35 V", None, -41.0, -35.0, "V"),
        ("2e-5..3e-5 V", None, 2e-5, 3e-5, "V"),
        ("1…2 V", None, 1.0, 2.0, "V"),
        ("100..300", None, 100.0, 300.0, ""),
        ("10..12 n", None, 10e-9, 12e-9, "F"),
        ("> 1 M", None, 1e6, INF, "ohm"),
        ("min 30 V", None, 30.0, INF, "V"),
        ("at least -5", None, -5.0, INF, ""),
        ("< 0.05 Ω", None, 0.0, 0.05, "ohm"),
        ("≤ 60 °C", None, -INF, 60.0, "degC"),
        ("max -5.4 V", None, -INF, -5.4, "V"),
        ("OL", None, INF, INF, ""),
        ("open", None, INF, INF, ""),
        ("38 10%", 38.0, 34.2, 41.8, ""),
    ],
)
def test_what_people_write_is_understood(
    text: str, nominal: float | None, low: float, high: float, unit: str
) -> None:
    found = Expectation.parse(text)
    assert (found.nominal, found.low, found.high, found.unit, found.text) == (nominal, low, high, unit, text)
    assert found.origin is Origin.SHEET


@pytest.mark.parametrize(
    ("text", "kind", "unit", "nominal", "own"),
    [
        ("100 5%", Kind.RESISTOR, "", 100.0, "ohm"),
        ("0.33 5%", Kind.EMITTER_RESISTOR, "", 0.33, "ohm"),
        ("47 20%", Kind.ELECTROLYTIC, "", 47e-6, "F"),
        ("12 V 10%", Kind.ELECTROLYTIC, "", 12.0, "V"),
        ("0.8 10%", Kind.WINDING, "", 0.8, "ohm"),
        ("5V1 5%", Kind.ZENER, "", 5.1, "V"),
        ("22 10%", None, "V", 22.0, "V"),
        ("47 M 5%", None, "ohm", 47e6, "ohm"),
        ("22J", None, "F", 22e-12, "F"),
    ],
)
def test_kind_and_meter_tell_the_unit(
    text: str, kind: Kind | None, unit: str, nominal: float, own: str
) -> None:
    found = Expectation.parse(text, kind, unit=unit)
    assert (found.nominal, found.unit) == (nominal, own)


@pytest.mark.parametrize(
    ("text", "kind", "unit", "low", "high", "own"),
    [
        ("> 100k", Kind.ELECTROLYTIC, "", 1e5, INF, "ohm"),
        ("> 1 k", Kind.DIODE, "", 1e3, INF, "ohm"),
        ("> 1 k", Kind.DIODE, "V", 1e3, INF, "V"),
        ("0.5..0.7", Kind.DIODE, "", 0.5, 0.7, "V"),
        ("< 1", Kind.FUSE, "ohm", 0.0, 1.0, "ohm"),
        ("< 50m", Kind.CONTACT, "", 0.0, 0.05, "ohm"),
    ],
)
def test_limits_take_the_unit_of_kind_or_meter(
    text: str, kind: Kind, unit: str, low: float, high: float, own: str
) -> None:
    found = Expectation.parse(text, kind, unit=unit)
    assert (found.low, found.high, found.unit) == (low, high, own)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("4k7", '"4k7": does not say how far it may be off; write a tolerance, as in 4k7 5%.'),
        ("0 V 5%", "takes per cent of nothing; write it as in 0 V +/-20 mV"),
        ("47K", "can be read in more than one way; write which: 47 kΩ, or 47 pF ±10 %"),
        ("1,234 5%", "can be read in more than one way"),
        ("1,234..2 V", "can be read in two ways; write 1.234 or 1234"),
        ("< 50 mV", "leaves open how far it may go below zero; write 0..50 mV or 0 +/-50 mV."),
        ("< 0.2", "write 0..0.2 or 0 +/-0.2."),
        ("12 V..15 A", "goes from V to A; write one unit."),
        ("12 V ±1 A", "has V beside A; write one unit."),
        ("12 V ±-1 V", "has a negative tolerance"),
        ("4k7 5", "is not a marking"),
        ("..", "is not a marking"),
        ("", "is not a marking"),
        ("5%", "is not a marking"),
        ("+/-", "is not a value"),
        ("OL 5%", "is not a marking"),
        ("9.9 ±100 mV", "has no unit behind its first number; write it, as in 9.9 V +/-100 mV"),
        ("5" * 100, "is too long"),
    ],
)
def test_what_cannot_be_held_is_refused(text: str, sentence: str) -> None:
    with pytest.raises(BadInput) as caught:
        Expectation.parse(text)
    assert sentence in str(caught.value)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("4K7J", "4.7 kΩ ±5 %"),
        ("10u +50/-20%", "10 µF +50/-20 %"),
        ("0 ±20 mV", "0 V ±20 mV"),
        ("38 V ±1 V", "38 V ±1 V"),
        ("38 V +1/-2 V", "38 V +1 V/-2 V"),
        ("12..15 mV", "12..15 mV"),
        ("900..1.1k", "900 Ω..1.1 kΩ"),
        ("> 1 M", "> 1 MΩ"),
        ("max -5.4 V", "< -5.4 V"),
        ("open", "OL"),
        ("-38 V +20/-10%", "-38 V +20/-10 %"),
    ],
)
def test_it_is_shown_as_a_sheet_prints_it_and_read_back(text: str, shown: str) -> None:
    found = Expectation.parse(text)
    assert found.shown == shown
    again = Expectation.parse(shown)
    assert (again.nominal, again.low, again.high, again.unit) == (
        found.nominal,
        found.low,
        found.high,
        found.unit,
    )


def test_the_prefix_it_was_written_with_is_kept() -> None:
    assert Expectation.parse("0.1u 10%").exponent == -6
    assert Expectation.parse("4K7J").exponent == 3
    assert Expectation.parse("0 V +/-20 mV").exponent == -3


def test_an_expectation_can_be_drawn_around_a_value() -> None:
    found = Expectation.around(9810.0, "ohm", (-0.05, 0.05), Origin.MIRROR)
    assert (found.low, found.high, found.origin) == (9319.5, 10300.5, Origin.MIRROR)
    assert found.text == "9.81 kΩ ±5 %"
    assert found.tolerance == (-0.05, 0.05)


def test_limits_without_a_middle_have_no_tolerance() -> None:
    assert Expectation.parse("12..15 mV").tolerance is None
    assert Expectation.parse("0 ±20 mV").tolerance is None
    assert Expectation.parse("OL").open
    assert not Expectation.parse("> 1 M").open


@given(st.text(max_size=30), st.sampled_from([None, *Kind]), st.sampled_from(["", "V", "ohm", "F"]))
def test_any_text_is_an_expectation_or_refused(text: str, kind: Kind | None, unit: str) -> None:
    try:
        found = Expectation.parse(text, kind, unit=unit)
    except BadInput as error:
        assert str(error)
        return
    assert found.low <= found.high


LIKELY = st.lists(
    st.sampled_from(
        [
            "4k7",
            "12",
            "-38",
            "0",
            "5%",
            "+/-",
            "..",
            "-",
            ">",
            "<",
            " V",
            " mV",
            "ohm",
            "20",
            "to",
            "1,5",
            "n",
            "+1/-2",
            "OL",
        ]
    ),
    max_size=6,
)


@given(LIKELY, st.sampled_from([None, *Kind]))
def test_any_likely_text_is_an_expectation_or_refused(pieces: list[str], kind: Kind | None) -> None:
    try:
        found = Expectation.parse(" ".join(pieces), kind)
    except BadInput as error:
        assert str(error)
        return
    assert found.low <= found.high
    assert not math.isnan(found.low)


VALUES = st.floats(1e-11, 1e8).map(lambda value: float(f"{value:.3g}"))
UNITS = st.sampled_from(["ohm", "V", "F", "A"])


@given(VALUES, UNITS, st.integers(1, 900), st.integers(1, 1000), st.booleans())
def test_a_tolerance_survives_being_shown(
    value: float, unit: str, below: int, above: int, negative: bool
) -> None:
    made = Expectation.around(
        -value if negative else value, unit, (-below / 1000, above / 1000), Origin.SHEET
    )
    again = Expectation.parse(made.shown)
    assert again.nominal == pytest.approx(made.nominal, rel=1e-11)
    assert (again.low, again.high) == pytest.approx((made.low, made.high), rel=1e-9)
    assert again.unit == unit


@given(VALUES, VALUES, UNITS)
def test_limits_survive_being_shown(one: float, other: float, unit: str) -> None:
    low, high = sorted((one, other))
    made = Expectation(None, low, high, unit)
    assume(len(made.shown) <= 80)
    again = Expectation.parse(made.shown)
    assert (again.low, again.high, again.unit) == (pytest.approx(low), pytest.approx(high), unit)
