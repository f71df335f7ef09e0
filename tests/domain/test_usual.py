"""What a measure should read where nobody said so of the very part."""

import pytest

from benchlog.domain.asking import Subject
from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.kind import Kind
from benchlog.domain.unit import Conditions, Part
from benchlog.domain.usual import rated_volts
from benchlog.errors import BadInput


def wanted(
    kind: Kind, word: str, *, marking: str = "", own: str = "", hertz: float | None = None
) -> Expectation | None:
    part = Part("p", "b", "X1", kind)
    return Subject(part, part.measure(word), marking=marking, own=own).expectation(
        Conditions(frequency=hertz)
    )


def test_limits_of_a_kind_are_common_practice_and_say_so() -> None:
    found = wanted(Kind.TRANSISTOR, "be")
    assert found is not None
    assert (found.low, found.high, found.origin) == (0.5, 0.8, Origin.PRACTICE)
    assert wanted(Kind.RESISTOR, "") is None
    assert wanted(Kind.RESISTOR, "volts") is None


def test_what_was_said_of_the_part_goes_before() -> None:
    part = Part("p", "b", "Q7L", Kind.TRANSISTOR)
    found = Subject(part, part.measure("be"), should_read="0.2..0.35 V").expectation()
    assert found is not None
    assert (found.high, found.origin) == (0.35, Origin.SHEET)


def test_a_wiper_stands_somewhere_on_its_track() -> None:
    found = wanted(Kind.POTENTIOMETER, "wiper", own="10k")
    assert found is not None
    assert (found.low, found.high) == (0.0, 12e3)
    assert wanted(Kind.POTENTIOMETER, "wiper") is None


@pytest.mark.parametrize(
    ("marking", "low", "high"),
    [("6V2 5%", 5.89, 6.51), ("6V2", 5.89, 6.51), ("blue one", None, None), ("", None, None)],
)
def test_a_zener_breaks_down_at_what_is_printed_on_it(
    marking: str, low: float | None, high: float | None
) -> None:
    # 5 % where nothing is printed is common practice, no source.
    found = wanted(Kind.ZENER, "breakdown", marking=marking)
    assert (found.low, found.high) == (low, high) if found is not None else low is None


def test_losses_follow_from_value_voltage_and_frequency() -> None:
    assert wanted(Kind.ELECTROLYTIC, "d", own="47u 20%") is None
    assert wanted(Kind.FILM, "d", own="47n 10%", marking="47n 100V") is None
    assert wanted(Kind.ELECTROLYTIC, "esr", own="47u 20%", marking="47u 1000V") is None
    assert wanted(Kind.ELECTROLYTIC, "leakage", own="47u 20%") is None
    at_line = wanted(Kind.ELECTROLYTIC, "esr", own="47u 20%", marking="47u 63V")
    high = wanted(Kind.ELECTROLYTIC, "esr", own="47u 20%", marking="47u 63V", hertz=100e3)
    assert at_line is not None
    assert high is not None
    assert (at_line.frequency, high.frequency) == (120.0, 100e3)
    # Nothing says so for 500 Hz: the limit that is shown is for another, and is not held against it.
    between = wanted(Kind.ELECTROLYTIC, "esr", own="47u 20%", marking="47u 63V", hertz=500.0)
    assert between is not None
    assert between.frequency == 120.0


def test_rated_volts_are_read_from_whatever_tells_them() -> None:
    assert rated_volts("", "blue one", "4700u 63V") == 63.0
    assert rated_volts("4700u", "") is None


def test_a_frequency_behind_an_expectation_is_one() -> None:
    assert Expectation.parse("0..0.2 at 1 kHz").frequency == 1000.0
    assert Expectation.parse("0..0.2 ohm @ 120").shown == "0..0.2 Ω at 120 Hz"
    # From nothing on the prefix is that of the other end: not `0 A..2.96 mA`.
    assert Expectation.parse("0..2.96 mA").shown == "0..2.96 mA"
    with pytest.raises(BadInput, match="names no frequency"):
        Expectation.parse("0..0.2 at 0")
