"""What a reading proves about what it should read: a question in, a judgement with one sentence out.

The rulings are tried in order and the first that has something to say decides. The order is the
argument: first whether the reading means anything, then what it cannot prove where it was taken, and
only then its limits. Nothing here says that anything is safe.
"""

import math
from collections.abc import Callable

from benchlog.domain import (
    rulings_board,
    rulings_capacitor,
    rulings_limits,
    rulings_parts,
    rulings_reading,
)
from benchlog.domain.case import Case, Finding
from benchlog.domain.kind import RESISTORS
from benchlog.domain.standing import expanded, probability, too_coarse
from benchlog.domain.verdict import Judgement, Question, Verdict

_BY_LIMITS = frozenset(
    {Verdict.WITHIN, Verdict.DRIFTED, Verdict.HIGH, Verdict.LOW, Verdict.SHORT, Verdict.UNDECIDED}
)
"""Verdicts beside which a probability of conformity says something."""

_RULINGS: tuple[Callable[[Case], Finding | None], ...] = (
    rulings_reading.wrong_function,
    rulings_reading.no_contact,
    rulings_reading.not_yet,
    rulings_reading.unstable,
    rulings_board.live_board,
    rulings_parts.turned_round,
    rulings_parts.collector_first,
    rulings_parts.halves,
    rulings_parts.open_inside,
    rulings_reading.overload,
    rulings_board.without_expectation,
    rulings_capacitor.other_frequency,
    rulings_capacitor.leaking,
    rulings_board.emitter_resistor,
    rulings_board.two_wires,
    rulings_board.lossy,
    rulings_board.swollen,
    rulings_board.one_way,
    rulings_limits.doubt,
    rulings_capacitor.esr_on_board,
    rulings_capacitor.worn,
    rulings_parts.other_material,
    rulings_parts.unlike_other_side,
    rulings_parts.hidden_in_bridge,
    rulings_parts.emitter_below_collector,
    rulings_parts.insulation,
    rulings_parts.contact,
    rulings_board.high_on_board,
    rulings_board.low_on_board,
    rulings_limits.against_mirror,
    rulings_limits.inside,
    rulings_limits.wrong_sign,
    rulings_limits.short,
    rulings_parts.conducts,
    rulings_limits.drifted,
    rulings_limits.outside,
)


def judge(question: Question) -> Judgement:
    """What a reading proves. Raises `BadInput` where something must be asked first."""
    case = Case.of(question)
    verdict, reason = next(found for ruling in _RULINGS if (found := ruling(case)))
    inside = verdict is Verdict.WITHIN and case.standing is not None
    conformity = None
    if verdict in _BY_LIMITS and case.value is not None and case.error is not None and question.expectation:
        conformity = probability(case.value, case.low, case.high, case.error)
    return Judgement(
        verdict=verdict,
        reason=f"{reason[0].upper()}{reason[1:]}.",
        rule=question.rule,
        value=case.value,
        low=case.low if math.isfinite(case.low) else None,
        high=case.high if math.isfinite(case.high) else None,
        unit=case.unit,
        uncertainty=None if case.error is None else expanded(case.error),
        probability=conformity,
        near_limit=inside and case.standing is not None and not case.standing.sure,
        notes=tuple(_notes(case, verdict)),
    )


def turn_leads(question: Question, judgement: Judgement) -> bool:
    """Whether to read once more with the leads turned round: a resistor reads high on the board, unproven yet.

    Only a reading that is the same both ways round is the resistor's own.
    """
    if judgement.verdict is not Verdict.UNPROVEN or question.reversed is not None:
        return False
    above = judgement.value is not None and judgement.high is not None and judgement.value > judgement.high
    return above and question.in_circuit and question.kind in RESISTORS


def _notes(case: Case, verdict: Verdict) -> list[str]:
    """What is worth saying beside the verdict."""
    notes = []
    if verdict is Verdict.AS_OTHER_SIDE:
        notes.append("Both may be bad alike.")
    if verdict is Verdict.DRIFTED and case.asked.kind is None:
        notes.append("Taken for a resistor.")
    if verdict is Verdict.OPEN and case.on_board and case.unit == "ohm" and not case.asked.dead_board:
        notes.append("A charge on the board can read as OL: see that it is dead.")
    if case.value is not None and case.value != case.asked.reading and isinstance(case.asked.reversed, float):
        notes.append(f"Mean of both lead directions: {case.show(case.value)}.")
    if case.asked.leads:
        notes.append(f"{case.show(case.asked.leads)} of the leads were taken off.")
    if case.standing and case.error is not None and too_coarse(case.low, case.high, case.error):
        notes.append(f"This meter cannot judge {_parts(case)}.")
    if verdict is Verdict.WITHIN and case.error is not None and case.standing and not case.standing.sure:
        notes.append("The limit is nearer than the meter's error.")
    return [*notes, *rulings_parts.notes(case, verdict), *rulings_capacitor.notes(case, verdict)]


def _parts(case: Case) -> str:
    """What the meter is too coarse for: `1 % parts`."""
    tolerance = case.asked.expectation.tolerance if case.asked.expectation else None
    if not tolerance or -tolerance[0] != tolerance[1]:
        return "limits as narrow as these"
    return f"{tolerance[1] * 100:g} % parts"
