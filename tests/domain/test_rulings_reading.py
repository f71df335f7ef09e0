"""Whether a reading means anything: its function, its contact, and what an overload is."""

import math

import pytest
from helpers.asking import OL, ask, word

from benchlog.domain.kind import Kind
from benchlog.domain.quantity import Overload
from benchlog.domain.reading import Function
from benchlog.domain.verdict import Verdict
from benchlog.errors import BadInput


def test_the_wrong_function_is_told_before_anything_else() -> None:
    found = ask("4k7 5%", 4.65, function=Function.VOLTS_DC, in_circuit=True)
    assert (found.verdict, found.reason) == (Verdict.WRONG_FUNCTION, "The meter reads V, and Ω is wanted.")
    assert found.probability is None
    assert word("4k7 5%", OL, unit="V") is Verdict.WRONG_FUNCTION
    assert word("38 10%", 38.0, unit="V") is Verdict.WITHIN


def test_what_was_not_a_reading_proves_nothing() -> None:
    assert word("4k7 5%", None) is Verdict.NO_CONTACT
    assert word("4k7 5%", 4700.0, settled=False) is Verdict.UNSTABLE
    found = ask("50 mA 10%", 0.050, not_yet="behind a lamp")
    assert (found.verdict, found.reason) == (Verdict.NOT_YET, "It does not count yet: behind a lamp.")


def test_what_leads_in_the_air_have_is_no_capacitor() -> None:
    found = ask("220u 20%", 4e-12, kind=Kind.ELECTROLYTIC, unit="F")
    assert found.verdict is Verdict.NO_CONTACT
    assert found.reason.startswith("4 pF is no more than leads have by themselves: no contact, or")
    assert word("33p 5%", 30e-12, kind=Kind.CAPACITOR, unit="F") is not Verdict.NO_CONTACT
    assert word("220u 20%", 60e-12, kind=Kind.ELECTROLYTIC, unit="F") is not Verdict.NO_CONTACT


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_no_number_is_a_bug_and_never_within(value: float) -> None:
    with pytest.raises(ValueError, match="is no reading"):
        ask("> 1 M", value)
    with pytest.raises(ValueError, match="is no reading"):
        ask("4k7 5%", 4700.0, mirror=value)


def test_nobody_knows_what_it_should_read() -> None:
    assert word(None, 4700.0, unit="ohm") is Verdict.UNDECIDED
    assert word(None, 4700.0, unit="ohm", mirror=4690.0) is Verdict.AS_OTHER_SIDE
    assert word(None, 4700.0, unit="ohm", mirror=4690.0, mirror_alike=False) is Verdict.UNDECIDED
    assert word(None, 4700.0, unit="ohm", mirror=6800.0) is Verdict.UNDECIDED
    assert word(None, 4700.0, unit="ohm", mirror=6800.0, in_circuit=True) is Verdict.UNPROVEN
    found = ask(None, 4700.0, "1 ohm", unit="ohm", mirror=OL)
    assert (found.low, found.high, found.probability) == (None, None, None)
    assert found.reason == "The other side reads OL, and nothing says which of the two is right."


def test_an_error_in_another_unit_is_refused() -> None:
    with pytest.raises(BadInput, match='"50mV": is in V, and the reading in Ω'):
        ask("4k7 5%", 4700.0, "50mV")


def test_counts_without_their_size_are_asked() -> None:
    with pytest.raises(BadInput, match="counts digits"):
        ask("4k7 5%", 4700.0, "0.5%+2")
    assert ask("4k7 5%", 4700.0, "0.5%+2", resolution=1.0).uncertainty == pytest.approx(51 / math.sqrt(3))


def test_on_ohms_overload_is_open() -> None:
    found = ask("4k7 5%", OL)
    assert (found.verdict, found.reason, found.value) == (Verdict.OPEN, "It is open.", None)
    assert word("0.33 5%", OL, kind=Kind.RESISTOR) is Verdict.OPEN
    assert word("0.33 5%", OL, kind=Kind.EMITTER_RESISTOR, in_circuit=True) is Verdict.OPEN
    assert word("0..1", OL, kind=Kind.FUSE, function=Function.OHMS) is Verdict.OPEN


def test_open_on_the_board_asks_whether_it_is_dead() -> None:
    assert ask("4k7 5%", OL, in_circuit=True).notes == (
        "A charge on the board can read as OL: see that it is dead.",
    )
    assert not ask("4k7 5%", OL, in_circuit=True, dead_board=True).notes
    assert word("4k7 5%", OL, in_circuit=True, dead_board=False) is Verdict.UNPROVEN
    assert word("4k7 5%", OL, in_circuit=True, reversed=5000.0) is Verdict.UNPROVEN
    assert word("4k7 5%", OL, in_circuit=True, reversed=OL) is Verdict.OPEN
    assert word("4k7 5%", 4700.0, in_circuit=True, reversed=OL) is Verdict.UNPROVEN


def test_where_open_is_wanted_overload_is_within_and_a_number_is_not() -> None:
    assert word("OL", OL, function=Function.DIODE, kind=Kind.DIODE) is Verdict.WITHIN
    assert word("> 1 M", OL) is Verdict.WITHIN
    assert word("> 1 M", 200e3) is Verdict.LOW
    found = ask("OL", 1.2, function=Function.DIODE, kind=Kind.DIODE)
    assert (found.verdict, found.reason) == (
        Verdict.LOW,
        "It conducts where it should not: 1.2 V in the place of OL.",
    )
    assert (found.low, found.high) == (None, None)


def test_a_diode_test_that_ends_at_two_volts_proves_no_open_package() -> None:
    assert word("2.2..2.5 V", OL, function=Function.DIODE, kind=Kind.DIODE) is Verdict.UNDECIDED
    assert word("0.55..0.7 V", OL, function=Function.DIODE, kind=Kind.DIODE) is Verdict.OPEN
    assert word("0.55..0.7 V", OL, kind=Kind.TRANSISTOR_JUNCTION, in_circuit=True) is Verdict.OPEN


def test_on_volts_overload_is_an_alarm_and_never_good() -> None:
    assert word("38 V 10%", OL, unit="V") is Verdict.HIGH
    assert word("38 V 10%", Overload.NEGATIVE, unit="V") is Verdict.LOW
    assert word("> 30 V", OL) is Verdict.UNDECIDED
    assert "on a larger one" in ask("38 V 10%", OL).reason


def test_overload_of_other_quantities_proves_nothing() -> None:
    assert ask("100n 10%", OL).reason == "It is beyond the meter's range: a short reads so too."
    assert word("4u7 10%", OL, kind=Kind.INDUCTOR) is Verdict.UNDECIDED
    assert "say what was measured" in ask("38 10%", OL).reason


def test_both_sides_open_without_an_expectation() -> None:
    assert word(None, OL, unit="ohm", mirror=OL) is Verdict.AS_OTHER_SIDE
    assert word(None, OL, function=Function.DIODE, mirror=OL) is Verdict.AS_OTHER_SIDE
    assert word(None, OL, unit="ohm", mirror=100.0) is Verdict.OPEN
    assert word(None, OL, function=Function.DIODE) is Verdict.OPEN
