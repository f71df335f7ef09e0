"""Values: what is typed becomes SI, and SI is shown as a sheet prints it."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchlog.domain.quantity import (
    Overload,
    Quantity,
    decimals,
    meanings,
    overload,
    plain,
    quantity,
    scaled,
    shorten,
    show,
    span,
    suffix,
    tidy,
)
from benchlog.errors import BadInput


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (4680.0, "ohm", "4.68 kΩ"),
        (0.341, "ohm", "0.341 Ω"),
        (0.008, "ohm", "0.008 Ω"),
        (0.00047, "ohm", "0.47 mΩ"),
        (999.96, "ohm", "1 kΩ"),
        (4.7e6, "ohm", "4.7 MΩ"),
        (-38.9, "V", "-38.9 V"),
        (0.0125, "V", "12.5 mV"),
        (0.612, "V", "0.612 V"),
        (230.0, "V", "230 V"),
        (1e-7, "F", "100 nF"),
        (4700e-6, "F", "4700 µF"),
        (1e-13, "F", "0.1 pF"),
        (1.0, "F", "1 F"),
        (0.054, "A", "54 mA"),
        (4.7e-6, "H", "4.7 µH"),
        (50.0, "Hz", "50 Hz"),
        (22.4, "degC", "22.4 °C"),
        (0.0, "V", "0 V"),
        (-0.0, "V", "0 V"),
        (123456.0, "", "123500"),
        (0.03, "", "0.03"),
        (1e40, "ohm", "1" + "0" * 31 + " GΩ"),
        (math.inf, "ohm", "OL"),
        (-math.inf, "V", "-OL"),
    ],
)
def test_values_are_shown_as_a_sheet_prints_them(value: float, unit: str, shown: str) -> None:
    assert show(value, unit) == shown


@pytest.mark.parametrize(
    ("value", "resolution", "shown"),
    [
        (38.9, 0.01, "38.90 V"),
        (0.0165, 1e-4, "16.5 mV"),
        (-1e-5, 1e-4, "0.0000 V"),
        (230.0, 10.0, "230 V"),
        (38.9, 0.0, "38.9 V"),
        (38.9, math.inf, "38.9 V"),
    ],
)
def test_a_known_last_digit_keeps_its_zeros(value: float, resolution: float, shown: str) -> None:
    assert show(value, "V", resolution=resolution) == shown


@pytest.mark.parametrize(
    ("low", "high", "unit", "shown"),
    [
        (4465.0, 4935.0, "ohm", "4.465 to 4.935 kΩ"),
        (900.0, 1100.0, "ohm", "900 Ω to 1.1 kΩ"),
        (0.0, 0.05, "V", "0 to 50 mV"),
        (-0.02, 0.0, "V", "-20 to 0 mV"),
        (-math.inf, 0.05, "ohm", "at most 0.05 Ω"),
        (1e6, math.inf, "ohm", "at least 1 MΩ"),
        (100.0, 300.0, "", "100 to 300"),
    ],
)
def test_limits_are_one_phrase(low: float, high: float, unit: str, shown: str) -> None:
    assert span(low, high, unit) == shown


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("4.65", 4.65, ""),
        ("4,65", 4.65, ""),
        ("4k7", 4700.0, ""),
        ("4K7", 4700.0, ""),
        ("4m7", 0.0047, ""),
        ("4M7", 4.7e6, ""),
        ("R33", 0.33, "ohm"),
        ("0R22 Ω", 0.22, "ohm"),
        ("4k7 ohm", 4700.0, "ohm"),
        ("5V1", 5.1, "V"),
        ("-5V1", -5.1, "V"),
        ("-38,9 V", -38.9, "V"),
        ("−38.9 V", -38.9, "V"),
        ("– 38.9 V", -38.9, "V"),
        (".61", 0.61, ""),
        (",61", 0.61, ""),
        ("5.", 5.0, ""),
        ("+12 mV", 0.012, "V"),
        ("12 V DC", 12.0, "V"),
        ("100 nF", 1e-7, "F"),
        ("2.2 µF", 2.2e-6, "F"),
        ("2.2 μF", 2.2e-6, "F"),
        ("2.2uF", 2.2e-6, "F"),
        ("4.7 k Ohm", 4700.0, "ohm"),
        ("4.7k\u2126", 4700.0, "ohm"),
        ("0.5 Meg", 5e5, ""),
        ("2e-5", 2e-5, ""),
        ("2.5E+3 V", 2500.0, "V"),
        ("1.234,5", 1234.5, ""),
        ("1,234.5", 1234.5, ""),
        ("1,234,567", 1234567.0, ""),
        ("1.234.567", 1234567.0, ""),
        ("0,234", 0.234, ""),
        ("22.4 °C", 22.4, "degC"),
        ("1 mR", 0.001, "ohm"),
    ],
)
def test_typed_values_are_understood(text: str, value: float, unit: str) -> None:
    one = quantity(text)
    assert (one.value, one.unit) == (value, unit)


def test_a_lone_comma_before_three_digits_is_asked() -> None:
    assert [one.value for one in meanings("1,234")] == [1.234, 1234.0]
    with pytest.raises(BadInput, match=r'^"1,234": can be read in two ways; write 1\.234 or 1234\.$'):
        quantity("1,234")


@pytest.mark.parametrize(
    "text", ["", "abc", "1 234", "1,2,3", "1.2.3", "12,345.678.9", "1,23.456,7", "²", "4.7kR", "1.2,34.5"]
)
def test_what_is_no_value_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="is not a value"):
        quantity(text)


@pytest.mark.parametrize("text", ["4R7 V", "4k7 mV", "10 S", "--5", "5 q"])
def test_what_does_not_go_together_is_refused(text: str) -> None:
    with pytest.raises(BadInput):
        quantity(text)


def test_no_huge_number_stands_for_an_overload() -> None:
    for text in ("9.9E37", "9.91e37", "-9.9e37", "1e999"):
        with pytest.raises(BadInput, match="type OL for an overload"):
            quantity(text)


def test_a_text_too_long_is_cut_in_the_message() -> None:
    with pytest.raises(BadInput, match=r"^9{80}\.\.\.: is too long for a value"):
        quantity("9" * 500)
    assert shorten("a\x1b[31m\n") == "a?[31m?"


def test_the_unit_asked_for_is_held() -> None:
    assert quantity("4.7k", "ohm") == Quantity(4700.0, "ohm", 3)
    with pytest.raises(BadInput, match="is in V; give it in Ω"):
        quantity("4.7 V", "ohm")


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("OL", Overload.POSITIVE),
        ("ol", Overload.POSITIVE),
        ("0L", Overload.POSITIVE),
        ("+OL", Overload.POSITIVE),
        ("-OL", Overload.NEGATIVE),
        ("− OL", Overload.NEGATIVE),
        ("O.L MΩ", Overload.POSITIVE),
        ("OVLD", Overload.POSITIVE),
        ("-OVLD", Overload.NEGATIVE),
        ("OL V", Overload.POSITIVE),
        ("OL x", None),
        ("0", None),
        ("", None),
    ],
)
def test_overload_is_a_word_and_no_number(text: str, meant: Overload | None) -> None:
    assert overload(text) is meant


def test_a_suffix_is_prefix_and_unit_and_the_case_of_the_prefix_counts() -> None:
    assert suffix("mV") == (-3, "V")
    assert suffix("MV") == (6, "V")
    assert suffix("khz") == (3, "Hz")
    assert suffix("MΩ") == (6, "ohm")
    assert suffix("kR") is None
    assert suffix("S") is None
    assert suffix("x") is None


@given(st.text(max_size=30))
def test_any_text_is_a_value_or_bad_input(text: str) -> None:
    overload(text)
    try:
        found = meanings(text)
    except BadInput:
        return
    assert found
    assert all(math.isfinite(one.value) for one in found)


@given(st.text("0123456789.,+-eEkKmMuµnpRVFGLΩ ohm%", max_size=14))
def test_any_likely_text_is_a_value_or_bad_input(text: str) -> None:
    try:
        assert meanings(text)
    except BadInput as error:
        assert str(error).endswith(".")


FINITE = st.floats(-1e30, 1e30).filter(lambda value: value == 0 or abs(value) > 1e-25)


@given(FINITE, st.sampled_from(["ohm", "V", "F", "A", "H", "Hz", "W", "degC", ""]))
def test_what_is_shown_in_full_is_read_back(value: float, unit: str) -> None:
    shown = show(value, unit, digits=17)
    assume(len(shown) <= 80)
    assert "e" not in shown.lower().removesuffix("degc")
    one = quantity(shown)
    assert one.value == pytest.approx(value, rel=1e-14)
    assert one.unit == ("" if unit == "" else unit)


@given(st.floats(1e-12, 1e12), st.integers(-12, 9))
def test_scaling_leaves_no_dust(value: float, exponent: int) -> None:
    assert scaled(value, exponent) == pytest.approx(value * 10.0**exponent, rel=1e-14)
    assert scaled(tidy(value), 0) == tidy(value)


def test_scaling_is_exact_where_multiplying_is_not() -> None:
    assert scaled(4.1, -3) == 0.0041
    assert tidy(1.1 * 4700) == 5170.0
    assert plain(4.7e-5) == "0.000047"
    assert plain(5.0) == "5"


@given(st.text("0123456789.,", max_size=12))
def test_a_number_has_at_most_two_readings(number: str) -> None:
    assert len(decimals(number)) <= 2
