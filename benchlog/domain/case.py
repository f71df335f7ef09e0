"""A question about a reading with what follows from it at once: what every ruling looks at."""

import math
from dataclasses import dataclass

from benchlog.domain.capacitors import series_farads
from benchlog.domain.kind import CAPACITORS, JUNCTIONS, Kind
from benchlog.domain.lcr import PARALLEL
from benchlog.domain.measures import BREAKDOWN, ESR, HEATSINK, LEAKAGE, VOLTS, D
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
        _ask_first(asked)
        expected = asked.expectation
        unit = asked.function.unit if asked.function else asked.unit or (expected.unit if expected else "")
        kind = asked.kind
        if kind is None and unit == "ohm" and expected and expected.tolerance:
            kind = Kind.RESISTOR
        value = error = None
        if asked.reading is not None and not isinstance(asked.reading, Overload):
            value = _in_series(asked, _mean(asked.reading, asked.reversed, unit), unit)
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
    def ages(self) -> bool:
        """Whether both sides age alike in what was measured, so that the other side never clears it (rule 26)."""
        return self.kind is Kind.ELECTROLYTIC and self.asked.measure != VOLTS

    @property
    def is_junction(self) -> bool:
        """Whether what is measured conducts one way, as said or as the function tells."""
        through = self.kind in JUNCTIONS and self.asked.measure not in (HEATSINK, VOLTS, BREAKDOWN)
        return through or self.asked.function is Function.DIODE

    @property
    def wants_open(self) -> bool:
        """Whether an overload is good: nothing below a limit, or nothing at all, should conduct."""
        return self.asked.expectation is not None and math.isinf(self.asked.expectation.high)

    @property
    def taken_for_series(self) -> bool:
        """Whether the figure of the parallel model was turned into that of the series model."""
        return _is_parallel(self.asked, self.unit)

    @property
    def leads_count(self) -> bool:
        """Whether the leads add to a resistance: two wires, not nulled to 1 % of the part or better."""
        asked = self.asked
        if self.unit != "ohm" or asked.function in (Function.OHMS_4W, Function.ESR):
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


def _ask_first(asked: Question) -> None:
    """Raise `BadInput` for what a reading means nothing without."""
    if asked.dissipation is not None and asked.frequency is None:
        raise BadInput("D", "means nothing without a frequency", "say at how many hertz it was measured")
    if asked.reading is None:
        return
    if asked.measure in (D, ESR) and asked.frequency is None:
        problem = "means nothing without a frequency"
        raise BadInput(asked.measure.upper(), problem, "say at how many hertz it was measured")
    high = asked.expectation.high if asked.expectation is not None else math.inf
    above = isinstance(asked.reading, float) and asked.reading > high
    if asked.measure == LEAKAGE and asked.minutes is None and above:
        problem = "means nothing without its minutes"
        raise BadInput("leakage", problem, "say how long the voltage was on, as in 620u/2 for two minutes")


def _is_parallel(asked: Question, unit: str) -> bool:
    return unit == "F" and asked.model == PARALLEL and asked.dissipation is not None


def _in_series(asked: Question, value: float, unit: str) -> float:
    """A capacitance as the series model states it, which is what a part is marked with."""
    if not _is_parallel(asked, unit):
        return value
    return series_farads(value, asked.dissipation or 0.0)


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
