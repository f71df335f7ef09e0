"""Rulings on whether a reading means anything: its function, its contact, and what an overload is."""

import math

from benchlog.domain.case import Case, Finding
from benchlog.domain.expectation import Expectation
from benchlog.domain.kind import Kind
from benchlog.domain.measures import WIPER
from benchlog.domain.quantity import Overload, show, span, symbol
from benchlog.domain.verdict import Verdict

LEADS_FARADS = 50e-12
"""What two leads have between them that touch nothing, at most (bench habit, no source)."""

DIODE_RANGE = 2.0
"""Where the diode ranges of many meters end, volts (common practice, no source)."""


def wrong_function(case: Case) -> Finding | None:
    """The meter measured something else than what is expected."""
    expected = case.asked.expectation
    if not expected or not expected.unit or not case.unit or expected.unit == case.unit:
        return None
    read, wanted = symbol(case.unit), symbol(expected.unit)
    return Verdict.WRONG_FUNCTION, f"the meter reads {read}, and {wanted} is wanted"


def no_contact(case: Case) -> Finding | None:
    """The probes touched nothing, which is no overload: it must not pass for an open part."""
    if case.asked.reading is None:
        return Verdict.NO_CONTACT, "the probes have no contact"
    if case.value is not None and leads_alone(case.value, case.unit, case.asked.expectation):
        read = show(case.value, "F", digits=3)
        return (
            Verdict.NO_CONTACT,
            f"{read} is no more than leads have by themselves: no contact, or the capacitor is open inside",
        )
    return None


def leads_alone(value: float, unit: str, expectation: Expectation | None) -> bool:
    """Whether a capacitance is what two leads in the air read, where the part should have three times that or more."""
    if unit != "F" or expectation is None:
        return False
    return abs(value) <= LEADS_FARADS and expectation.low > 3.0 * abs(value)


def not_yet(case: Case) -> Finding | None:
    """The figure is taken under conditions in which it does not count."""
    return (Verdict.NOT_YET, f"it does not count yet: {case.asked.not_yet}") if case.asked.not_yet else None


def unstable(case: Case) -> Finding | None:
    """A reading that never stood still."""
    if case.asked.settled:
        return None
    if case.kind in (Kind.CONTACT, Kind.SWITCH) or case.asked.measure == WIPER:
        return Verdict.UNSTABLE, "it jumps: clean it and read it again"
    return Verdict.UNSTABLE, "the reading does not stand still"


def overload(case: Case) -> Finding | None:
    """An overload: data on ohms, an alarm on volts, and never a number."""
    over = case.asked.reading
    if not isinstance(over, Overload):
        return None
    if case.asked.expectation and case.asked.expectation.open:
        return Verdict.WITHIN, "reads open, as it should"
    if case.unit == "ohm":
        return _open_ohms(case)
    if case.is_junction:
        return _open_junction(case)
    if case.unit in ("V", "A"):
        beyond = Verdict.LOW if over is Overload.NEGATIVE else Verdict.HIGH
        end = case.low if over is Overload.NEGATIVE else case.high
        if math.isfinite(end):
            return (
                beyond,
                f"it is beyond the meter's range, and counts as {beyond} until read on a larger one",
            )
        return Verdict.UNDECIDED, "it is beyond the meter's range: read it on a larger one"
    hint = (
        ": a short reads so too" if case.is_capacitor else ": say what was measured" if not case.unit else ""
    )
    return Verdict.UNDECIDED, f"it is beyond the meter's range{hint}"


def _open_ohms(case: Case) -> Finding:
    expected = case.asked.expectation
    if expected and math.isinf(expected.high):
        return Verdict.WITHIN, f"reads open, and {span(expected.low, expected.high, expected.unit)} is wanted"
    if expected is None and case.as_mirror:
        return Verdict.AS_OTHER_SIDE, "reads open, as the other side does"
    if case.on_board and case.both_ways is False and not case.is_junction:
        return Verdict.UNPROVEN, "it reads OL one way round only: lift a leg"
    return Verdict.OPEN, "it is open"


def _open_junction(case: Case) -> Finding:
    expected = case.asked.expectation
    reach = case.asked.open_volts
    wanted = expected.high if expected else 0.0
    if reach is not None and wanted > reach:
        return (
            Verdict.UNDECIDED,
            f"OL proves nothing here: it wants up to {case.show(wanted)}, and the meter has {show(reach, 'V')}",
        )
    if reach is None and (wanted > DIODE_RANGE or case.kind is Kind.BIAS_PACKAGE):
        return (
            Verdict.UNDECIDED,
            f"OL proves nothing here: many meters end at {show(DIODE_RANGE, 'V')} on diodes",
        )
    if expected is None and case.as_mirror:
        return Verdict.AS_OTHER_SIDE, "reads OL, as the other side does"
    return Verdict.OPEN, "it does not conduct: it is open, or turned round"
