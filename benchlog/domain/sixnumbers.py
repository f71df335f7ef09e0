"""Six numbers that a plan is made from, and which of its points the meters at hand are clipped to."""

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from benchlog.domain.plan_trace import MAINS_SIDE, Role, TracePlan
from benchlog.domain.reading import Function
from benchlog.errors import BadInput, Fault

DROP = 0.8
"""Volts lost in a rectifier that is loaded; part of the rail's ratio to the mains."""
BOUNDS = {
    "mains": (1.0, 500.0, "V"),
    "rail": (1.0, 500.0, "V"),
    "idle": (1e-4, 10.0, "V"),
    "across": (1e-3, 1e4, "ohm"),
    "lamp_watts": (0.0, 2000.0, "W"),
}
"""The least and the most that each number can be, and its unit."""
_RAIL = re.compile(r"\s*(\+/-|\+-|±|\+)?\s*(\d+(?:[.,]\d+)?)\s*V?\s*")
_SIDES = ((" L", "left"), (" R", "right"))


@dataclass(frozen=True, slots=True)
class MeterAtHand:
    """A meter of the bench: its job, the one function it is set to if any, and what it may hang on.

    `mains_side`: its link is isolated and its input rated for the mains. `handheld`: it takes longer on AC.
    """

    job: str
    function: Function | None = None
    mains_side: bool = False
    handheld: bool = False


@dataclass(frozen=True, slots=True)
class SixNumbers:
    """What a person knows of a unit before it is first switched on.

    Attributes:
        mains: volts at the wall.
        rail: volts of a raw rail at full mains, by magnitude.
        paired: whether there is a minus rail as well.
        channels: one or two.
        idle: volts of idle across `across`.
        across: ohms the idle is measured across.
        lamp_watts: the series lamp; 0 for none.
        meters: those of the bench, in the order they are to be used.
    """

    mains: float
    rail: float
    paired: bool
    channels: int
    idle: float
    across: float
    lamp_watts: float
    meters: tuple[MeterAtHand, ...]

    @property
    def ratio(self) -> float:
        """Raw rail volts for each volt left to the unit, before the rectifier's drop."""
        return round((self.rail + DROP) / self.mains, 4)

    @property
    def idle_amps(self) -> float:
        """Idle current of one channel, A."""
        return self.idle / self.across

    def faults(self) -> Iterator[Fault]:
        """Every number that cannot be, by its name."""
        for name, (low, high, unit) in BOUNDS.items():
            value = getattr(self, name)
            if not (math.isfinite(value) and low <= value <= high):
                yield Fault(name, f"is {value:g} {unit}", f"between {low:g} and {high:g} {unit}")
        if self.channels not in (1, 2):
            yield Fault("channels", f"is {self.channels}", "1 or 2")
        if not self.meters:
            yield Fault("meters", "there is none, and eyes alone cut nothing", "clip one across the lamp")

    def check(self) -> None:
        """BadInput names every number that cannot be."""
        if faults := tuple(self.faults()):
            raise BadInput.of(faults)


def read_rail(text: str) -> tuple[float, bool]:
    """Volts and whether there are two rails, of `+/-44` or `+35`; BadInput where the sign is missing."""
    found = _RAIL.fullmatch(text)
    if found is None or found[1] is None:
        raise BadInput(
            "rail", f"{text!r} says not which rails there are", "write +/-44, or +35 for a single one"
        )
    return float(found[2].replace(",", ".")), found[1] != "+"


def points(six: SixNumbers, first: Sequence[TracePlan] = ()) -> list[TracePlan]:
    """The points worth a meter on a unit fed from the mains, the most telling first.

    `first` comes before all but the lamp. With one meter that is the lamp, and an idle drop where there is none.
    """
    rails = [TracePlan(name="+B", role=Role.RAIL)]
    if six.paired:
        rails.append(TracePlan(name="-B", role=Role.RAIL, sign=-1))
    if not six.paired:
        rails += sided(six, "midpoint", Role.MIDPOINT)
    idle, offset = sided(six, "idle", Role.IDLE), sided(six, "offset", Role.OFFSET)
    last = [
        TracePlan(name="mains", role=Role.MAINS),
        TracePlan(name="mains current", role=Role.MAINS_AMPS),
        *[replace(trace, critical=False) for trace in sided(six, "sink", Role.SINK)],
        TracePlan(name="can", role=Role.CAN, critical=False),
    ]
    if six.lamp_watts > 0.0:
        return [TracePlan(name="lamp", role=Role.LAMP), *first, *rails, *idle, *offset, *last]
    return [*first, idle[0], *rails, *idle[1:], *offset, *last]


def sided(six: SixNumbers, name: str, role: Role) -> list[TracePlan]:
    """One trace a channel."""
    if six.channels == 1:
        return [TracePlan(name=name, role=role)]
    return [TracePlan(name=name + letter, role=role, side=side) for letter, side in _SIDES]


def clip(wanted: Iterable[TracePlan], meters: Sequence[MeterAtHand]) -> tuple[TracePlan, ...]:
    """The points that get a meter: one of the point's own name, else the first that can read it."""
    free, found = list(meters), []
    wanted = list(wanted)
    named = {trace.name for trace in wanted}
    for trace in wanted:
        fits = [meter for meter in free if _reads(meter, trace)]
        own = [meter for meter in fits if meter.job == trace.name]
        others = [meter for meter in fits if meter.job not in named]
        # A meter that bears another wanted point's name is kept for that one.
        for meter in (own or others)[:1]:
            free.remove(meter)
            found.append(replace(trace, meter="" if meter.job == trace.name else meter.job))
    return tuple(found)


def _reads(meter: MeterAtHand, trace: TracePlan) -> bool:
    on_mains = trace.role in MAINS_SIDE
    # Amps and degrees want a probe of their own: nobody leaves a meter on them by chance.
    fits = (
        (trace.measures,) if trace.role in (Role.MAINS_AMPS, Role.SINK, Role.CAN) else (None, trace.measures)
    )
    return meter.function in fits and (meter.mains_side or not on_mains)
