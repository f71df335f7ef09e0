"""A limit of a plan: how it bounds its trace, when it is armed, how long it must be broken.

These frozen records are its grammar. Defaults are bench habit (common practice, no source) and editable.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from benchlog.domain.plan_trace import FaultAt, Role, TracePlan
from benchlog.domain.reading import Function
from benchlog.textfile import key


class LimitKind(StrEnum):
    """How a limit bounds its trace."""

    HIGH = "high"
    LOW = "low"
    RAIL_LOW = "rail_low"
    RAIL_HIGH = "rail_high"
    APART = "apart"
    POLARITY = "polarity"
    SUPPLY = "supply"
    RUNAWAY = "runaway"
    RISE = "rise"


RESTS_WHILE_MOVING = frozenset(
    {
        LimitKind.LOW,
        LimitKind.RAIL_LOW,
        LimitKind.RAIL_HIGH,
        LimitKind.APART,
        LimitKind.RUNAWAY,
        LimitKind.RISE,
    }
)
"""Low limits, those that follow the source and slow rises rest while somebody turns it up."""


class Action(StrEnum):
    """What a broken limit does."""

    TRIP = "trip"
    WARN = "warn"


@dataclass(frozen=True, slots=True)
class Gate:
    """When a limit means anything: one of these traces past a level for some seconds."""

    any_of: tuple[str, ...] = key("traces, by name")
    above: float = key("level by magnitude", low=0.0)
    seconds: float = key("for how long", default=5.0, unit="s", low=0.0)
    stays: bool = key(
        "once it has held, the limit stays armed until the source is moved or off: an output that has woken",
        default=False,
    )

    def faults(self) -> Iterable[FaultAt]:
        """What does not fit together."""
        if not self.any_of:
            yield "any_of", "names no trace", "name at least one"


@dataclass(frozen=True, slots=True)
class OfTrace:
    """A bound that follows another trace."""

    trace: str = key("the other trace, by name")
    share: float = key("the bound as a share of what that one reads", low=0.0, high=10.0)


@dataclass(frozen=True, slots=True)
class Limit:
    """A bound on a trace, when it is armed, and how long it must be broken."""

    trace: str = key("the trace it bounds")
    kind: LimitKind = key("how it bounds")
    value: float | None = key("constant bound, in the trace's unit", default=None)
    of_source: float | None = key(
        "bound as a fraction of the voltage applied to lamp plus unit", default=None, low=0.0
    )
    of_trace: OfTrace | None = key("bound as a share of another trace", default=None)
    over_healthy: float | None = key(
        "for a lamp: above its healthy figure by this fraction of the voltage applied; about twice as much while"
        " only its wattage says what is healthy",
        default=None,
        low=0.0,
        high=1.0,
    )
    times_healthy: float | None = key(
        "for mains current: so many times what the unit's first good run drew; not judged before there is one",
        default=None,
        low=1.0,
        high=100.0,
    )
    partner: str = key("for `apart`: the other trace of the same kind", default="")
    window: float = key("for `rise`: over how long", default=60.0, unit="s", low=5.0, high=600.0)
    target: float | None = key("for `runaway` of idle: what it is set to", default=None, low=0.0)
    count: float | None = key(
        "for `runaway`: the meter's last digit, in the trace's unit; less is no rise", default=None, low=0.0
    )
    fraction: float | None = key(
        "fraction of the expected value, for `apart` of the larger one, for `rise` of what it rose from",
        default=None,
        low=0.0,
    )
    floor: float = key("such a fraction is never less than this", default=1.5, unit="V", low=0.0)
    persistence: float | None = key(
        "seconds it must stay broken; left out: by its kind", default=None, low=0.0
    )
    readings: int = key("readings in a row that must be broken; never one alone", default=2, low=2, high=100)
    after_on: float = key("armed this long after switching on", default=0.0, unit="s", low=0.0)
    after_steady: float | None = key(
        "armed this long after the source is steady; left out: by its kind", default=None, low=0.0
    )
    capacitance: float = key(
        "for `supply`: what its output charges; armed once that may be done", default=0.0, unit="F", low=0.0
    )
    once_set: bool = key("for idle: armed only once it was marked as set in this visit", default=False)
    gate: Gate | None = key("armed only while this holds", default=None)
    lamp_watts: float | None = key(
        "armed only behind the lamp of so many watts, 0 for none; left out: behind any",
        default=None,
        unit="W",
        low=0.0,
    )
    action: Action = key("trip or warn", default=Action.TRIP)
    why: str = key("what it protects, added to the sentence of a trip", default="")

    @property
    def seconds(self) -> float:
        """Persistence in plan seconds."""
        return _PERSISTENCE[self.kind] if self.persistence is None else self.persistence

    def faults(self) -> Iterable[FaultAt]:
        """What does not fit together."""
        yield from self._bound_faults()
        if self.kind is LimitKind.APART and not self.partner:
            yield "partner", "is missing", "name the other one"
        if self.kind is LimitKind.APART and self.partner == self.trace:
            yield "partner", "is the trace itself", "name the other one"
        if self.of_trace is not None and self.of_trace.trace == self.trace:
            yield "of_trace.trace", "is the trace itself", "name the other one"
        of_kinds = (
            ("partner", bool(self.partner), LimitKind.APART),
            ("target", self.target is not None, LimitKind.RUNAWAY),
            ("count", self.count is not None, LimitKind.RUNAWAY),
            ("capacitance", self.capacitance > 0.0, LimitKind.SUPPLY),
        )
        for name, given, kind in of_kinds:
            if given and self.kind is not kind:
                yield name, f"means nothing for a limit of kind {self.kind}", "leave it out"

    def _bound_faults(self) -> Iterable[FaultAt]:
        given = [name for name in _BOUNDS if getattr(self, name) is not None]
        may = _BOUNDS_OF.get(self.kind, ())
        for name in given:
            if name in _BOUNDS[:-1] and name not in may:
                yield name, f"means nothing for a limit of kind {self.kind}", "leave it out"
        if may and sum(name in may for name in given) != 1:
            yield "value", "needs exactly one bound", f"give one of {', '.join(may)}"

    @property
    def rests_while_moving(self) -> bool:
        """Whether it rests while somebody turns the source: low limits, slow rises and what follows the source."""
        return self.kind in RESTS_WHILE_MOVING or self.of_trace is not None

    @property
    def others(self) -> tuple[str, ...]:
        """The traces it is judged by beside its own."""
        return tuple(filter(None, (self.partner, self.of_trace.trace if self.of_trace else "")))


_BOUNDS = ("value", "of_source", "of_trace", "over_healthy", "times_healthy", "fraction")
_BOUNDS_OF = {
    LimitKind.HIGH: _BOUNDS[:5],
    LimitKind.LOW: _BOUNDS[:3],
    LimitKind.RISE: ("value", "fraction"),
}
"""What may bound a limit of a kind; exactly one of them must."""

_PERSISTENCE = {
    LimitKind.HIGH: 0.0,
    LimitKind.LOW: 2.0,
    LimitKind.RAIL_LOW: 2.0,
    LimitKind.RAIL_HIGH: 1.0,
    LimitKind.APART: 2.0,
    LimitKind.POLARITY: 0.0,
    LimitKind.SUPPLY: 0.5,
    LimitKind.RUNAWAY: 0.0,
    LimitKind.RISE: 0.0,
}


BY_SOURCE = (LimitKind.RAIL_LOW, LimitKind.RAIL_HIGH)


def misfits(limit: Limit, trace: TracePlan) -> Iterable[FaultAt]:
    """What this kind of limit cannot mean on that trace."""
    if limit.kind is LimitKind.SUPPLY and trace.measures is not Function.STATE:
        yield "kind", f"needs a supply's state, which {trace.name} is not", "name its supply_state trace"
    if limit.kind in BY_SOURCE and trace.role is not Role.RAIL:
        yield "kind", f"is for raw rails, which {trace.name} is not", "use low and high"
    if limit.kind is LimitKind.RUNAWAY and trace.role not in (Role.IDLE, Role.SINK):
        yield "kind", f"is for idle and sink, which {trace.name} is not", "use high"
    if limit.kind is LimitKind.RUNAWAY and trace.role is Role.IDLE and not limit.target:
        yield "target", "is missing", f"give what {trace.name} is set to, such as 0.0165"
    for name, given, role, called in (
        ("over_healthy", limit.over_healthy is not None, Role.LAMP, "a lamp"),
        ("times_healthy", limit.times_healthy is not None, Role.MAINS_AMPS, "mains current"),
        ("once_set", limit.once_set, Role.IDLE, "idle"),
    ):
        if given and trace.role is not role:
            yield name, f"is for {called}, which {trace.name} is not", "leave it out"
    signed = trace.measures is Function.TEMPERATURE and limit.kind is not LimitKind.RISE
    if limit.value is not None and limit.value < 0.0 and not signed:
        yield "value", f"is negative, but {trace.name} is bounded by its size", "leave the minus out"
