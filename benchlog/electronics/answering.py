"""Answers one question about a trace: whether it has settled by its rule, else where it is heading and when."""

import math

import numpy as np

from benchlog.domain.detail import Items, of_readings
from benchlog.domain.plan_trace import Role
from benchlog.domain.source import STEADY_FLOOR, STEADY_FRACTION
from benchlog.domain.stage_numbers import settle_rule, settling
from benchlog.domain.trace import SECOND
from benchlog.electronics.asked import DISCHARGE, REFORM, SETTLE, Answer, Progress, Question
from benchlog.electronics.decay import TOO_LITTLE, Floats
from benchlog.electronics.discharging import discharge
from benchlog.electronics.reforming import PLATEAU, PLATEAU_OVER, reform
from benchlog.electronics.settling import Span, settle

RAIL_SHARE, RAIL_LEAST = 0.005, 0.1
"""What a rail may move by and be where it was heading, as a share and in volts; bench habit, no source."""
LEAST = {Role.SINK: 120.0, Role.OFFSET: 120.0, Role.IDLE: 600.0}
"""Seconds that must be seen of what follows heat: an idle's spreader takes back later what the sink gives."""


def answer(question: Question) -> Answer:
    """Answer a question; one of a kind nobody knows is answered with its reason."""
    t, y = np.asarray(question.t), np.asarray(question.y)
    how = {SETTLE: _settle, DISCHARGE: _discharge, REFORM: _reform}.get(question.kind)
    whole = 0 < len(t) == len(y) and bool(np.all(np.isfinite(y)) and np.all(np.diff(t) >= 0.0))
    whole = whole and (question.kind != REFORM or (question.ohms > 0.0 and question.target > 0.0))
    if how is None or not whole:
        return Answer(question.key, question.kind, why="nobody can answer that")
    return how(question, t, y)


def _items(question: Question, t: Floats, y: Floats) -> Items:
    """The readings, or those that are means by their extremes: what has settled is judged by each reading."""
    at = np.rint(t * SECOND).astype(np.int64)
    if len(question.low) != len(t) or len(question.high) != len(t):
        return of_readings(at, y)
    both = np.stack((question.low, question.high), axis=1)
    return of_readings(np.stack((at, at + 1), axis=1).ravel(), both.ravel())


def _settle(question: Question, t: Floats, y: Floats) -> Answer:
    key, kind, seen = question.key, question.kind, float(t[-1] - t[0])
    settled, _ = settling(_items(question, t, y), float(y[-1]), question.since, question.role)
    if settled is not None:
        return Answer(key, kind, settled=True, seen=seen)
    final = abs(float(y[-1]))
    rule = settle_rule(question.role, final)
    band, window = rule or (max(RAIL_SHARE * final, RAIL_LEAST), math.inf)
    # A rail follows the mains, which never stand still.
    still = band if rule else max(STEADY_FRACTION * final, STEADY_FLOOR)
    least = LEAST.get(question.role, 0.0) if question.role is not None else 0.0
    found = settle(t, y, band=band, window=window, still=still, digit=question.digit, least=least)
    value, after = _three(found.value), _three(found.after)
    seen = found.still_for or seen
    return Answer(key, kind, value, after, why=found.why, steady=found.steady, seen=seen)


def _discharge(question: Question, t: Floats, y: Floats) -> Answer:
    found = discharge(t, y, digit=question.digit)
    five, one = _three(found.times.get(5.0)), _three(found.times.get(1.0))
    seen = float(t[-1] - t[0])
    return Answer(question.key, DISCHARGE, to_five=five, to_one=one, why=found.why, seen=seen)


def _reform(question: Question, t: Floats, y: Floats) -> Answer:
    found = reform(t, y, question.ohms, question.target, digit=question.digit)
    seen = float(t[-1] - t[0])
    state, heads, why = found.state, found.settles, found.why
    if state is Progress.PLATEAU and seen < PLATEAU_OVER:
        # The capacitor's own charging bends and ends much sooner than its leakage.
        state, heads, why = Progress.UNKNOWN, None, ""
    if state is Progress.PLATEAU and heads is not None and heads.best > (1.0 - PLATEAU) * found.amps:
        # It is where it is heading.
        heads = None
    return Answer(
        question.key,
        REFORM,
        _three(heads),
        _three(found.to_target),
        why=why or (TOO_LITTLE if state in (Progress.UNKNOWN, Progress.REACHED) else ""),
        seen=seen,
        progress=state,
        amps=abs(float(y[-1])) / question.ohms,
        target=question.target,
    )


def _three(span: Span | None) -> tuple[float, float, float] | None:
    return None if span is None else (span.best, span.low, span.high)
