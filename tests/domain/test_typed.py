"""Typed readings: a number pad has no k, and nothing ambiguous is guessed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.expectation import Expectation
from benchlog.domain.quantity import Overload
from benchlog.domain.typed import FACTOR, read_typed
from benchlog.errors import BadInput


@pytest.mark.parametrize(
    ("text", "expected", "value", "assumed"),
    [
        ("4.65", "4k7 5%", 4650.0, "4.65 taken as 4.65 kΩ"),
        ("4,65", "4k7 5%", 4650.0, "4,65 taken as 4.65 kΩ"),
        ("10.2", "4k7 5%", 10200.0, "10.2 taken as 10.2 kΩ"),
        ("4650", "4k7 5%", 4650.0, ""),
        ("4.65k", "4k7 5%", 4650.0, ""),
        ("120R", "4k7 5%", 120.0, ""),
        ("0", "4k7 5%", 0.0, ""),
        ("1,234", "1k2 5%", 1234.0, "1,234 taken as 1.234 kΩ"),
        ("1,234 k", "1k2 5%", 1234.0, ""),
        ("12", "0 V +/-20 mV", 0.012, "12 taken as 12 mV"),
        ("38.9", "-38 V 10%", 38.9, ""),
        ("0.102", "0.1u 10%", 1.02e-7, "0.102 taken as 102 nF"),
        ("102", "0.1u 10%", 1.02e-7, "102 taken as 102 nF"),
        ("13.2", "12..15 mV", 0.0132, "13.2 taken as 13.2 mV"),
        ("5", "> 1 M", 5e6, "5 taken as 5 MΩ"),
        ("0.612", "0.55..0.7 V", 0.612, ""),
        ("3.4", "OL", 3.4, ""),
        ("4.65 V", "4k7 5%", 4.65, ""),
    ],
)
def test_what_fits_alone_is_taken_and_said(text: str, expected: str, value: float, assumed: str) -> None:
    found = read_typed(text, Expectation.parse(expected))
    assert (found.value, found.assumed) == (value, assumed)


@pytest.mark.parametrize(
    ("text", "expected", "sentence"),
    [
        (
            "120",
            "4k7 5%",
            "can be meant in more than one way; it should read 4.7 kΩ ±5 %; write 120 Ω or 120 kΩ.",
        ),
        ("15", "4k7 5%", "write 15 Ω or 15 kΩ."),
        ("0.012", "0 V +/-20 mV", "can be meant in more than one way; write 12 mV or 12 µV."),
        ("0.102", "100n 10%", "write 102 nF."),
        ("1,234", "1k5..1M Ω", "write 1.234 MΩ or 1.234 kΩ."),
        ("1,234 k", "1..2 Ω", "write 1.234 kΩ or 1.234 MΩ."),
    ],
)
def test_what_fits_nowhere_or_twice_is_asked(text: str, expected: str, sentence: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_typed(text, Expectation.parse(expected))
    assert sentence in str(caught.value)


def test_without_an_expectation_nothing_is_assumed() -> None:
    assert read_typed("4.65", unit="ohm").value == 4.65
    assert read_typed("4k65").value == 4650.0
    with pytest.raises(BadInput, match=r"write 1\.234 or 1234"):
        read_typed("1,234")


def test_overload_has_the_meters_unit() -> None:
    found = read_typed("OL", Expectation.parse("4k7 5%"))
    assert (found.value, found.unit) == (Overload.POSITIVE, "ohm")
    assert read_typed("-OL", unit="V").value is Overload.NEGATIVE


def test_a_stated_unit_is_kept_against_the_expected_one() -> None:
    assert read_typed("4.65 V", Expectation.parse("4k7 5%")).unit == "V"


@given(st.floats(0.001, 10000).map(lambda value: float(f"{value:.4g}")))
def test_an_assumed_value_lies_within_the_factor(number: float) -> None:
    expected = Expectation.parse("4k7 5%")
    text = f"{number:f}"
    try:
        found = read_typed(text, expected)
    except BadInput:
        return
    assert isinstance(found.value, float)
    assert 4700 / FACTOR <= found.value <= 4700 * FACTOR
    assert bool(found.assumed) == (found.value != number)


@given(st.text(max_size=20), st.sampled_from([None, "4k7 5%", "0 V +/-20 mV", "OL", "> 1 M", "-38 V 10%"]))
def test_any_text_is_a_reading_or_refused(text: str, expected: str | None) -> None:
    try:
        read_typed(text, Expectation.parse(expected) if expected else None)
    except BadInput as error:
        assert str(error)
