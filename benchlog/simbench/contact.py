"""A tarnished contact or a cracked joint: it steps between good and bad, each for a time nobody can foretell."""

import random
from dataclasses import dataclass

SHORTEST, LONGEST = 0.1, 60.0
"""Seconds that either state lasts, at least and at most."""
LEAST_DEPTH = 0.4
"""A bad spell is between this and 1 deep, as a fraction of what the contact can do."""


@dataclass(frozen=True, slots=True)
class ContactTruth:
    """How a contact that is not to be trusted behaves; `bad` 0 for one that is.

    Attributes:
        good, bad: mean seconds of either state; their lengths are exponential.
        volts: what the plus rail loses at the deepest.
        idle: by what the left idle current is multiplied at the deepest.
        offset: volts the left output jumps by at the deepest, either way.
    """

    good: float = 0.0
    bad: float = 0.0
    volts: float = 0.0
    idle: float = 1.0
    offset: float = 0.0


FIRM = ContactTruth()


class Contact:
    """The contact over plan time; the properties say what it does just now."""

    def __init__(self, truth: ContactTruth, chance: random.Random) -> None:
        self.truth = truth
        self._chance = chance
        self._left = 0.0
        self._depth = 0.0
        self._sign = 1.0
        self._bad = True

    @property
    def lost(self) -> float:
        """Volts missing from the plus rail."""
        return self.truth.volts * self._depth

    @property
    def share(self) -> float:
        """By what the left idle current is multiplied."""
        return 1.0 + (self.truth.idle - 1.0) * self._depth

    @property
    def jump(self) -> float:
        """Volts by which the left output is off."""
        return self.truth.offset * self._depth * self._sign

    def step(self, seconds: float) -> None:
        """Let `seconds` pass."""
        if self.truth.bad <= 0.0:
            self._depth = 0.0
            return
        self._left -= seconds
        if self._left > 0.0:
            return
        self._bad = not self._bad
        mean = self.truth.bad if self._bad else self.truth.good
        self._left = min(LONGEST, max(SHORTEST, self._chance.expovariate(1.0 / mean)))
        self._depth = self._chance.uniform(LEAST_DEPTH, 1.0) if self._bad else 0.0
        self._sign = self._chance.choice((-1.0, 1.0))
