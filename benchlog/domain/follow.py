"""What must move when the source does: mains, lamp, raw rails, a supply's volts.

Equal figures are not yet a meter that stands still: one of 4000 counts shows 44.0 V for hours. One that stays
where it is while the source, and another one with it, moves by more than 5 % does stand still; or its clip
is off. No clock and no I/O.
"""

from benchlog.domain.guard import Guard
from benchlog.domain.plan import Mover
from benchlog.domain.plan_trace import Role
from benchlog.domain.trace import SECOND, Trace

FOLLOWS = (Role.MAINS, Role.LAMP, Role.RAIL, Role.SUPPLY_VOLTS)
MOVED = 0.05
"""The part by which the source, or another one, must have moved."""
STANDS = 0.01
"""What stays within this part of itself stands still."""
GRACE = 5.0
"""Seconds after its own last move by which source and others have come to rest as well."""
PATIENTLY = 3.0
"""Seconds, and three readings, for which it must have stood while the source had moved."""
READINGS = 3
AGREES = 0.25
"""A mains meter this near to what was told has followed, whenever it was told."""

DARK = 0.8
"""Share of the mains below which a unit that draws little leaves a large lamp dark, as it should."""

_MOVES = {Role.MAINS: 5.0, Role.LAMP: 0.5, Role.RAIL: 0.5, Role.SUPPLY_VOLTS: 0.3}
"""Volts below which a move may be noise."""
NOTHING = {Role.MAINS: 2.0, Role.LAMP: 0.5, Role.RAIL: 1.0, Role.SUPPLY_VOLTS: 0.5}
"""Volts below which there may be nothing to see yet, unless source and others stand well up."""
WELL_UP = {Role.MAINS: 40.0, Role.LAMP: 2.0, Role.RAIL: 3.0, Role.SUPPLY_VOLTS: 3.0}
_BAND = {
    Role.MAINS: 0.5,
    Role.LAMP: 0.05,
    Role.RAIL: 0.05,
    Role.OFFSET: 0.002,
    Role.IDLE: 0.001,
    Role.REGULATED: 0.05,
    Role.SINK: 0.5,
    Role.CAN: 0.5,
    Role.MIDPOINT: 0.05,
    Role.DROP: 0.01,
    Role.MAINS_AMPS: 0.005,
    Role.SUPPLY_VOLTS: 0.02,
    Role.SUPPLY_AMPS: 0.002,
}
"""What is no move at all, in the unit of the trace."""
SURELY_MOVES = {role: _BAND[role] for role in (Role.MAINS, Role.RAIL, Role.SUPPLY_VOLTS)}
"""By more than this such a trace moves as its unit comes on; a lamp may stay dark."""


def band(role: Role, value: float, resolution: float | None) -> float:
    """How far either way a trace may wander and still stand where it stood."""
    return max(STANDS * abs(value), _BAND.get(role, 0.0), 2.0 * (resolution or 0.0))


def moved(before: float, now: float, role: Role) -> bool:
    """Whether by more than 5 % of the larger, and by more than noise."""
    return abs(now - before) > max(MOVED * max(before, now), _MOVES[role])


