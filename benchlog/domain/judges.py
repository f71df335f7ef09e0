"""How a limit of each kind is judged: whether it is broken as things stand, and by how much."""

from collections.abc import Callable
from functools import partial

from benchlog.domain import guard_words, runaway, source
from benchlog.domain.plan_limit import Limit, LimitKind
from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import STATES, SupplyState
from benchlog.domain.rise import rise_of
from benchlog.domain.situation import Situation
from benchlog.domain.trace import Trace
from benchlog.domain.watch import Beyond

SIGN_MEANS = 1.0
"""Below this many volts a rail's sign means nothing."""
APART_FROM = 5.0
"""Below this many volts two rails are not compared."""
APART_SLOPE = 0.02
APART_FRACTION = 0.15
"""Of the larger rail, where the plan does not say."""

Judge = Callable[[Situation, Limit, int], Beyond | None]
"""Looks at a limit at a plan time; None where it holds."""


def _high(now: Situation, limit: Limit, _t: int) -> Beyond | None:
    return _against(now, limit, "above", 1.0)


def _low(now: Situation, limit: Limit, _t: int) -> Beyond | None:
    return _against(now, limit, "below", -1.0)


def _against(now: Situation, limit: Limit, how: str, way: float) -> Beyond | None:
    trace, bound = now.traces[limit.trace], now.bound(limit)
    value = trace.value
    if value is None or bound is None or way * (trace.size(value) - bound) <= 0.0:
        return None
    if limit.of_trace is None:
        words = partial(guard_words.against, trace.plan, value, f"{how} its limit of", bound)
    else:
        words = partial(guard_words.against_other, trace.plan, value, how, limit.of_trace, bound)
    return Beyond(words, value, bound)


def _rise(now: Situation, limit: Limit, t: int) -> Beyond | None:
    trace, found = now.traces[limit.trace], now.rises[rise_of(limit)].found(t)
    if found is None:
        return None
    first, last = found
    most = limit.value if limit.value is not None else max((limit.fraction or 0.0) * abs(first), limit.floor)
    if last - first <= most:
        return None
    words = partial(guard_words.rising, trace.plan, last, last - first, limit.window)
    return Beyond(words, last, first + most)


def _rail_low(now: Situation, limit: Limit, _t: int) -> Beyond | None:
    trace = now.traces[limit.trace]
    band = now.rail_band(limit.trace, limit, least=True)
    if trace.value is None or trace.value * trace.plan.sign >= band.low:
        return None
    should = band.expected * trace.plan.sign
    words = partial(guard_words.against, trace.plan, trace.value, "low, should read about", should)
    return Beyond(words, trace.value, band.low * trace.plan.sign)


def _rail_high(now: Situation, limit: Limit, _t: int) -> Beyond | None:
    trace = now.traces[limit.trace]
    band = now.rail_band(limit.trace, limit)
    if trace.value is None or trace.value * trace.plan.sign <= band.high:
        return None
    stored = now.stored[limit.trace]
    if stored.beyond and not stored.stands:
        return None
    should = band.expected * trace.plan.sign
    words = partial(guard_words.against, trace.plan, trace.value, "high, should read about", should)
    return Beyond(words, trace.value, band.high * trace.plan.sign)


def _apart(now: Situation, limit: Limit, t: int) -> Beyond | None:
    one, other = now.traces[limit.trace], now.traces[limit.partner]
    if one.value is None or other.value is None or (one.plan.role is Role.RAIL and not _stand(one, other, t)):
        return None
    if now.rests(limit):
        return None  # Two reservoirs that nothing feeds fall each in its own time.
    when = min(one.t, other.t)
    first, second = one.at(when), other.at(when)
    if first is None or second is None:
        return None
    gap, allowed = _gap(limit, first, second)
    # Between an odd reading and its neighbours lies a straight line, and on it are as many odd values as the other
    # meter has readings: where the newest of both agree again, it was but one.
    newest, most = _gap(limit, one.value, other.value)
    if gap <= allowed or newest <= most:
        return None
    words = partial(guard_words.rails_apart, one.plan, first, other.plan, second, gap)
    # By the time of the comparison: one odd reading of a meter that then falls silent stays one reading.
    return Beyond(words, gap, allowed, when)


def _gap(limit: Limit, first: float, second: float) -> tuple[float, float]:
    """By how much two sizes differ, and by how much they may."""
    larger = max(abs(first), abs(second))
    fraction = APART_FRACTION if limit.fraction is None else limit.fraction
    return abs(abs(first) - abs(second)), max(fraction * larger, limit.floor)


def _stand(one: Trace, other: Trace, t: int) -> bool:
    """Whether two rails stand, so that they can be compared: what charges or falls does so in its own time."""
    if max(one.magnitude, other.magnitude) <= APART_FROM:
        return False
    # A rail that stays at nothing has a meaningless relative slope; the one that stands decides.
    standing = one if one.magnitude >= other.magnitude else other
    slope = standing.relative_slope(source.SLOPE_WINDOW, t)
    return slope is not None and abs(slope) < APART_SLOPE


def _polarity(now: Situation, limit: Limit, _t: int) -> Beyond | None:
    trace = now.traces[limit.trace]
    value = trace.value
    if value is None or abs(value) <= SIGN_MEANS or value * trace.plan.sign > 0:
        return None
    return Beyond(partial(guard_words.wrong_sign, trace.plan, value), value, 0.0)


def _supply(now: Situation, limit: Limit, _t: int) -> Beyond | None:
    value = now.traces[limit.trace].value
    if value is None or STATES[int(value)] is SupplyState.REGULATING:
        return None
    return Beyond(partial(guard_words.by_itself, limit.trace, STATES[int(value)]), value, None)


def _runaway(now: Situation, limit: Limit, _t: int) -> Beyond | None:
    trace, windows = now.traces[limit.trace], now.windows[limit.trace]
    gain = runaway.runs_away(limit, trace.plan, windows)
    if gain is None or trace.value is None:
        return None
    return Beyond(partial(guard_words.running_away, trace.plan, trace.value, gain), trace.value, limit.target)


JUDGES: dict[LimitKind, Judge] = {
    LimitKind.HIGH: _high,
    LimitKind.LOW: _low,
    LimitKind.RAIL_LOW: _rail_low,
    LimitKind.RAIL_HIGH: _rail_high,
    LimitKind.APART: _apart,
    LimitKind.POLARITY: _polarity,
    LimitKind.SUPPLY: _supply,
    LimitKind.RUNAWAY: _runaway,
    LimitKind.RISE: _rise,
}
"""The judge of each kind."""
