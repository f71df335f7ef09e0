"""Rulings by the limits: what the meter can tell, and what a figure inside or outside of them means."""

import math

from benchlog.domain.case import Case, Finding
from benchlog.domain.expectation import Origin
from benchlog.domain.quantity import span, tidy
from benchlog.domain.standing import Rule, Side, expanded, replace_beyond, stand
from benchlog.domain.verdict import Verdict

SHORT_BELOW = {"V": 0.05, "ohm": 2.0}
"""What counts as a short where at least ten times as much is expected (common practice, no source)."""

_NOT_KNOWN = "the meter's error is not known"


def doubt(case: Case) -> Finding | None:
    """Too near to a limit for this meter, by the rule that was asked for."""
    standing = case.standing
    if standing is None or standing.sure:
        return None
    if case.asked.rule is Rule.HANDOVER:
        return _handover_doubt(case)
    if standing.side is Side.INSIDE:
        return None
    end = case.show(case.high if standing.side is Side.ABOVE else case.low)
    return Verdict.UNDECIDED, f"the meter's error, {case.show_width(case.error)}, reaches past {end}"


def _handover_doubt(case: Case) -> Finding:
    if case.error is None:
        return Verdict.UNDECIDED, f"{_NOT_KNOWN}, and a hand-over figure needs it"
    width = f"the uncertainty of {case.show_width(expanded(case.error))} (k = 2)"
    limits = span(case.low, case.high, case.unit)
    if case.side is Side.INSIDE:
        return Verdict.UNDECIDED, f"it is inside {limits}, but nearer to the limit than {width}"
    return Verdict.UNDECIDED, f"it is outside {limits}, but by less than {width}"


def against_mirror(case: Case) -> Finding | None:
    """An expectation taken from the other side proves likeness, never health."""
    expected = case.asked.expectation
    if not expected or expected.origin is not Origin.MIRROR:
        return None
    if case.side is Side.INSIDE:
        return (
            Verdict.AS_OTHER_SIDE,
            f"it is inside {span(case.low, case.high, case.unit)}, as the other side is",
        )
    return Verdict.UNDECIDED, "it is not as the other side, and nothing says which of the two is right"


def inside(case: Case) -> Finding | None:
    """Inside the limits of the rule that was asked for."""
    if case.side is not Side.INSIDE:
        return None
    shown, limits = case.show(case.value or 0.0), span(case.low, case.high, case.unit)
    if case.asked.rule is Rule.HANDOVER:
        width = case.show_width(expanded(case.error or 0.0))
        return Verdict.WITHIN, f"{shown} is inside {limits}, also with {width} drawn in at each limit (k = 2)"
    return Verdict.WITHIN, f"{shown} is inside {limits}{_unless_known(case)}"


def wrong_sign(case: Case) -> Finding | None:
    """A voltage or current on the other side of zero than both of its limits."""
    value = case.value or 0.0
    if case.unit not in ("V", "A") or not value or value * case.low >= 0 or value * case.high >= 0:
        return None
    beyond = Verdict.HIGH if case.side is Side.ABOVE else Verdict.LOW
    return beyond, f"{case.show(value)} has the wrong sign: see whether the leads are swapped"


def short(case: Case) -> Finding | None:
    """Next to nothing where far more is wanted."""
    least = SHORT_BELOW.get(case.unit)
    if least is None or case.side is not Side.BELOW or not (case.is_junction or case.unit == "ohm"):
        return None
    if abs(case.value or 0.0) >= least or case.low < 10 * least:
        return None
    return Verdict.SHORT, f"{case.show(case.value or 0.0)} is a short"


def drifted(case: Case) -> Finding | None:
    """Outside its marking and not yet worth replacing; a hand-over knows no such thing."""
    expected, value = case.asked.expectation, case.value
    if case.asked.rule is not Rule.BENCH or not expected or not expected.tolerance or value is None:
        return None
    if case.kind is None or case.unit != case.kind.unit:
        return None
    shares = case.asked.replace_beyond or replace_beyond(case.kind, expected.tolerance)
    if shares is None:
        return None
    ends = sorted(tidy((expected.nominal or 0.0) * (1 + share)) for share in shares)
    low, high = min(ends[0], expected.low), max(ends[1], expected.high)
    standing = stand(value, low, high, case.error, Rule.BENCH)
    end = case.show(high if case.side is Side.ABOVE else low)
    if standing.side is Side.INSIDE:
        return (
            Verdict.DRIFTED,
            f"{case.show(value)} is outside {_limits(case)}, but not past {end}: it can stay{_unless_known(case)}",
        )
    if not standing.sure:
        reach = f"the meter's error, {case.show_width(case.error)}, reaches past {end}"
        return Verdict.UNDECIDED, f"it is outside {_limits(case)}, but {reach} where it would be replaced"
    return None


def outside(case: Case) -> Finding:
    """Outside, and the meter cannot be off by so much."""
    above = case.side is Side.ABOVE
    end, word = (case.high, "above") if above else (case.low, "below")
    verdict = Verdict.HIGH if above else Verdict.LOW
    limit = "OL" if math.isinf(end) else case.show(end)
    if case.asked.rule is Rule.HANDOVER and case.error is not None:
        width = f"by more than the uncertainty of {case.show_width(expanded(case.error))} (k = 2)"
        return verdict, f"{case.show(case.value or 0.0)} is {word} {limit} {width}"
    sure = " by more than the meter can be off" if case.error is not None else _unless_known(case)
    return verdict, f"{case.show(case.value or 0.0)} is {word} {limit}{sure}"


def _limits(case: Case) -> str:
    return span(case.low, case.high, case.unit)


def _unless_known(case: Case) -> str:
    return f"; {_NOT_KNOWN}" if case.error is None else ""
