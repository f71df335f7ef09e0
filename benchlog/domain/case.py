"""A question about a reading with what follows from it at once: what every ruling looks at."""

import math
from dataclasses import dataclass

from benchlog.domain.kind import CAPACITORS, JUNCTIONS, Kind
from benchlog.domain.quantity import Overload, quoted, show, symbol
from benchlog.domain.reading import Function
from benchlog.domain.standing import MIRROR_WITHIN, NODE_WITHIN, Side, Standing, agrees, leads_agree, stand
from benchlog.domain.verdict import Question, Verdict
from benchlog.errors import BadInput

NULLED_RESOLUTION = 0.01
"""Nulled leads do not count where the last digit is this share of the part or less (common practice, no source)."""

_PASSIVE = frozenset({"ohm", "F", "H"})


Finding = tuple[Verdict, str]
"""A verdict with its sentence, without the full stop."""


@dataclass(frozen=True, slots=True)
class Case:
    """A question with what follows from it at once.

    Attributes:
        asked: the question.
        kind: of the part, as said or as its expectation tells.
        unit: of the reading.
        value: in SI, the mean of both lead directions where they agree; None for an overload or no contact.
        error: the meter's half-width at that value; None where it is not known.
        standing: beside its limits; None without a value or without an expectation.
        on_board: whether other parts on the board can bear on it.
    """

    asked: Question
    kind: Kind | None
    unit: str
    value: float | None
    error: float | None
    standing: Standing | None
    on_board: bool

    @classmethod
    def of(cls, asked: Question) -> "Case":
        """The case of a question; `BadInput` where something must be asked before it can be judged."""
        for reading in (asked.reading, asked.mirror, asked.reversed):
            if isinstance(reading, float | int) and not math.isfinite(reading):
                raise ValueError(f"{reading} is no reading")  # else it would lie inside every limit
        if asked.dissipation is not None and asked.frequency is None:
            raise BadInput("D", "means nothing without a frequency", "say at how many hertz it was measured")
        expected = asked.expectation
        unit = asked.function.unit if asked.function else asked.unit or (expected.unit if expected else "")
        kind = asked.kind
        if kind is None and unit == "ohm" and expected and expected.tolerance:
            kind = Kind.RESISTOR
        value = error = None
        if asked.reading is not None and not isinstance(asked.reading, Overload):
            value = _mean(asked.reading, asked.reversed, unit)
            error = _error(asked, value, unit)
        standing = None
        if expected and value is not None:
            standing = stand(value, expected.low, expected.high, error, asked.rule)
        passive = unit in _PASSIVE or asked.function is Function.DIODE
        passive = passive or (asked.function is None and kind in JUNCTIONS)
        return cls(asked, kind, unit, value, error, standing, asked.in_circuit and passive)

    @property
    def low(self) -> float:
        """The lower limit; below everything where nobody knows."""
        return self.asked.expectation.low if self.asked.expectation else -math.inf

    @property
    def high(self) -> float:
        """The upper limit; above everything where nobody knows."""
        return self.asked.expectation.high if self.asked.expectation else math.inf

    @property
    def side(self) -> Side | None:
        """On which side of its limits the value lies; None where there are none."""
        return self.standing.side if self.standing else None

    @property
    def is_capacitor(self) -> bool:
        """Whether it is a capacitor, as said or as its unit tells."""
        return self.kind in CAPACITORS or self.unit == "F"

    @property
    def is_junction(self) -> bool:
        """Whether it conducts one way, as said or as the function tells."""
        return self.kind in JUNCTIONS or self.asked.function is Function.DIODE

    @property
    def leads_count(self) -> bool:
        """Whether the leads add to a resistance: two wires, not nulled to 1 % of the part or better."""
        asked = self.asked
        if self.unit != "ohm" or asked.function is Function.OHMS_4W:
            return False
        nominal = asked.expectation.nominal if asked.expectation else None
        finest = NULLED_RESOLUTION * abs(nominal or self.high)
        return not (asked.nulled and asked.resolution is not None and asked.resolution <= finest)

    @property
    def as_mirror(self) -> bool | None:
        """Whether the other side reads the same; None where it was not read, or not in the same way."""
        asked = self.asked
        if asked.reading is None or asked.mirror is None or not asked.mirror_alike:
            return None
        return agrees(
            asked.reading, asked.mirror, NODE_WITHIN if asked.node_to_node else MIRROR_WITHIN, self.unit
        )

    @property
    def both_ways(self) -> bool | None:
        """Whether both lead directions read the same; None where not both were read."""
        one, other = self.asked.reading, self.asked.reversed
        if one is None or other is None:
            return None
        if isinstance(one, Overload) or isinstance(other, Overload):
            return isinstance(one, Overload) and isinstance(other, Overload)
        return leads_agree(one, other)

    def show(self, value: float | Overload) -> str:
        """A value as it stands in a sentence."""
        return "OL" if isinstance(value, Overload) else show(value, self.unit, digits=5)

    def show_width(self, width: float | None) -> str:
        """An error or an uncertainty: three digits are more than it is known to."""
        return show(width or 0.0, self.unit, digits=3)


def _mean(forward: float, back: float | Overload | None, unit: str) -> float:
    """The mean of both lead directions of a resistance where they agree, else the reading itself."""
    if unit != "ohm" or back is None or isinstance(back, Overload) or not leads_agree(forward, back):
        return forward
    return (forward + back) / 2


def _error(asked: Question, value: float, unit: str) -> float | None:
    """The meter's half-width at a value; `BadInput` where it is stated in another unit."""
    meter = asked.meter_error
    if meter is None:
        return None
    if meter.unit and unit and meter.unit != unit:
        problem = f"is in {symbol(meter.unit)}, and the reading in {symbol(unit)}"
        raise BadInput(quoted(meter.text), problem, "give the error of the range in use")
    return meter.half_width(value, asked.resolution)
