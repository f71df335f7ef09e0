"""Settle-and-take: when the readings of a walking meter have come to rest on a part."""

from dataclasses import dataclass, field

from benchlog.domain import creep
from benchlog.domain.quantity import tidy
from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.domain.trace import SECOND

IN_A_ROW = 3
WITHIN = 0.005
COUNTS = 3
FLOOR = {
    Function.DIODE: 2e-3,
    Function.VOLTS_DC: 2e-4,
    Function.VOLTS_AC: 2e-3,
    Function.OHMS: 0.05,
    Function.OHMS_4W: 1e-3,
    Function.CAPACITANCE: 20e-12,
}
"""Near zero half a per cent means nothing: readings this close agree, in the unit of the function."""
LONGEST = 8.0
"""Seconds of plan time after which the last reading is taken as it stands."""


@dataclass(slots=True)
class Settler:
    """Takes readings of one part until three in a row agree within 0.5 % or three counts.

    The first reading after a new contact is never used: autoranging makes it junk (bench habit, no
    source). An overload settles like a value: on ohms it is a datum. Neighbours that agree while all of them
    creep towards an end further off have not settled. `began` and the times given are plan nanoseconds.
    """

    began: int
    _row: list[Reading] = field(default_factory=list)
    _times: list[float] = field(default_factory=list)
    _values: list[float] = field(default_factory=list)
    _seen: int = 0
    last: Reading | None = None

    def take(self, reading: Reading, t: int) -> tuple[Reading, bool] | None:
        """Take one; the reading to keep and whether it had settled, or None for more.

        Replies without a number or an overload start the count anew.
        """
        if reading.outcome not in (Outcome.OK, Outcome.OVERLOAD):
            self._row.clear()
            return self.overdue(t)
        self._seen += 1
        if self._seen == 1:
            return None
        self.last = reading
        if self._row and not self._agree(self._row[-1], reading):
            self._row.clear()
        self._row.append(reading)
        self._note(reading, t)
        if len(self._row) >= IN_A_ROW and self._agree(self._row[-IN_A_ROW], reading):
            floor = FLOOR.get(reading.function, 0.0)
            if not creep.moving(self._times, self._values, floor):
                return reading, True
        return self.overdue(t)

    @property
    def heading(self) -> float | None:
        """Where it creeps to, in the unit of the function; None where nothing tells."""
        return creep.heading(self._times, self._values)

    def _note(self, reading: Reading, t: int) -> None:
        """Keep it for the curve; an overload begins another one."""
        if reading.value is None:
            self._times.clear()
            self._values.clear()
        else:
            self._times.append((t - self.began) / SECOND)
            self._values.append(reading.value)

    def overdue(self, t: int) -> tuple[Reading, bool] | None:
        """The last reading, unsettled, once the longest wait is over."""
        if self.last is not None and t - self.began >= LONGEST * SECOND:
            return self.last, False
        return None

    @staticmethod
    def _agree(one: Reading, other: Reading) -> bool:
        if one.outcome is not other.outcome:
            return False
        if one.value is None or other.value is None:
            return one.negative == other.negative
        counts = COUNTS * (other.resolution or 0.0)
        near = max(WITHIN * abs(other.value), counts, FLOOR.get(other.function, 0.0))
        return tidy(abs(one.value - other.value)) <= tidy(near)
