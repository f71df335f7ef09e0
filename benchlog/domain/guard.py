"""The guard: decides, reading by reading, whether a limit of the plan is broken.

No clock and no I/O: plan time and wire time come with each call, in nanoseconds. A limit is judged
only while it is armed, and is broken once enough readings in a row have broken it for long enough.
It judges only while it is armed: from the arming of a run to its cut. After a cut nothing trips again.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import partial

from benchlog.domain import guard_words, runaway, source
from benchlog.domain.guard_words import Words
from benchlog.domain.judges import JUDGES, Judge
from benchlog.domain.plan import Mover, Plan
from benchlog.domain.plan_limit import Action, Gate, Limit, LimitKind
from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import Outcome
from benchlog.domain.reference import Reference
from benchlog.domain.situation import Situation
from benchlog.domain.trace import SECOND, STALE_AT_LEAST, STALE_INTERVALS, Trace
from benchlog.domain.watch import NOT_YET, Watch

OVERLOAD_SECONDS = 1.0
"""A meter may be ranging up for this long; then beyond its range counts as beyond the limit."""
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


_BELIEVED_ONLY = (LimitKind.APART, LimitKind.RUNAWAY, LimitKind.RISE)
_OF_A_FALL = (LimitKind.LOW, LimitKind.RAIL_LOW)
_Watch = Watch[Judge]


def _highs_of(plan: Plan) -> dict[str, Limit]:
    """The limit above each raw rail that has one."""
    return {limit.trace: limit for limit in plan.limit if limit.kind is LimitKind.RAIL_HIGH}


class Guard(Situation):
    """All limits of one plan over all its traces."""

    def __init__(self, plan: Plan, reference: Reference | None = None) -> None:
        super().__init__(plan, reference)
        self.armed = False
        self.falls_on_purpose: Callable[[], bool] = lambda: False
        """Whether the unit is being put off, for practice or for a change: what falls then falls for that."""
        self.tripped: Broken | None = None
        self._in_order: list[_Watch] = []
        self._watches: dict[str, list[_Watch]] = {trace.name: [] for trace in plan.trace}
        self._gates: dict[str, list[tuple[Gate, _Watch]]] = {trace.name: [] for trace in plan.trace}
        for limit in plan.limit:
            watch = Watch(limit, JUDGES[limit.kind], plan)
            self._in_order.append(watch)
            for name in filter(None, (limit.trace, limit.partner)):
                self._watches[name].append(watch)
            if limit.gate is not None:
                for name in limit.gate.any_of:
                    self._gates[name].append((limit.gate, watch))
        self._rises = {
            trace.name: [rise for (name, *_), rise in self.rises.items() if name == trace.name]
            for trace in plan.trace
        }
        self._said_overload: set[str] = set()
        self._highs = _highs_of(plan)
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
            for rise in self._rises[name]:
                rise.take(t, trace.size(trace.value or 0.0), self.still_since())
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
            if trace.first_wire is None or name in self.resting:
                continue
            quiet = (wire - trace.good_wire) / SECOND
            if trace.doubt:
                words = partial(guard_words.doubted, name, trace.doubt, quiet)
            else:
                words = partial(guard_words.silence, name, quiet)
            after = max(trace.lost_after, self.plan.run_kind.patience)
            if quiet >= after and trace.plan.critical and self.feed.on_since is not None:
                self.quiet.add(name)
                found.append(Broken(name, "lost", Action.TRIP, words, None, None, t, trace.good_wire))
            elif quiet >= max(STALE_INTERVALS * trace.interval, STALE_AT_LEAST) and name not in self.quiet:
                self.quiet.add(name)
                if not trace.doubt:  # else said already, with its reason
                    found.append(Broken(name, "silent", Action.WARN, words, None, None, t, trace.good_wire))
        return self._settle(found)

    def set_limit(self, at: int, limit: Limit) -> None:
        """Judge by another figure of the limit at that place of the plan from now on."""
        self.plan = replace(self.plan, limit=(*self.plan.limit[:at], limit, *self.plan.limit[at + 1 :]))
        self._highs = _highs_of(self.plan)
        self._in_order[at].change(limit)

    # --- a clip that is moved -------------------------------------------------------------------

    def watched_without(self, name: str, t: int) -> bool:
        """Whether a critical trace other than that one is believed, and has a limit armed that trips without it."""
        return any(
            other != name
            and trace.plan.critical
            and self.shown(trace) is not None
            and any(
                self._action(watch.limit) is Action.TRIP
                and name not in (watch.limit.trace, *watch.limit.others)
                and self._arms_in(watch, t) <= 0.0
                for watch in self._watches[other]
            )
            for other, trace in self.traces.items()
        )

    def rest_trace(self, name: str) -> None:
        """Its limits and its silence rest from now on."""
        self.resting.add(name)
        self.quiet.discard(name)
        self._said_overload.discard(name)
        if (windows := self.windows.get(name)) is not None:
            windows.forget()
        for rise in self._rises[name]:
            rise.forget()
        for watch in self._watches[name]:
            watch.rest()

    def lost_clip(self, name: str, seconds: float, t: int, wire: int) -> tuple[Broken, ...]:
        """Its clip was moved, and no good reading came back."""
        self.quiet.add(name)
        trips = self.traces[name].plan.critical and self.feed.on_since is not None
        words = partial(guard_words.clip_lost, name, seconds)
        action = Action.TRIP if trips else Action.WARN
        return self._settle([Broken(name, "lost", action, words, None, None, t, wire)])

    def _settle(self, found: Iterable[Broken]) -> tuple[Broken, ...]:
        """Order what is broken, and let only the first trip of a run through."""
        # A rail on the wrong side is low and apart as well: its sign says more.
        ordered = sorted(
            found, key=lambda one: (one.action is not Action.TRIP, one.limit != LimitKind.POLARITY)
        )
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

    def fed(self, t: int) -> str:
        """What shows the unit fed, whether or not it was switched on, in words; empty where nothing does."""
        traces = source.showing_fed(self.mains, self.lamp, t)
        return f"{traces[0].plan.name} reads {traces[0].plan.shown(traces[0].magnitude)}" if traces else ""

    # --- limits ---------------------------------------------------------------------------------

    def _step_gate(self, gate: Gate, watch: _Watch, t: int) -> None:
        if gate.stays and (self.feed.moving or self.feed.on_since is None):
            watch.gate_since = None  # What it wakes on is being changed: it may go to sleep and wake anew.
        elif any(self.traces[name].magnitude > gate.above for name in gate.any_of):
            if watch.gate_since is None:
                watch.gate_since = t
        elif not (
            gate.stays and watch.gate_since is not None and t - watch.gate_since >= gate.seconds * SECOND
        ):
            watch.gate_since = None

    def arming(self, t: int) -> list[float]:
        """For each limit of the plan, in its order, the plan seconds until it is armed.

        0 where it is armed; `NOT_YET` where what it waits for has not begun, and after the cut.
        """
        if not self.armed:
            return [NOT_YET] * len(self._in_order)
        return [
            NOT_YET if self.rests(watch.limit) else max(self._arms_in(watch, t), self._windows_in(watch, t))
            for watch in self._in_order
        ]

    def _arms_in(self, watch: _Watch, t: int) -> float:
        """Plan seconds until a limit is armed; `NOT_YET` while a clip that it looks at is being moved."""
        limit = watch.limit
        if not self.resting.isdisjoint((limit.trace, *limit.others)):
            return NOT_YET
        return watch.arms_in(self.feed, t)

    def _windows_in(self, watch: _Watch, t: int) -> float:
        """Plan seconds until the windows of a runaway begin; 0 for every other kind of limit."""
        if watch.limit.kind is not LimitKind.RUNAWAY:
            return 0.0
        begins = runaway.begins(self.feed, self.touched)
        return NOT_YET if begins is None else max((begins - t) / SECOND, 0.0)

    def adjusting(self, t: int) -> float:
        """Plan seconds until a runaway is looked for again after somebody turned a trimmer; 0 where it is."""
        if self.touched is None:
            return 0.0
        return max(runaway.AFTER_TOUCH - (t - self.touched) / SECOND, 0.0)

    def _judge(
        self, watch: _Watch, trace: Trace, t: int, wire: int, *, believed: bool = True
    ) -> Broken | None:
        if self._arms_in(watch, t) > 0.0:
            watch.rest()
            return None
        beyond = watch.judge(self, watch.limit, t)
        if beyond is None:
            if believed:
                watch.rest()
            return None
        limit = watch.limit
        does, kind = self._action(limit), limit.kind.value
        if not watch.broke(t if beyond.at is None else beyond.at, does):
            return None
        words = partial(guard_words.with_reason, beyond.words, limit.why) if limit.why else beyond.words
        return Broken(limit.trace, kind, does, words, beyond.value, beyond.bound, t, wire)

    def _action(self, limit: Limit) -> Action:
        """What follows where a limit is broken now."""
        # Behind a lamp that no meter watches nobody knows what is left for the unit: ask, do not cut.
        behind = limit.kind is LimitKind.RAIL_LOW and self.feed.lamp_watts > 0.0
        unknown = behind and self.shown(self.lamp) is None
        # It came down with the source and falls no more: most likely nothing draws from it. Ask, do not cut.
        stands = limit.kind is LimitKind.RAIL_HIGH and self.rests(limit)
        return Action.WARN if unknown or stands else limit.action

    def would_trip(self, name: str, t: int, *, fallen: bool) -> bool:
        """Whether a limit is armed that a doubted value of that trace may trip; `fallen`: one that fell."""
        return any(
            (watch.limit.kind in _OF_A_FALL if fallen else watch.limit.kind not in _BELIEVED_ONLY)
            and self._action(watch.limit) is Action.TRIP
            and self._arms_in(watch, t) <= 0.0
            and not self.rests(watch.limit)
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
            watch.limit.action is Action.TRIP and self._arms_in(watch, t) <= 0.0
            for watch in self._watches[name]
        )
        if not guarded and name in self._said_overload:
            return []
        self._said_overload.add(name)
        action = Action.TRIP if guarded else Action.WARN
        return [
            Broken(name, "beyond range", action, partial(guard_words.beyond_range, name), None, None, t, wire)
        ]
