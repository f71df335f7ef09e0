"""A second, simpler book-keeping of a trace's readings, against which the guard is held."""

import math
from collections import deque
from itertools import pairwise
from statistics import median_low

from benchlog.domain.guard import Broken
from benchlog.domain.reading import Outcome
from benchlog.domain.trace import SECOND

CEILINGS = {"+B": (50.0, 0.0), "-B": (50.0, 1.0), "lamp": (200.0, 0.5)}
"""Bound and persistence of the limits that are armed whatever the source does."""
BAD = [Outcome.MALFORMED, Outcome.LATE, Outcome.MISSING, Outcome.NOT_A_NUMBER]
WRONG_SIGN_FROM = 1.0
"""Volts from which on a rail of the wrong sign trips, at its second reading."""
WATCHED_SIGN = "-B"


class Book:
    """What the readings of one trace amount to, kept without any of the guard's own means."""

    def __init__(self, name: str) -> None:
        self.ceiling = CEILINGS.get(name)
        self.sign = name == WATCHED_SIGN
        self.alive: deque[int] = deque(maxlen=9)
        self.beyond: list[int] = []
        self.over: list[int] = []
        self.wrong = 0
        self.feared: list[int] = []
        """As `beyond`, with what nobody quite believes."""
        self.feared_wrong = 0

    def take(self, value: float | None, outcome: Outcome, t: int, wire: int) -> None:
        """Take a reading."""
        if outcome is Outcome.OVERLOAD:
            self.alive.append(wire)
            self.over.append(t)
        if outcome in {Outcome.OVERLOAD, *BAD} or value is None or not math.isfinite(value):
            return
        above = self.ceiling is not None and abs(value) > self.ceiling[0]
        wrong = self.sign and value > WRONG_SIGN_FROM
        self.feared = [*self.feared, t] if above else self.feared
        self.feared_wrong += wrong
        if outcome is not Outcome.OK:
            return
        self.alive.append(wire)
        self.over.clear()
        self.wrong = self.wrong + 1 if wrong else 0
        self.beyond = [*self.beyond, t] if above else []
        self.feared = self.feared if above else []
        self.feared_wrong = self.feared_wrong if wrong else 0

    def silent(self, wire: int) -> float:
        """By how many seconds it is silent for longer than it may be; below 0 where it is not."""
        if not self.alive:
            return -math.inf
        gaps = [(later - earlier) / SECOND for earlier, later in pairwise(self.alive)]
        may = min(max(5.0, 4.0 * median_low(gaps)), 10.0) if gaps else 5.0
        return (wire - self.alive[-1]) / SECOND - may

    @property
    def broken(self) -> bool:
        """Whether its ceiling is broken for long enough, by numbers or by overloads, or its sign is wrong."""
        return self.wrong >= 2 or self._long_enough(self.beyond) or self.over_for_long

    @property
    def over_for_long(self) -> bool:
        """Whether it is beyond its range for long enough, and has a ceiling that this may be beyond."""
        over = len(self.over) >= 2 and self.over[-1] - self.over[0] >= SECOND
        return over and self.ceiling is not None

    def explains(self, broken: Broken, wire: int) -> bool:
        """Whether the readings are reason enough for a trip, as far as they can be told without the source."""
        if broken.limit == "lost":
            return self.silent(wire) >= -1e-6
        if broken.limit == "beyond range":
            return len(self.over) >= 2 and self.over[-1] - self.over[0] >= SECOND
        if broken.limit == "polarity":
            return self.feared_wrong >= 2
        if self.ceiling is not None and broken.limit == "high" and broken.bound == self.ceiling[0]:
            return self._long_enough(self.feared)
        return True

    def _long_enough(self, times: list[int]) -> bool:
        lasting = self.ceiling[1] if self.ceiling is not None else 0.0
        return len(times) >= 2 and times[-1] - times[0] >= lasting * SECOND
