"""Rulings on what a reading cannot prove where it was taken: on the board, on two wires, on a lossy part."""

import math

from benchlog.domain.case import Case, Finding
from benchlog.domain.kind import Kind
from benchlog.domain.quantity import show, tidy
from benchlog.domain.reading import Function
from benchlog.domain.rulings_parts import across
from benchlog.domain.standing import ELECTROLYTIC_HIGH, Side
from benchlog.domain.verdict import Verdict

TWO_WIRES_FROM = 2.0
"""Below this many ohms two wires cannot judge (common practice, no source)."""

LOSSY = 0.5
"""Above this D a capacitance in circuit is not the capacitor's (common practice, no source)."""


def live_board(case: Case) -> Finding | None:
    """A charge on the board reads as anything."""
    if not case.on_board or case.asked.dead_board is not False:
        return None
    return (
        Verdict.UNPROVEN,
        "the board is not dead, and the meter reads the charge: discharge it and read again",
    )


def without_expectation(case: Case) -> Finding | None:
    """Nobody knows what it should read: the other side is all there is."""
    if case.asked.expectation:
        return None
    alike = case.as_mirror
    if alike is None:
        return Verdict.UNDECIDED, "nothing says what it should read"
    other = case.show(case.asked.mirror if case.asked.mirror is not None else math.nan)
    if alike and case.ages:
        return (
            Verdict.UNDECIDED,
            f"reads as the other side does, {other}, and both age alike: nothing says more",
        )
    if alike:
        return Verdict.AS_OTHER_SIDE, f"reads as the other side does, {other}"
    if case.on_board:
        return Verdict.UNPROVEN, f"the other side reads {other}: lift a leg on both"
    return Verdict.UNDECIDED, f"the other side reads {other}, and nothing says which of the two is right"


def emitter_resistor(case: Case) -> Finding | None:
    """Other paths hide an open emitter resistor; the drops in operation speak for it."""
    if case.kind is not Kind.EMITTER_RESISTOR or not case.on_board or case.asked.idle_drops_agree:
        return None
    if case.side is Side.ABOVE and not case.leads_count and _proven_high(case):
        return None
    return (
        Verdict.UNPROVEN,
        "an emitter resistor proves nothing on the board: lift a leg, or compare the idle drops",
    )


def two_wires(case: Case) -> Finding | None:
    """Leads and tips add a few tenths of an ohm, and only ever add."""
    expected = case.asked.expectation
    if (
        not expected
        or not case.leads_count
        or not min(expected.nominal or math.inf, expected.high) < TWO_WIRES_FROM
    ):
        return None
    if case.side is Side.INSIDE and case.low <= 0:
        return None
    return (
        Verdict.UNDECIDED,
        f"below {show(TWO_WIRES_FROM, 'ohm')} two wires cannot tell: use four, or null the leads",
    )


def lossy(case: Case) -> Finding | None:
    """A capacitor with losses like a resistor's: the figure is not its capacitance."""
    loss = case.asked.dissipation
    if loss is None or loss <= LOSSY or not case.is_capacitor:
        return None
    if case.on_board and not case.asked.no_path_stated and case.as_mirror is not False:
        return Verdict.UNPROVEN, f"D of {loss:g}: something lies across it, or it is lossy: lift a leg"
    return (
        Verdict.UNDECIDED,
        f"D of {loss:g} is too much for this figure to be its capacitance: measure ESR and leakage",
    )


def swollen(case: Case) -> Finding | None:
    """A leaky electrolytic reads as one that holds more."""
    expected = case.asked.expectation
    if case.kind is not Kind.ELECTROLYTIC or case.unit != "F" or not expected or case.value is None:
        return None
    if case.value <= tidy((expected.nominal or expected.high) * (1 + ELECTROLYTIC_HIGH)):
        return None
    return (
        Verdict.UNDECIDED,
        f"more than {ELECTROLYTIC_HIGH * 100:g} % high is often leakage: measure leakage",
    )


def one_way(case: Case) -> Finding | None:
    """A resistance that depends on the leads' direction is not one."""
    if case.unit != "ohm" or case.is_junction or not case.on_board or case.side is Side.BELOW:
        return None
    if case.both_ways is not False:
        return None
    return Verdict.UNPROVEN, "the two lead directions differ: a junction or a charge is in play, lift a leg"


def high_on_board(case: Case) -> Finding | None:
    """Nothing in parallel makes a resistance read high; a charge does, and capacitors in parallel add."""
    if not case.on_board or case.side is not Side.ABOVE:
        return None
    if case.asked.function is Function.ESR or case.unit == "":
        return None  # What lies in parallel can only lower a loss in series.
    if case.unit == "F":
        return Verdict.UNPROVEN, "reads high, but capacitors across it add: lift a leg"
    if case.unit != "ohm" or case.is_junction or _proven_high(case):
        return None
    return Verdict.UNPROVEN, "reads high: see that the board is dead, and turn the leads round"


def _proven_high(case: Case) -> bool:
    return case.asked.dead_board is True and case.both_ways is True


def low_on_board(case: Case) -> Finding | None:
    """Low in circuit: the other side decides first; a resistance or junction may only have something across it."""
    if not case.on_board or case.side is not Side.BELOW:
        return None
    special = case.is_junction or case.is_capacitor
    if special and (case.asked.no_path_stated or case.as_mirror is False):
        return None
    if case.as_mirror and not case.ages:
        return Verdict.AS_OTHER_SIDE, "reads low on the board, and so does the other side"
    mirror = case.asked.mirror
    if case.as_mirror and mirror is not None:
        return Verdict.UNPROVEN, "reads low, and both sides age alike: lift a leg"
    beside = (
        f", and the other side reads {case.show(mirror)}"
        if case.as_mirror is False and mirror is not None
        else ""
    )
    if case.is_capacitor:
        # What lies across a capacitor adds to it.
        return (
            Verdict.UNPROVEN,
            "reads low, which capacitors across it cannot do: see the meter's setting, and lift a leg; "
            "still low, it has dried out or is open inside",
        )
    path = across(case)
    if path:
        return (
            Verdict.UNPROVEN,
            f"reads low, as if something of about {path} lay across it{beside}: lift a leg",
        )
    return Verdict.UNPROVEN, f"reads low, which something across it would do{beside}: lift a leg"
