"""What the guard knows just now of a unit and its source: what its limits are judged by."""

from benchlog.domain import runaway, source
from benchlog.domain.plan import Mover, Plan
from benchlog.domain.plan_limit import Limit, LimitKind
from benchlog.domain.plan_trace import Role
from benchlog.domain.reference import Reference, most_on_lamp
from benchlog.domain.rise import Rise, rise_of
from benchlog.domain.trace import Trace
from benchlog.errors import BadInput

SOURCE_MEANS = 2.0
"""Below this many volts a source is as good as off."""


class Situation:
    """The traces of one plan with their last good readings, the source, and what it follows from them."""

    def __init__(self, plan: Plan, reference: Reference | None = None) -> None:
        self.plan = plan
        self.reference = reference
        """What this unit's first good run has shown on this source; None before there is one."""
        self.touched: int | None = None
        """When somebody last turned a trimmer."""
        self.idle_set: set[str] = set()
        """Idle traces that were marked as set in this visit."""
        self.feed = source.Feed(plan.fitted_at(0).lamp_watts)
        self.traces = {trace.name: Trace(trace) for trace in plan.trace}
        self.quiet: set[str] = set()
        """Traces that have fallen silent; their last value says nothing about now."""
        self.resting: set[str] = set()
        """Traces whose clips are being moved: what they read is of nothing in particular."""
        first = {trace.role: self.traces[trace.name] for trace in reversed(plan.trace)}
        self.mains, self.lamp = first.get(Role.MAINS), first.get(Role.LAMP)
        self.rails = [self.traces[trace.name] for trace in plan.of_role(Role.RAIL)]
        self.stored = {trace.plan.name: source.Stored() for trace in self.rails}
        slow = [limit.trace for limit in plan.limit if limit.kind is LimitKind.RUNAWAY]
        self.windows = {name: runaway.Windows() for name in slow}
        rising = [limit for limit in plan.limit if limit.kind is LimitKind.RISE]
        self.rises = {rise_of(limit): Rise(*rise_of(limit)[1:]) for limit in rising}

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

    def shown(self, trace: Trace | None) -> float | None:
        """What a meter shows now; None where it is not believed, has fallen silent, is beyond its range or rests."""
        if trace is None or trace.doubt or trace.overload_since is not None:
            return None
        if trace.plan.name in self.quiet or trace.plan.name in self.resting:
            return None
        return trace.value

    def rail_band(self, name: str, limit: Limit | None = None, *, least: bool = False) -> source.Band:
        """What the raw rail of that name should read just now.

        Until somebody has said that a move is done, the source may stand at either end of it; `least` goes by
        the lower one.
        """
        applied, metered = self.applied()
        if least and not metered:
            applied = min(applied, self.feed.least)
        lamp, known = self.shown(self.lamp), None
        if self.reference is not None:
            known = self.reference.rail(name, applied, lamp, self.lamp_watts)
        behind = self.lamp_watts > 0.0
        return source.rail_band(self.plan.source, applied, lamp, limit, known, behind=behind)

    @property
    def lamp_watts(self) -> float:
        """The lamp the unit stands behind just now, W; 0 for none."""
        return self.feed.lamp_watts

    def idle_is_set(self, name: str) -> bool:
        """Whether the idle of that trace is set from now on; asked again, it is not. BadInput where it shows none."""
        idle = self.plan.of_role(Role.IDLE)
        if all(trace.name != name for trace in idle):
            known = ", ".join(trace.name for trace in idle)
            fix = f"name one of {known}" if known else "no trace of this plan shows one"
            raise BadInput(name or "idle", "shows no idle", fix)
        self.idle_set ^= {name}
        return name in self.idle_set

    def bound(self, limit: Limit) -> float | None:
        """The bound of a high or low limit just now; None where nobody knows what to hold it against."""
        if limit.once_set and limit.trace not in self.idle_set:
            return None
        if limit.value is not None:
            return limit.value
        if limit.of_trace is not None:
            other = self.shown(self.traces[limit.of_trace.trace])
            return None if other is None else limit.of_trace.share * abs(other)
        applied = self.applied()[0]
        if limit.times_healthy is not None:
            amps = self.reference.amps(applied, self.lamp_watts) if self.reference else None
            return None if amps is None else limit.times_healthy * amps
        # Of a source that is as good as off a fraction would be less than noise.
        least = SOURCE_MEANS if limit.kind is LimitKind.HIGH else 0.0
        share = limit.of_source or 0.0
        if limit.over_healthy is not None:
            if self.lamp_watts == 0.0:
                return None
            share = most_on_lamp(self.reference, applied, self.lamp_watts, limit.over_healthy)
        return share * max(applied, least)

    def still_since(self) -> int:
        """Plan time since which nobody has turned anything."""
        return max(self.feed.steady_since or 0, self.feed.on_since or 0, self.touched or 0)

    def rests(self, limit: Limit) -> bool:
        """Whether a limit rests: until a reservoir has followed the source down, or while nothing tells its bound."""
        if limit.kind in (LimitKind.HIGH, LimitKind.LOW):
            return self.bound(limit) is None
        if limit.kind is LimitKind.RAIL_HIGH:
            return self.stored[limit.trace].beyond
        names = (limit.trace, limit.partner) if limit.kind is LimitKind.APART else ()
        return any(name in self.stored and self.stored[name].beyond for name in names)
