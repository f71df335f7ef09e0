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


RESTS_WHILE_MOVING = frozenset(
    {LimitKind.LOW, LimitKind.RAIL_LOW, LimitKind.RAIL_HIGH, LimitKind.APART, LimitKind.RUNAWAY}
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

    def faults(self) -> Iterable[FaultAt]:
        """What does not fit together."""
        if not self.any_of:
            yield "any_of", "names no trace", "name at least one"


@dataclass(frozen=True, slots=True)
class Limit:
    """A bound on a trace, when it is armed, and how long it must be broken."""

    trace: str = key("the trace it bounds")
    kind: LimitKind = key("how it bounds")
    value: float | None = key("constant bound, in the trace's unit", default=None)
    of_source: float | None = key(
        "bound as a fraction of the voltage applied to lamp plus unit", default=None, low=0.0
    )
    partner: str = key("the other rail, for `apart`", default="")
    target: float | None = key("for `runaway` of idle: what it is set to", default=None, low=0.0)
    count: float | None = key(
        "for `runaway`: the meter's last digit, in the trace's unit; less is no rise", default=None, low=0.0
    )
    fraction: float | None = key("band: fraction of the expected value, or of the larger rail", default=None)
    floor: float = key("band: never narrower than this", default=1.5, unit="V", low=0.0)
    persistence: float | None = key(
        "seconds it must stay broken; left out: by its kind", default=None, low=0.0
    )
    readings: int = key("readings in a row that must be broken; never one alone", default=2, low=2, high=100)
    after_on: float = key("armed this long after switching on", default=0.0, unit="s", low=0.0)
    after_steady: float | None = key(
        "armed this long after the source is steady; left out: by its kind", default=None, low=0.0
    )
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
        bounds = (self.value is not None) + (self.of_source is not None)
        if self.kind in (LimitKind.HIGH, LimitKind.LOW) and bounds != 1:
            yield "value", "needs exactly one bound", "give either value or of_source"
        if self.kind not in (LimitKind.HIGH, LimitKind.LOW) and bounds:
            yield "value", f"means nothing for a limit of kind {self.kind}", "leave it out"
        if self.kind is LimitKind.APART and not self.partner:
            yield "partner", "is missing", "name the other rail"
        if self.kind is LimitKind.APART and self.partner == self.trace:
            yield "partner", "is the trace itself", "name the other rail"
        if self.kind is not LimitKind.APART and self.partner:
            yield "partner", f"means nothing for a limit of kind {self.kind}", "leave it out"
        for name, given in (("target", self.target), ("count", self.count)):
            if given is not None and self.kind is not LimitKind.RUNAWAY:
                yield name, f"means nothing for a limit of kind {self.kind}", "leave it out"


_PERSISTENCE = {
    LimitKind.HIGH: 0.0,
    LimitKind.LOW: 2.0,
    LimitKind.RAIL_LOW: 2.0,
    LimitKind.RAIL_HIGH: 1.0,
    LimitKind.APART: 2.0,
    LimitKind.POLARITY: 0.0,
    LimitKind.SUPPLY: 0.5,
    LimitKind.RUNAWAY: 0.0,
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
    if limit.value is not None and limit.value < 0.0 and trace.role is not Role.SINK:
        yield "value", f"is negative, but {trace.name} is bounded by its size", "leave the minus out"
