"""A figure that is set by a trimmer: its band, what the idle current of a drop is, and how far off it stands.

The band is judged on what the meter reads, in volts, as sheets write it; the current is only told beside it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from benchlog.domain.plan_trace import FaultAt, Role, TracePlan
from benchlog.domain.quantity import show
from benchlog.textfile import key

BEHIND_LAMP = "not yet: behind a lamp"
"""What a figure is behind a lamp: the rails sag, and it means nothing (rule 24)."""
HOUR = 3600.0
FINE = 0.01
"""Share of a resistor by which a reading on two nulled wires must be resolved to count (rule 25)."""


class Across(StrEnum):
    """What an idle drop is measured across: one emitter resistor, or both of a pair end to end."""

    ONE = "one"
    BOTH = "both"


@dataclass(frozen=True, slots=True)
class Trim:
    """One figure that is set at a stage."""

    trace: str = key("the trace that shows it")
    low: float = key("the lower end of its band, in the trace's unit")
    high: float = key("the upper end of its band, in the trace's unit")
    hold: float = key("how long it must stay in its band", default=10.0, unit="s", low=0.0, high=600.0)
    ohms: float = key(
        "for an idle drop: the resistor it is measured across, as the sheet has it",
        default=0.0,
        unit="ohm",
        low=0.0,
    )
    across: Across = key(
        "for an idle drop: measured across one resistor, or across both of a pair", default=Across.ONE
    )
    part: str = key(
        "for an idle drop: the resistor's designator, whose reading may stand for the sheet's", default=""
    )

    def faults(self) -> Iterable[FaultAt]:
        """What does not fit together."""
        if self.low >= self.high:
            yield "low", "is not below high, so that nothing can lie between them", "exchange them"
        if self.part and not self.ohms:
            yield "ohms", "is missing", f"give what the sheet says of {self.part}"

    def misfits(self, trace: TracePlan) -> Iterable[FaultAt]:
        """What it says of that trace, but cannot mean."""
        if (self.ohms or self.part) and trace.role is not Role.IDLE:
            yield "ohms", f"is for an idle drop, which {trace.name} is not", "leave it out"

    @property
    def middle(self) -> float:
        """What it is set to."""
        return (self.low + self.high) / 2.0

    def band_of(self, trace: TracePlan) -> str:
        """Its band for a person: `15.50 to 17.50 mV`."""
        low, high = trace.shown(self.low), trace.shown(self.high)
        number, _, unit = low.rpartition(" ")
        return f"{number} to {high}" if high.endswith(f" {unit}") and number else f"{low} to {high}"


@dataclass(frozen=True, slots=True)
class ResistorRead:
    """What was read of the resistor: ohms, on four wires or with nulled leads, resolved how finely, how long ago, s."""

    designator: str
    ohms: float
    four_wire: bool = False
    nulled: bool = False
    resolution: float | None = None
    age: float = 0.0

    @property
    def counts(self) -> bool:
        """Whether it is better than the sheet (rule 25): four wires, or nulled within the hour and fine enough."""
        fine = self.resolution is not None and self.ohms > 0.0 and self.resolution <= FINE * self.ohms
        return self.ohms > 0.0 and (self.four_wire or (self.nulled and fine and self.age <= HOUR))

    @property
    def how(self) -> str:
        """In which way."""
        return "read on four wires" if self.four_wire else "read with nulled leads"


def resistor_of(trim: Trim, read: Iterable[ResistorRead]) -> tuple[float, str]:
    """The ohms an idle current is reckoned with, and where they are from; 0 where nobody knows."""
    for one in read:
        if trim.part and one.designator.casefold() == trim.part.casefold() and one.counts:
            return one.ohms, one.how
    return trim.ohms, "sheet" if trim.ohms else ""


def current_in_words(trim: Trim, volts: float, read: Iterable[ResistorRead] = ()) -> str:
    """The idle current of a drop, with what it was reckoned from; empty where no resistor is known.

    I = U / R across one resistor, U / 2R across both of a pair.
    """
    ohms, source = resistor_of(trim, read)
    if ohms <= 0.0:
        return ""
    count = 2 if trim.across is Across.BOTH else 1
    return (
        f"{show(volts / (count * ohms), 'A', digits=3)} across {trim.across} {show(ohms, 'ohm')} ({source})"
    )


class Stand(StrEnum):
    """Where a figure stands to its band."""

    LOW = "low"
    WITHIN = "in band"
    HIGH = "high"
    LOST = "no reading"


@dataclass(frozen=True, slots=True)
class Homing:
    """How far a figure is from its band: `distance` 0 within, else up to 1 either way, finest close to it.

    `within` is where it stands in its band, from -1 at the lower end to 1 at the upper.
    """

    stand: Stand
    distance: float = 0.0
    within: float = 0.0


def homing(trim: Trim, value: float | None) -> Homing:
    """Where a value stands; None is one that is lost, late or not believed."""
    if value is None:
        return Homing(Stand.LOST)
    if trim.low <= value <= trim.high:
        return Homing(Stand.WITHIN, within=2.0 * (value - trim.middle) / (trim.high - trim.low))
    edge = trim.high if value > trim.high else trim.low
    # Four half-widths beyond its edge is half way to the end of the scale: the ear wants the last bit fine.
    beyond = (value - edge) / (2.0 * (trim.high - trim.low))
    distance = beyond / (1.0 + abs(beyond))
    return Homing(Stand.HIGH if distance > 0.0 else Stand.LOW, distance)
