"""How a limit of each kind is judged: whether it is broken as things stand, and by how much."""

from collections.abc import Callable
from functools import partial

from benchlog.domain import guard_words, runaway, source
from benchlog.domain.plan_limit import Limit, LimitKind
from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import STATES, SupplyState
from benchlog.domain.situation import Situation
from benchlog.domain.watch import Beyond

SIGN_MEANS = 1.0
"""Below this many volts a rail's sign means nothing."""
APART_FROM = 5.0
"""Below this many volts two rails are not compared."""
APART_SLOPE = 0.02
APART_FRACTION = 0.15
"""Of the larger rail, where the plan does not say."""
SOURCE_MEANS = 2.0
"""Below this many volts a source is as good as off, and a fraction of it would be less than noise."""

Judge = Callable[[Situation, Limit, int], Beyond | None]
"""Looks at a limit at a plan time; None where it holds."""


def _constant(now: Situation, limit: Limit, least: float = 0.0) -> float:
    """The bound itself; of the source as applied, or as `least` volts where that is more."""
    if limit.value is not None:
        return limit.value
    return (limit.of_source or 0.0) * max(now.applied()[0], least)


def _high(now: Situation, limit: Limit, _t: int) -> Beyond | None:
    return _against(now, limit, "above its limit of", _constant(now, limit, SOURCE_MEANS), 1.0)


def _low(now: Situation, limit: Limit, _t: int) -> Beyond | None:
    return _against(now, limit, "below its limit of", _constant(now, limit), -1.0)


def _against(now: Situation, limit: Limit, how: str, bound: float, way: float) -> Beyond | None:
    trace = now.traces[limit.trace]
    value = trace.value
    # A bound on something that may go either way, such as an offset, is a bound on its size.
    if value is None or way * ((value if trace.plan.role is Role.SINK else abs(value)) - bound) <= 0.0:
        return None
    return Beyond(partial(guard_words.against, trace.plan, value, how, bound), value, bound)


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
    if one.value is None or other.value is None or max(one.magnitude, other.magnitude) <= APART_FROM:
        return None
    if now.rests(limit):
        return None  # Two reservoirs that nothing feeds fall each in its own time.
    slopes = [trace.relative_slope(source.SLOPE_WINDOW, t) for trace in (one, other)]
    # A rail that stays at nothing has a meaningless relative slope; the one that stands decides.
    standing = one if one.magnitude >= other.magnitude else other
    slope = slopes[0] if standing is one else slopes[1]
    if slope is None or abs(slope) >= APART_SLOPE:
        return None
    when = min(one.t, other.t)
    first, second = one.at(when), other.at(when)
    if first is None or second is None:
        return None
    fraction = APART_FRACTION if limit.fraction is None else limit.fraction
    gap = abs(abs(first) - abs(second))
    allowed = max(fraction * max(abs(first), abs(second)), limit.floor)
    if gap <= allowed:
        return None
    words = partial(guard_words.rails_apart, one.plan, first, other.plan, second, gap)
    # By the time of the comparison: one odd reading of a meter that then falls silent stays one reading.
    return Beyond(words, gap, allowed, when)


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
}
"""The judge of each kind."""
