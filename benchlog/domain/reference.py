"""What a sound run of a unit has shown: what its next one is held against, in place of a table.

A rectifier draws its current in peaks, so that nobody can calculate what a unit leaves behind a lamp: the first
good run of this unit, on the same source, tells. No clock and no I/O.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise

from benchlog.domain.plan import Plan
from benchlog.domain.plan_trace import Role

HEALTHY_LAMP = ((40.0, 0.37), (60.0, 0.21), (100.0, 0.10), (150.0, 0.06))
"""Lamp watts and the share of the applied voltage across it behind which a sound unit idles (calculated)."""
LAMP_MOST = 0.60
"""The share of the applied voltage across a lamp that is a fault whatever is healthy."""
ONLY_THE_TABLE = 0.25 / 0.12
"""So many times the room above the healthy share while only the lamp's watts say what is healthy."""
NEAR = 0.15
"""What was read at a stage stands for a source no further from it than this share of it."""
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


@dataclass(frozen=True, slots=True)
class Stood:
    """One stage of the good run, at the end of its dwell.

    Attributes:
        applied: volts applied to lamp plus unit.
        lamp_watts: the lamp it stood behind; 0 for none.
        lamp: volts across that lamp; None where no meter showed them.
        amps: mains current, A; None where no meter showed it.
        rails: volts of each raw rail by the name of its trace, by magnitude.
    """

    applied: float
    lamp_watts: float = 0.0
    lamp: float | None = None
    amps: float | None = None
    rails: dict[str, float] = field(default_factory=dict)

    @property
    def left(self) -> float | None:
        """Volts left to the unit; None where nobody knows."""
        if self.lamp_watts == 0.0:
            return self.applied
        return None if self.lamp is None else self.applied - self.lamp


@dataclass(frozen=True, slots=True)
class Reference:
    """The good run: its day as an ISO date, and how it stood at its stages, lowest first.

    `chosen` where a person made it the reference, not the first that went through.
    """

    day: str
    stood: tuple[Stood, ...]
    chosen: bool = False

    @property
    def called(self) -> str:
        """How it is named to a person."""
        day = date.fromisoformat(self.day)
        named = f"the run of {day.day} {_MONTHS[day.month - 1]} {day.year}"
        return f"your reference, {named}" if self.chosen else named

    def rail(self, name: str, applied: float, lamp: float | None, watts: float) -> float | None:
        """What the rail of that name reads on so many volts, by magnitude; None where the run cannot tell.

        Held against what is left to the unit where both runs know it: what the unit draws is the lamp's to judge.
        """
        behind = [one for one in self.stood if one.lamp_watts == watts and name in one.rails]
        if watts == 0.0 or lamp is not None:
            lefts = [(one.left, one) for one in behind if one.left is not None]
            return _between([(left, one.rails[name]) for left, one in lefts], applied - (lamp or 0.0))
        return _between([(one.applied, one.rails[name]) for one in behind], applied)

    def lamp_share(self, applied: float, watts: float) -> float | None:
        """The share of the applied volts across a lamp of these watts; None where the run cannot tell."""
        known = [
            (one.applied, one.lamp / one.applied)
            for one in self.stood
            if one.lamp_watts == watts and one.lamp is not None
        ]
        return _between(known, applied, in_proportion=False)

    def amps(self, applied: float, watts: float) -> float | None:
        """The mains current on so many volts, A; None where the run cannot tell."""
        known = [
            (one.applied, one.amps) for one in self.stood if one.lamp_watts == watts and one.amps is not None
        ]
        return _between(known, applied)


def _between(known: Sequence[tuple[float, float]], x: float, *, in_proportion: bool = True) -> float | None:
    """The line through the points on either side; near one end that end's value, or in proportion to it."""
    points = sorted(known)
    for (x0, y0), (x1, y1) in pairwise(points):
        if x0 <= x <= x1 and x1 > x0:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    for x0, y0 in points[:1] + points[-1:]:
        if abs(x - x0) <= NEAR * x0:
            return y0 * x / x0 if in_proportion else y0
    return None


def table_share(watts: float) -> float | None:
    """What a lamp's watts say of its healthy share; None where they say nothing."""
    return next((share for table, share in reversed(HEALTHY_LAMP) if table <= watts), None)


def most_on_lamp(reference: Reference | None, applied: float, watts: float, room: float) -> float:
    """The share of the applied volts that may stand across a lamp, `room` above its healthy share."""
    healthy = reference.lamp_share(applied, watts) if reference is not None else None
    if healthy is None:
        healthy, room = table_share(watts), room * ONLY_THE_TABLE
    return min(LAMP_MOST, healthy + room) if healthy is not None else LAMP_MOST


def of_run(plan: Plan, day: str, stages: Mapping[int, Mapping[str, float]]) -> Reference | None:
    """What a good run shows: by stage of its plan what each trace read at the end; None where nothing is told.

    A stage whose source nobody metered stood where it was told to.
    """
    names = {role: [trace.name for trace in plan.of_role(role)] for role in Role}
    stood = []
    for index, read in sorted(stages.items()):
        stage = plan.stage[index]
        told = stage.volts if stage.fraction is None else stage.fraction * plan.source.mains
        applied = abs(_first(read, names[Role.MAINS]) or told or 0.0)
        rails = {name: abs(read[name]) for name in names[Role.RAIL] if name in read}
        lamp, amps = _first(read, names[Role.LAMP]), _first(read, names[Role.MAINS_AMPS])
        if applied > 0.0 and (rails or lamp is not None or amps is not None):
            stood.append(Stood(applied, plan.fitted_at(index).lamp_watts, lamp, amps, rails))
    return Reference(day, tuple(sorted(stood, key=lambda one: one.applied))) if stood else None


def _first(read: Mapping[str, float], names: Sequence[str]) -> float | None:
    return next((abs(read[name]) for name in names if name in read), None)


def same_source(plan: Plan, other: Plan) -> bool:
    """Whether what the one has shown may be held against the other: one chain, a lamp of both, one mains."""
    one, two = plan.source, other.source
    near = abs(one.mains - two.mains) <= NEAR * max(one.mains, two.mains)
    return one.chain == two.chain and near and not _lamps(plan).isdisjoint(_lamps(other))


def _lamps(plan: Plan) -> set[float]:
    return {plan.fitted_at(index).lamp_watts for index in range(len(plan.stage))}
