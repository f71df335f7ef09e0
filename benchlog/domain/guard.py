"""The guard: decides, reading by reading, whether a limit of the plan is broken.

No clock and no I/O: plan time and wire time come with each call, in nanoseconds. A limit is judged
only while it is armed, and is broken once enough readings in a row have broken it for long enough.
It judges only while it is armed: from the arming of a run to its cut. After a cut nothing trips again.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial

from benchlog.domain import guard_words, runaway, source
from benchlog.domain.guard_words import Words
from benchlog.domain.plan import Action, Gate, Limit, LimitKind, Mover, Plan, Role
from benchlog.domain.reading import STATES, Outcome, SupplyState
from benchlog.domain.trace import SECOND, STALE_AT_LEAST, STALE_INTERVALS, Trace
from benchlog.domain.watch import NOT_YET, Beyond, Watch

OVERLOAD_SECONDS = 1.0
"""A meter may be ranging up for this long; then beyond its range counts as beyond the limit."""
SIGN_MEANS = 1.0
"""Below this many volts a rail's sign means nothing."""
APART_FROM = 5.0
"""Below this many volts two rails are not compared."""
APART_SLOPE = 0.02
SOURCE_MEANS = 2.0
"""Below this many volts a source is as good as off, and a fraction of it would be less than noise."""
LEFT_UP_READINGS = 2
"""Readings in a row that must show a dial left up: one alone proves nothing."""


@dataclass(frozen=True, slots=True)
class Broken:
    """A limit that is broken: what, where, how far beyond, since when, and what follows.

    `words` puts it into a sentence, which takes longer than the cut itself and so comes after it.
    """

    trace: str
    limit: str
    action: Action
    words: Words
    value: float | None
    bound: float | None
    t: int
    wire: int

    @property
    def text(self) -> str:
        """The sentence."""
        return self.words()


_BELIEVED_ONLY = (LimitKind.APART, LimitKind.RUNAWAY)
_OF_A_FALL = (LimitKind.LOW, LimitKind.RAIL_LOW)
_Judge = Callable[["Guard", Limit, int], Beyond | None]
_Watch = Watch[_Judge]


