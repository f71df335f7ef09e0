"""What the guard knows just now of a unit and its source: what its limits are judged by."""

from benchlog.domain import runaway, source
from benchlog.domain.plan import Mover, Plan
from benchlog.domain.plan_limit import Limit, LimitKind
from benchlog.domain.plan_trace import Role
from benchlog.domain.trace import Trace


class Situation:
    """The traces of one plan with their last good readings, the source, and what it follows from them."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
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
        behind = self.feed.lamp_watts > 0.0
        return source.rail_band(self.plan.source, applied, self.shown(self.lamp), limit, behind=behind)

    def rests(self, limit: Limit) -> bool:
        """Whether a limit that follows the source rests until a reservoir has followed it down."""
        if limit.kind is LimitKind.RAIL_HIGH:
            return self.stored[limit.trace].beyond
        names = (limit.trace, limit.partner) if limit.kind is LimitKind.APART else ()
        return any(name in self.stored and self.stored[name].beyond for name in names)