class Follower:
    """One of them: where it stands, and how the source and the others stood when it came there."""

    __slots__ = (
        "_band",
        "_count",
        "_group",
        "_others",
        "_since",
        "_source",
        "_stood",
        "_stuck",
        "_target",
        "_until",
        "_value",
        "trace",
    )

    def __init__(self, group: "Follow", trace: Trace) -> None:
        self.trace = trace
        self._group = group
        self._value = 0.0
        self._band = 0.0
        self._until = 0
        """Plan time up to which source and others may still come to rest."""
        self._target = 0.0
        self._source = 0.0
        self._stood = 0.0
        self._others: tuple[float, ...] = ()
        """Their sizes; empty until they have come to rest."""
        self._since: int | None = None
        self._count = 0
        self._stuck = False

    def comes_to(self, value: float, resolution: float | None, t: int) -> None:
        """It stands elsewhere from now on."""
        self._value = value
        self._band = band(self.trace.plan.role, value, resolution)
        self._until = t + int(GRACE * SECOND)
        self._target = self._group.guard.feed.target
        self._others = ()
        self._since = None
        self._stuck = False

    def stuck(self, value: float, t: int) -> bool:
        """Take a reading of where it stood before; whether it should have moved by now."""
        group = self._group
        if not self._others:
            # Whoever is asked to turn the source has not turned it yet: this is how it stood before.
            if t >= self._until or group.guard.feed.target != self._target:
                self._source, self._others = group.source(self.trace), group.sizes()
            return False
        if not group.on:
            return self._stuck  # off, nothing need move, and nothing that stands is any better for it
        source = group.source(self.trace)
        if not moved(self._source, source, group.role):
            self._since = None
            self._stuck = False
            return False
        if self._since is None:
            self._since, self._count = t, 0
        self._count += 1
        if self._count < READINGS or t - self._since < PATIENTLY * SECOND:
            return False
        self._stood = source
        self._stuck = self._would_show(abs(value), source) and group.borne_out(
            self.trace, self._others, self._at_nothing
        )
        return self._stuck

    def sentence(self) -> str:
        """What it did not do, and why that may be."""
        plan = self.trace.plan
        return (
            f"{plan.name} did not follow: the source went from {self._source:.4g} to {self._stood:.4g} V, and it"
            f" stayed at {plan.shown(self._value)}; its meter stands still, or its clip is off"
        )

    @property
    def _at_nothing(self) -> bool:
        return abs(self._value) < NOTHING[self.trace.plan.role]

    def _would_show(self, size: float, source: float) -> bool:
        """Whether one that follows would have moved by more than its band."""
        group, plan = self._group, self.trace.plan
        if plan.role in (Role.RAIL, Role.SUPPLY_VOLTS) and source < self._source:
            return False  # its reservoirs may hold it up
        if self._at_nothing and source < WELL_UP[group.role]:
            return False
        least = 2.0 * self._band
        nothing = self._at_nothing and size < least
        if (
            nothing
            and plan.role is Role.LAMP
            and (group.bridged or source < DARK * group.guard.plan.source.mains)
        ):
            return False
        if not nothing and abs(source - self._source) / max(source, self._source) * size < least:
            return False
        if plan.role is Role.MAINS:
            return abs(size - source) > AGREES * source
        if plan.role is Role.RAIL and not group.metered and group.guard.plan.source.ratio:
            expected = group.guard.rail_band(plan.name)
            return not expected.low <= size <= expected.high
        return True


class Follow:
    """All followers of a plan, and the source they follow."""

    def __init__(self, guard: Guard) -> None:
        self.guard = guard
        self.role = Role.MAINS if guard.plan.source.moved_by is Mover.HAND else Role.SUPPLY_VOLTS
        """What stands for the source: by what its moves are measured."""
        self._traces = [trace for trace in guard.traces.values() if trace.plan.role in FOLLOWS]

    def of(self, name: str) -> Follower | None:
        """The follower of that name; None where it follows nothing."""
        trace = self.guard.traces[name]
        return Follower(self, trace) if trace in self._traces else None

    @property
    def on(self) -> bool:
        """Whether anything is fed; what was cut may stand for as long as it likes."""
        return self.guard.feed.on_since is not None

    @property
    def bridged(self) -> bool:
        """Whether the lamp was taken out for this stage: a meter across its socket has nothing to show."""
        return self.guard.plan.changes and self.guard.feed.lamp_watts == 0.0

    @property
    def metered(self) -> bool:
        """Whether a meter shows what is applied."""
        return self.guard.shown(self.guard.mains) is not None

    def source(self, seen_by: Trace) -> float:
        """Volts applied: as a meter shows them, for that meter itself as they were told."""
        guard = self.guard
        if seen_by is not guard.mains:
            shown = guard.shown(guard.mains)
            if shown is not None:
                return abs(shown)
        return guard.feed.told if guard.feed.on_since is not None else 0.0

    def sizes(self) -> tuple[float, ...]:
        """What all of them read now, without sign."""
        return tuple(trace.magnitude for trace in self._traces)

    def borne_out(self, who: Trace, before: tuple[float, ...], well_up: bool) -> bool:
        """Whether another one has moved with the source, or there is none to ask but a mains meter.

        A source that moves alone is a mains meter whose own clip is off, or a dial that was never turned.
        `well_up`: only one that stands well up now counts.
        """
        others = 0
        for trace, then in zip(self._traces, before, strict=True):
            role, now = trace.plan.role, trace.magnitude
            if trace is who or role is Role.MAINS:
                continue
            others += 1
            if moved(then, now, role) and not (well_up and now < WELL_UP[role]):
                return True
        return not others and self.metered and who is not self.guard.mains

    def others_moved(self, name: str, since: int) -> bool:
        """Whether any of them but `name` has moved since that plan time."""
        for trace in self._traces:
            if trace.plan.name == name or trace.value is None:
                continue
            then = trace.at(since)
            if then is not None and moved(abs(then), trace.magnitude, trace.plan.role):
                return True
        return False