class Guard:
    """All limits of one plan over all its traces."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.feed = source.Feed()
        self.traces = {trace.name: Trace(trace) for trace in plan.trace}
        self.armed = False
        self.tripped: Broken | None = None
        self._in_order: list[_Watch] = []
        self._watches: dict[str, list[_Watch]] = {trace.name: [] for trace in plan.trace}
        self._gates: dict[str, list[tuple[Gate, _Watch]]] = {trace.name: [] for trace in plan.trace}
        for limit in plan.limit:
            watch = Watch(limit, _JUDGES[limit.kind], lamp=plan.source.lamp_watts > 0.0)
            self._in_order.append(watch)
            for name in filter(None, (limit.trace, limit.partner)):
                self._watches[name].append(watch)
            if limit.gate is not None:
                for name in limit.gate.any_of:
                    self._gates[name].append((limit.gate, watch))
        self.quiet: set[str] = set()
        """Traces that have fallen silent; their last value says nothing about now."""
        self._said_overload: set[str] = set()
        first = {trace.role: self.traces[trace.name] for trace in reversed(plan.trace)}
        self.mains, self.lamp = first.get(Role.MAINS), first.get(Role.LAMP)
        self.rails = [self.traces[trace.name] for trace in plan.of_role(Role.RAIL)]
        self.stored = {trace.plan.name: source.Stored() for trace in self.rails}
        self._highs = {limit.trace: limit for limit in plan.limit if limit.kind is LimitKind.RAIL_HIGH}
        slow = [limit.trace for limit in plan.limit if limit.kind is LimitKind.RUNAWAY]
        self.windows = {name: runaway.Windows() for name in slow}
        self.touched: int | None = None  # when somebody last turned a trimmer
        self._fed = self.rails or [self.traces[trace.name] for trace in plan.of_role(Role.SUPPLY_VOLTS)]

    # --- what it is told ------------------------------------------------------------------------

    def reading(
        self, name: str, value: float | None, outcome: Outcome, t: int, wire: int
    ) -> tuple[Broken, ...]:
        """Take one reading of a trace; what is broken by it, worst first, mostly nothing.

        A value under an outcome of doubt may break a limit, but never mends one, nor keeps the trace from
        being lost.
        """
        trace = self.traces[name]
        if outcome is Outcome.OK and (value is None or not math.isfinite(value)):
            outcome = Outcome.NOT_A_NUMBER
        trace.take(value, outcome, t, wire)
        if not self.armed:
            return ()
        if outcome is Outcome.OK:
            self.quiet.discard(name)
            self._said_overload.discard(name)
            for gate, watch in self._gates[name]:
                self._step_gate(gate, watch, t)
            # Where nobody says what a rail should read there is no band that it could be above.
            if (stored := self.stored.get(name)) is not None and self.plan.source.ratio > 0.0:
                high = self.rail_band(name, self._highs.get(name)).high
                fed = self.feed.on_since is not None
                stored.take(trace.plan.sign * (trace.value or 0.0), high, t, fed=fed)
            if (windows := self.windows.get(name)) is not None and trace.value is not None:
                begins = runaway.begins(self.feed, self.touched)
                windows.take(t, trace.value, begins, on=self.feed.on_since is not None)
            found = [
                broken
                for watch in self._watches[name]
                if (broken := self._judge(watch, trace, t, wire)) is not None
            ]
            if self.feed.coming_on and trace is self.mains:
                found += self._dial_left_up(trace, t, wire)
        elif outcome is Outcome.OVERLOAD:
            self.quiet.discard(name)
            found = self._overload(trace, t, wire)
        elif value is not None and math.isfinite(value):
            found = self._doubtful(trace, value, t, wire)
        else:
            return ()
        return self._settle(found) if found else ()

    def _doubtful(self, trace: Trace, value: float, t: int, wire: int) -> list[Broken]:
        """What a value breaks that nobody quite believes; it leaves no mark on the trace itself."""
        good, trace.value = trace.value, value
        found = [
            broken
            for watch in self._watches[trace.plan.name]
            if watch.limit.kind not in _BELIEVED_ONLY
            and (broken := self._judge(watch, trace, t, wire, believed=False)) is not None
        ]
        trace.value = good
        return found

    def silent(self, t: int, wire: int) -> tuple[Broken, ...]:
        """Look for traces that have fallen silent; `wire` is real time, which silence is judged by."""
        found: list[Broken] = []
        if not self.armed:
            return ()
        for name, trace in self.traces.items():
            if trace.first_wire is None:
                continue
            quiet = (wire - trace.good_wire) / SECOND
            if trace.doubt:
                words = partial(guard_words.doubted, name, trace.doubt, quiet)
            else:
                words = partial(guard_words.silence, name, quiet)
            if quiet >= trace.patience and trace.plan.critical and self.feed.on_since is not None:
                self.quiet.add(name)
                found.append(Broken(name, "lost", Action.TRIP, words, None, None, t, trace.good_wire))
            elif quiet >= max(STALE_INTERVALS * trace.interval, STALE_AT_LEAST) and name not in self.quiet:
                self.quiet.add(name)
                if not trace.doubt:  # else said already, with its reason
                    found.append(Broken(name, "silent", Action.WARN, words, None, None, t, trace.good_wire))
        return self._settle(found)

    def _settle(self, found: Iterable[Broken]) -> tuple[Broken, ...]:
        """Order what is broken, and let only the first trip of a run through."""
        ordered = sorted(found, key=lambda broken: broken.action is not Action.TRIP)
        told: list[Broken] = []
        for broken in ordered:
            if broken.action is Action.TRIP:
                if self.tripped is not None:
                    continue
                self.tripped = broken
            told.append(broken)
        return tuple(told)

    # --- the source -----------------------------------------------------------------------------

    def trimmer_touched(self, t: int) -> None:
        """Somebody turns a trimmer: what rises now is their doing, and runaway is looked for anew later."""
        self.touched = t

    def applied(self) -> tuple[float, bool]:
        """The volts applied to lamp plus unit, and whether a meter shows them (else they were told)."""
        shown = self.shown(self.mains)
        if shown is not None:
            return shown, True
        return (self.feed.assumed if self.feed.on_since is not None else 0.0), False

    def off_setting(self, setting: float) -> float | None:
        """What a meter shows of a source turned by hand that does not stand at `setting` volts; None where it does.

        None as well where no meter shows it: then nobody can tell.
        """
        shown = self.shown(self.mains) if self.plan.source.moved_by is Mover.HAND else None
        if shown is None or abs(shown - setting) <= source.room(self.plan.source, setting):
            return None
        return shown

    def above_setting(self, value: float, setting: float) -> bool:
        """Whether a reading of the mains shows a dial that stands above a setting."""
        by_hand = self.plan.source.moved_by is Mover.HAND
        return by_hand and value > setting + source.room(self.plan.source, setting)

    def _dial_left_up(self, mains: Trace, t: int, wire: int) -> list[Broken]:
        """As the unit comes on: its own readings show a source that stands above what was told."""
        value, setting = mains.magnitude, self.feed.told
        if not self.above_setting(value, setting):
            self.feed.left_up = 0
            return []
        self.feed.left_up += 1
        if self.feed.left_up < LEFT_UP_READINGS:
            return []
        words = partial(guard_words.left_up, mains.plan, value, setting)
        return [Broken(mains.plan.name, "dial left up", Action.TRIP, words, value, setting, t, wire)]

    def shown(self, trace: Trace | None) -> float | None:
        """What a meter shows now; None where it is not believed, has fallen silent or is beyond its range."""
        if trace is None or trace.doubt or trace.plan.name in self.quiet or trace.overload_since is not None:
            return None
        return trace.value

    def look_at_source(self, t: int) -> str | None:
        """Notice what the source does: `on` unasked, `moving`, `steady`, `restless` or nothing new."""
        feed = self.feed
        if feed.on_since is None:
            on = self.armed and source.looks_on(self.mains, self.lamp, self.rails, feed, t)
            return "on" if on else None
        if feed.moving:
            if source.came_to_rest(self.mains, self._fed, feed, t):
                return "steady" if feed.settle(t) else "restless"
            return None
        if t < feed.no_moves_until:
            return None
        # A supply whose volts give way has not been turned by anybody: the program would know.
        by_hand = self.plan.source.moved_by is Mover.HAND
        if by_hand and source.looks_moved(self.mains, self.lamp, self.rails, t):
            feed.seen_moving(t)
            return "moving"
        return None

    def rail_band(self, name: str, limit: Limit | None = None, *, least: bool = False) -> source.Band:
        """What the raw rail of that name should read just now.

        Until somebody has said that a move is done, the source may stand at either end of it; `least` goes by
        the lower one.
        """
        applied, metered = self.applied()
        if least and not metered:
            applied = min(applied, self.feed.least)
        return source.rail_band(self.plan.source, applied, self.shown(self.lamp), limit)

    # --- limits ---------------------------------------------------------------------------------

    def _step_gate(self, gate: Gate, watch: _Watch, t: int) -> None:
        if any(self.traces[name].magnitude > gate.above for name in gate.any_of):
            if watch.gate_since is None:
                watch.gate_since = t
        else:
            watch.gate_since = None

    def arming(self, t: int) -> list[float]:
        """For each limit of the plan, in its order, the plan seconds until it is armed.

        0 where it is armed; `NOT_YET` where what it waits for has not begun, and after the cut.
        """
        if not self.armed:
            return [NOT_YET] * len(self._in_order)
        return [
            NOT_YET if self.rests(watch.limit) else watch.arms_in(self.feed, t) for watch in self._in_order
        ]

    def rests(self, limit: Limit) -> bool:
        """Whether a limit that follows the source rests until a reservoir has followed it down."""
        if limit.kind is LimitKind.RAIL_HIGH:
            return self.stored[limit.trace].beyond
        names = (limit.trace, limit.partner) if limit.kind is LimitKind.APART else ()
        return any(name in self.stored and self.stored[name].beyond for name in names)

    def _judge(
        self, watch: _Watch, trace: Trace, t: int, wire: int, *, believed: bool = True
    ) -> Broken | None:
        if watch.arms_in(self.feed, t) > 0.0:
            watch.rest()
            return None
        beyond = watch.judge(self, watch.limit, t)
        if beyond is None:
            if believed:
                watch.rest()
            return None
        if not watch.broke(t if beyond.at is None else beyond.at):
            return None
        limit = watch.limit
        words = partial(guard_words.with_reason, beyond.words, limit.why) if limit.why else beyond.words
        does, kind = self._action(limit), limit.kind.value
        return Broken(limit.trace, kind, does, words, beyond.value, beyond.bound, t, wire)

    def _action(self, limit: Limit) -> Action:
        """What follows where a limit is broken now."""
        # Behind a lamp that no meter watches nobody knows what is left for the unit: ask, do not cut.
        behind = limit.kind is LimitKind.RAIL_LOW and self.plan.source.lamp_watts > 0.0
        unknown = behind and self.shown(self.lamp) is None
        # It came down with the source and falls no more: most likely nothing draws from it. Ask, do not cut.
        stands = limit.kind is LimitKind.RAIL_HIGH and self.rests(limit)
        return Action.WARN if unknown or stands else limit.action

    def would_trip(self, name: str, t: int, *, fallen: bool) -> bool:
        """Whether a limit is armed that a doubted value of that trace may trip; `fallen`: one that fell."""
        return any(
            (watch.limit.kind in _OF_A_FALL if fallen else watch.limit.kind not in _BELIEVED_ONLY)
            and self._action(watch.limit) is Action.TRIP
            and watch.arms_in(self.feed, t) <= 0.0
            for watch in self._watches[name]
        )

    def _overload(self, trace: Trace, t: int, wire: int) -> list[Broken]:
        """A meter beyond its range: unknown for a second, then as bad as beyond the limit."""
        name = trace.plan.name
        since = trace.overload_since
        if since is None or trace.overload_count < 2 or t - since < OVERLOAD_SECONDS * SECOND:
            return []
        # A turn-on kick may be beyond the range before its limit is armed, and may still be so after.
        guarded = any(
            watch.limit.action is Action.TRIP and watch.arms_in(self.feed, t) <= 0.0
            for watch in self._watches[name]
        )
        if not guarded and name in self._said_overload:
            return []
        self._said_overload.add(name)
        action = Action.TRIP if guarded else Action.WARN
        return [
            Broken(name, "beyond range", action, partial(guard_words.beyond_range, name), None, None, t, wire)
        ]


def _constant(guard: Guard, limit: Limit, least: float = 0.0) -> float:
    """The bound itself; of the source as applied, or as `least` volts where that is more."""
    if limit.value is not None:
        return limit.value
    return (limit.of_source or 0.0) * max(guard.applied()[0], least)


def _high(guard: Guard, limit: Limit, _t: int) -> Beyond | None:
    return _against(guard, limit, "above its limit of", _constant(guard, limit, SOURCE_MEANS), 1.0)


def _low(guard: Guard, limit: Limit, _t: int) -> Beyond | None:
    return _against(guard, limit, "below its limit of", _constant(guard, limit), -1.0)


def _against(guard: Guard, limit: Limit, how: str, bound: float, way: float) -> Beyond | None:
    trace = guard.traces[limit.trace]
    value = trace.value
    # A bound on something that may go either way, such as an offset, is a bound on its size.
    if value is None or way * ((value if trace.plan.role is Role.SINK else abs(value)) - bound) <= 0.0:
        return None
    return Beyond(partial(guard_words.against, trace.plan, value, how, bound), value, bound)


def _rail_low(guard: Guard, limit: Limit, _t: int) -> Beyond | None:
    trace = guard.traces[limit.trace]
    band = guard.rail_band(limit.trace, limit, least=True)
    if trace.value is None or trace.value * trace.plan.sign >= band.low:
        return None
    should = band.expected * trace.plan.sign
    words = partial(guard_words.against, trace.plan, trace.value, "low, should read about", should)
    return Beyond(words, trace.value, band.low * trace.plan.sign)


def _rail_high(guard: Guard, limit: Limit, _t: int) -> Beyond | None:
    trace = guard.traces[limit.trace]
    band = guard.rail_band(limit.trace, limit)
    if trace.value is None or trace.value * trace.plan.sign <= band.high:
        return None
    stored = guard.stored[limit.trace]
    if stored.beyond and not stored.stands:
        return None
    should = band.expected * trace.plan.sign
    words = partial(guard_words.against, trace.plan, trace.value, "high, should read about", should)
    return Beyond(words, trace.value, band.high * trace.plan.sign)


def _apart(guard: Guard, limit: Limit, t: int) -> Beyond | None:
    one, other = guard.traces[limit.trace], guard.traces[limit.partner]
    if one.value is None or other.value is None or max(one.magnitude, other.magnitude) <= APART_FROM:
        return None
    if guard.rests(limit):
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
    fraction = 0.15 if limit.fraction is None else limit.fraction
    gap = abs(abs(first) - abs(second))
    allowed = max(fraction * max(abs(first), abs(second)), limit.floor)
    if gap <= allowed:
        return None
    words = partial(guard_words.rails_apart, one.plan, first, other.plan, second, gap)
    # By the time of the comparison: one odd reading of a meter that then falls silent stays one reading.
    return Beyond(words, gap, allowed, when)


def _polarity(guard: Guard, limit: Limit, _t: int) -> Beyond | None:
    trace = guard.traces[limit.trace]
    value = trace.value
    if value is None or abs(value) <= SIGN_MEANS or value * trace.plan.sign > 0:
        return None
    return Beyond(partial(guard_words.wrong_sign, trace.plan, value), value, 0.0)


def _supply(guard: Guard, limit: Limit, _t: int) -> Beyond | None:
    value = guard.traces[limit.trace].value
    if value is None or STATES[int(value)] is SupplyState.REGULATING:
        return None
    return Beyond(partial(guard_words.by_itself, limit.trace, STATES[int(value)]), value, None)


def _runaway(guard: Guard, limit: Limit, _t: int) -> Beyond | None:
    trace, windows = guard.traces[limit.trace], guard.windows[limit.trace]
    gain = runaway.runs_away(limit, trace.plan, windows)
    if gain is None or trace.value is None:
        return None
    return Beyond(partial(guard_words.running_away, trace.plan, trace.value, gain), trace.value, limit.target)


_JUDGES: dict[LimitKind, _Judge] = {
    LimitKind.HIGH: _high,
    LimitKind.LOW: _low,
    LimitKind.RAIL_LOW: _rail_low,
    LimitKind.RAIL_HIGH: _rail_high,
    LimitKind.APART: _apart,
    LimitKind.POLARITY: _polarity,
    LimitKind.SUPPLY: _supply,
    LimitKind.RUNAWAY: _runaway,
}
