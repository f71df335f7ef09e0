"""From the records of a part to the question its reading asks, for a round with a window and one without."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from benchlog.domain.accuracy import MeterError
from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.kind import CAPACITORS
from benchlog.domain.measures import BREAKDOWN, VOLTS, D, Measure
from benchlog.domain.quantity import Overload, show
from benchlog.domain.reading import Function, Outcome
from benchlog.domain.rulings_reading import leads_alone
from benchlog.domain.settle import FLOOR
from benchlog.domain.standing import idle_drops_agree
from benchlog.domain.typed import lands_near
from benchlog.domain.unit import Conditions, Part, PartReading
from benchlog.domain.usual import rated_volts, usual_limits, zener_volts
from benchlog.domain.verdict import Question

AGAIN = 0.1
"""How far two readings of one contact may lie apart, as a fraction (bench habit, no source)."""
AIR_VOLTS = 5e-3
"""Volts below which a meter may be reading nothing at all (bench habit, no source)."""

IN_CIRCUIT, LIFTED, REVERSED = "in circuit", "lifted", "reversed"
"""What `Conditions` say of the legs and the leads."""


def value_of(reading: PartReading | None) -> float | Overload | None:
    """What a reading says; None where there is none, or its reply never came or could not be read."""
    if reading is not None and reading.outcome is Outcome.OVERLOAD:
        return Overload.NEGATIVE if reading.negative else Overload.POSITIVE
    return reading.value if reading is not None else None


def is_in_circuit(part: Part, reading: PartReading) -> bool:
    """Whether it was read with both legs on the board: as the reading says, else as the part is listed."""
    circuit = reading.conditions.circuit
    return circuit == IN_CIRCUIT if circuit else part.in_circuit


def read_alike(one: PartReading, other: PartReading) -> bool:
    """Whether two readings were taken with one meter, the leads the same way round, equally lifted."""
    first, second = one.conditions, other.conditions
    ways = [(one.job, first.leads, first.circuit), (other.job, second.leads, second.circuit)]
    return ways[0] == ways[1] and (first.frequency, first.model) == (second.frequency, second.model)


@dataclass(frozen=True, slots=True)
class Subject:
    """One measure of a part, with what is known of it.

    Attributes:
        part, measure: what is read.
        marking: of what is fitted there.
        should_read: as it was written for this measure; empty where nobody has said.
        origin: where that comes from.
        own: what the part's own value should read, as it was written; limits of other measures follow from it.
    """

    part: Part
    measure: Measure
    marking: str = ""
    should_read: str = ""
    origin: Origin = Origin.SHEET
    own: str = ""

    @property
    def rated(self) -> float | None:
        """The volts a capacitor is made for; None where they are not known."""
        return rated_volts(self.marking, self.own) if self.part.kind in CAPACITORS else None

    @property
    def value(self) -> Expectation | None:
        """What the part's own value should read; None where nobody has said."""
        return self.part.measure("").expected(self.part.kind, self.own) if self.own else None

    def expectation(self, conditions: Conditions | None = None) -> Expectation | None:
        """What it should read, read under these conditions: as was said, else by what is usual.

        None where nothing says; `BadInput` where what was said cannot be read.
        """
        kind, measure = self.part.kind, self.measure
        if self.should_read:
            return measure.expected(kind, self.should_read, self.origin)
        if measure.word == BREAKDOWN:
            return zener_volts(self.marking) if self.marking else None
        frequency = conditions.frequency if conditions is not None else None
        return usual_limits(kind, measure, self.value, self.rated, frequency)


