"""What a graph of a run shows beside its readings: lines, bands, limits, stages, notes. No Qt.

Times are plan seconds, values SI. Panels are named by their titles and stand in the order in which the lines
name them first.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Action, Limit, LimitKind
from benchlog.domain.plan_stage import StagePlan
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.quantity import show
from benchlog.domain.reading import Function
from benchlog.domain.reference import Reference
from benchlog.domain.source import rail_band


@dataclass(frozen=True, slots=True)
class TraceLine:
    """One trace: `side` is left, right or empty; `colour` an index into the theme's; `digit` the last worth showing."""

    name: str
    unit: str
    side: str
    panel: str
    colour: int
    digit: float


@dataclass(frozen=True, slots=True)
class Band:
    """Where something should be, from one time to another; without `to_t` up to now."""

    panel: str
    low: float
    high: float
    from_t: float
    to_t: float | None = None


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit as a line, and its words.

    `limits` are the limits of the plan it stands for, by their place there; `unarmed` says that none of them looks
    now, empty where one does; `unkept` that nobody can say any more when it looked; `brief` is its value alone.
    """

    panel: str
    value: float
    text: str
    limits: tuple[int, ...] = ()
    unarmed: str = ""
    unkept: bool = False
    brief: str = field(default="", compare=False)

    @property
    def looks(self) -> bool:
        """Whether it is known to look."""
        return not (self.unarmed or self.unkept)

    @property
    def said(self) -> tuple[str, ...]:
        """Its words, the longest first, for as much room as there is."""
        every = (f"{self.text}: {self.unarmed}" if self.unarmed else "", self.text, self.brief)
        return tuple(text for text in every if text)


@dataclass(frozen=True, slots=True)
class StageMark:
    """When a stage was reached, and its name."""

    t: float
    text: str


@dataclass(frozen=True, slots=True)
class Note:
    """Something that happened: `kind` is note, trip, off or warn."""

    t: float
    text: str
    kind: str


@dataclass(frozen=True, slots=True)
class Scene:
    """All of it."""

    lines: tuple[TraceLine, ...] = ()
    bands: tuple[Band, ...] = ()
    bounds: tuple[Bound, ...] = ()
    marks: tuple[StageMark, ...] = ()
    notes: tuple[Note, ...] = ()

    @property
    def panels(self) -> tuple[str, ...]:
        """The titles of the panels, top to bottom."""
        return tuple(dict.fromkeys(line.panel for line in self.lines))

    def of_panel(self, panel: str) -> tuple[TraceLine, ...]:
        """The lines of one panel."""
        return tuple(line for line in self.lines if line.panel == panel)


_GROUPS: tuple[tuple[str, tuple[Role, ...]], ...] = (
    ("rails", (Role.RAIL, Role.MIDPOINT, Role.REGULATED, Role.SUPPLY_VOLTS)),
    ("output offset", (Role.OFFSET,)),
    ("idle", (Role.IDLE,)),
    ("lamp and mains", (Role.LAMP, Role.MAINS)),
    ("safety resistors", (Role.DROP,)),
    ("mains current", (Role.MAINS_AMPS,)),
    ("temperature", (Role.SINK, Role.CAN)),
    ("supply current", (Role.SUPPLY_AMPS,)),
)
"""Panels from the top. The lamp says nothing but beside the mains it stands in; a state is no height."""

_NARROWER = {
    frozenset({Role.LAMP}): "lamp",
    frozenset({Role.MAINS}): "mains",
    frozenset({Role.REGULATED}): "regulated",
    frozenset({Role.SINK}): "heat sink",
    frozenset({Role.CAN}): "reservoir can",
    frozenset({Role.SUPPLY_VOLTS}): "supply volts",
}
"""Titles of panels where only these of their roles stand in the plan."""

_BOTH_WAYS = frozenset({Role.OFFSET, Role.IDLE, Role.DROP})
"""Read with either sign: the guard bounds their size, so their limits stand on both sides of nothing."""


def scene_of(plan: Plan) -> Scene:
    """The lines and constant limits of a plan."""
    lines: list[TraceLine] = []
    bounds: dict[Bound, tuple[int, ...]] = {}
    for title, roles in _GROUPS:
        traces = [trace for role in roles for trace in plan.of_role(role)]
        panel = _NARROWER.get(frozenset(trace.role for trace in traces), title)
        for colour, trace in enumerate(traces):
            digit = trace.role.digit
            lines.append(TraceLine(trace.name, trace.measures.unit, trace.side, panel, colour, digit))
            for at, limit in enumerate(plan.limit):
                for bound in _bounds_of(trace, limit, panel) if limit.trace == trace.name else ():
                    bounds[bound] = (*bounds.get(bound, ()), at)
    return Scene(
        lines=tuple(lines), bounds=tuple(replace(bound, limits=limits) for bound, limits in bounds.items())
    )


def of_the_past(scene: Scene) -> Scene:
    """The scene of a run that is over: when a limit was armed is not kept, so none is drawn as if it had looked."""
    bounds = (
        replace(bound, text=f"limit {bound.brief}", limits=(), unkept=True) if bound.brief else bound
        for bound in scene.bounds
    )
    return replace(scene, bounds=tuple(dict.fromkeys(bounds)))


def with_arming(bounds: Iterable[Bound], unarmed: Mapping[int, str]) -> tuple[Bound, ...]:
    """The same lines with what is said of limits that do not look now, by their place in the plan."""

    def said(bound: Bound) -> str:
        if not bound.limits or not all(at in unarmed for at in bound.limits):
            return ""
        # Of several the first to look counts; one that says when is before those that do not.
        return min((unarmed[at] for at in bound.limits), key=lambda text: not text.startswith("arms"))

    return tuple(replace(bound, unarmed=said(bound)) for bound in bounds)


def _bounds_of(trace: TracePlan, limit: Limit, panel: str) -> Iterator[Bound]:
    """The lines of one limit; none where it follows the source or another trace."""
    if limit.value is None or limit.kind not in (LimitKind.HIGH, LimitKind.LOW):
        return
    does = "trips" if limit.action is Action.TRIP else "warns"
    value = (
        limit.value
        if trace.role in _BOTH_WAYS or trace.measures is Function.TEMPERATURE
        else limit.value * trace.sign
    )
    high = limit.kind is LimitKind.HIGH
    values = (value, -value) if trace.role in _BOTH_WAYS else (value,)
    if trace.role in _BOTH_WAYS:
        where = "beyond" if high else "within"
    elif value < 0.0 and trace.measures is not Function.TEMPERATURE:
        where = "beyond" if high else "short of"
    else:
        where = "above" if high else "below"
    for one in values:
        shown = show(one, trace.measures.unit)
        yield Bound(panel, one, f"{does} {where} {shown}", brief=shown)


def bands_of_stage(
    plan: Plan,
    stage: StagePlan,
    from_t: float,
    to_t: float | None = None,
    lamp: float | None = None,
    reference: Reference | None = None,
) -> tuple[Band, ...]:
    """Where raw rails and lamp should stand in a stage, and what it waits for.

    `lamp` is what a meter shows across the lamp, None where none does; `reference` is the unit's good run, without
    which nobody knows the lamp's share. Offsets and idle are bounded from both sides or not drawn.
    """
    panels = {line.name: line.panel for line in scene_of(plan).lines}
    found: list[Band] = []
    if stage.fraction is not None and plan.source.ratio > 0.0:
        limits = {limit.trace: limit for limit in plan.limit if limit.kind is LimitKind.RAIL_LOW}
        watts, applied = (
            plan.fitted_at(plan.stage.index(stage)).lamp_watts,
            stage.fraction * plan.source.mains,
        )
        for trace in plan.of_role(Role.RAIL):
            limit = limits.get(trace.name)
            known = reference.rail(trace.name, applied, lamp, watts) if reference is not None else None
            band = rail_band(plan.source, applied, lamp, limit, known, behind=watts > 0.0)
            low, high = sorted((band.low * trace.sign, band.high * trace.sign))
            found.append(Band(panels[trace.name], low, high, from_t, to_t))
        found += [
            Band(panels[name], low, high, from_t, to_t)
            for name, low, high in _lamps_of(plan, applied, watts, reference)
        ]
    found += [
        Band(panels[wait.trace], wait.low, wait.high, from_t, to_t)
        for wait in stage.awaits
        if wait.low is not None and wait.high is not None and wait.trace in panels
    ]
    return tuple(dict.fromkeys(found))


def _lamps_of(
    plan: Plan, applied: float, watts: float, reference: Reference | None
) -> Iterator[tuple[str, float, float]]:
    """Name and band, V, of the lamp by the good run: its healthy volts, give or take what the first limit allows."""
    share = reference.lamp_share(applied, watts) if reference is not None and watts > 0.0 else None
    for trace in plan.of_role(Role.LAMP) if share is not None else ():
        rooms = [limit.over_healthy for limit in plan.limit if limit.trace == trace.name]
        room = min((one for one in rooms if one is not None), default=None)
        if room is not None and share is not None:
            yield trace.name, max(0.0, share - room) * applied, (share + room) * applied