def question_of(
    subject: Subject,
    reading: PartReading,
    *,
    other: PartReading | None = None,
    turned: PartReading | None = None,
    dead_board: bool | None = None,
    beside: Iterable[PartReading] = (),
    beside_other: Iterable[PartReading] = (),
    earlier: PartReading | None = None,
) -> Question:
    """What a reading asks.

    Args:
        subject: what was read.
        reading: of it, the leads forward.
        other: the reading of the same measure of the part on the other side, from the same round.
        turned: of it, the leads the other way round.
        dead_board: whether the board was found without charge; None where nobody looked.
        beside: what the other measures of the same part read in this round.
        beside_other: the same of the part on the other side.
        earlier: what was read of it before, in this round.
    """
    part, conditions = subject.part, reading.conditions
    came_with, others = dict(reading.beside), _values(beside)
    drops = (others.get(VOLTS), _values(beside_other).get(VOLTS))
    loss = came_with.get("dissipation", others.get(D))
    frequency = conditions.frequency or came_with.get("frequency")
    return Question(
        subject.expectation(replace(conditions, frequency=frequency)),
        value_of(reading),
        function=reading.function,
        kind=part.kind,
        measure=subject.measure.word,
        others=tuple(others.items()),
        in_circuit=is_in_circuit(part, reading),
        mirror=value_of(other),
        mirror_alike=other is None or read_alike(reading, other),
        meter_error=MeterError(fixed=reading.error) if reading.error is not None else None,
        resolution=reading.resolution,
        nulled=reading.nulled is not None,
        leads=reading.nulled or 0.0,
        dead_board=dead_board,
        reversed=value_of(turned),
        idle_drops_agree=_agree(*drops),
        dissipation=loss if isinstance(loss, float) and reading.unit == "F" else None,
        frequency=frequency,
        model=conditions.model,
        rated=subject.rated,
        applied=conditions.applied,
        minutes=conditions.minutes,
        earlier=_at_minutes(earlier),
        settled=reading.settled,
    )


def _agree(one: float | Overload | None, other: float | Overload | None) -> bool:
    """Whether the drops across two emitter resistors in operation speak for both (rule 30)."""
    return isinstance(one, float) and isinstance(other, float) and idle_drops_agree(one, other)


def _values(readings: Iterable[PartReading]) -> dict[str, float | Overload]:
    """What other measures read, by their words."""
    found = {one.measure: value_of(one) for one in readings}
    return {word: value for word, value in found.items() if value is not None}


def _at_minutes(reading: PartReading | None) -> tuple[float, float] | None:
    """An earlier reading and how long its voltage was on by then; None where one of them is not known."""
    if reading is None or reading.value is None or reading.conditions.minutes is None:
        return None
    return reading.value, reading.conditions.minutes


def wants_a_look(
    value: float | Overload | None, expectation: Expectation | None, other: float | Overload | None = None
) -> bool:
    """Whether a reading is so far off that it may be a slip, and the other side does not read so too (rule 33)."""
    if value is None or expectation is None:
        return False
    if expectation.unit == "A" and expectation.origin is Origin.COMPUTED:
        return False  # A leakage begins far above what it comes down to.
    if isinstance(value, Overload):
        return math.isfinite(expectation.high) and not isinstance(other, Overload)
    if lands_near(value, expectation):
        return False
    beside = isinstance(other, float) and other != 0.0 and 0.8 <= value / other <= 1.25
    # What the leads read alone they read on both sides.
    return not beside or leads_alone(value, expectation.unit, expectation)


def look_at(reading: PartReading, should_read: str, expectation: Expectation | None) -> str:
    """Why a reading wants a look, in words, without the full stop."""
    value = value_of(reading)
    wanted = f"where {should_read} is wanted"
    if isinstance(value, Overload):
        turned = ", turned round" if reading.function is Function.DIODE else ""
        return f"{value.value} {wanted}: it is open{turned}, or the probes are in the air"
    if value is None:
        return f"nothing was read {wanted}"
    read = show(value, reading.unit, digits=3)
    if leads_alone(value, reading.unit, expectation):
        return f"{read} is what leads have alone: the probes seem to be in the air"
    if reading.unit == "V" and reading.function is not Function.DIODE and abs(value) < AIR_VOLTS:
        return f"{read} {wanted}: no volts there, or the probes are in the air"
    return f"{read} {wanted}"


def agrees_again(one: PartReading, again: PartReading) -> bool:
    """Whether a second reading of a part bears the first one out: the same meter's answer, at rest, within a tenth."""
    first, second = value_of(one), value_of(again)
    if one.function is not again.function or not again.settled:
        return False
    if isinstance(first, float) and isinstance(second, float):
        return abs(first - second) <= max(AGAIN * abs(first), FLOOR.get(one.function, 0.0))
    return first is not None and first is second
