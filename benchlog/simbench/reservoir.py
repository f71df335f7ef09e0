"""The reservoir of the plus rail where it has gone bad: it leaks, or it sits the wrong way round."""

import math
from dataclasses import dataclass

AT_VOLTS = 40.0
"""The rail at which `leak` is stated."""
LEAK_EXPONENT = 5.0
"""Above half its volts a tired electrolytic's leakage grows with about their fifth power."""
AWAKE = 10.0
"""Rail volts from which the leakage changes in either direction."""
MOST_GROWTH = 3.0
"""Powers of e by which it grows or falls at most."""
BACKWARDS_VOLTS, BACKWARDS_OHMS = 0.6, 0.3
"""What an electrolytic the wrong way round leaves standing across itself, as a diode would."""
CAN = 8.0
"""Kelvin per watt from its can to the air."""


@dataclass(frozen=True, slots=True)
class ReservoirTruth:
    """What is wrong with the plus rail's reservoir, in SI units; nothing unless a fault says so.

    Attributes:
        leak: amps it leaks at 40 V, cold and freshly live.
        course: seconds under volts in which that falls to 1/e; negative where it grows e-fold; 0 stays.
        backwards: 1 where it sits the wrong way round.
        feed_ohms: what its tired joints lay in the way of its charge.
        can_heat: joules per kelvin of what a finger on its can feels.
    """

    leak: float = 0.0
    course: float = 0.0
    backwards: float = 0.0
    feed_ohms: float = 0.0
    can_heat: float = 1000.0


SOUND = ReservoirTruth()


class Reservoir:
    """What the plus reservoir draws beside its charge; `can` is the kelvin its can stands above the air."""

    def __init__(self, truth: ReservoirTruth) -> None:
        self.truth = truth
        self.can = 0.0
        self._growth = 0.0

    def draw(self, volts: float) -> tuple[float, float]:
        """Amps at these volts, and their slope over the volts."""
        truth = self.truth
        if truth.backwards:
            return max(0.0, volts - BACKWARDS_VOLTS) / BACKWARDS_OHMS, 1.0 / BACKWARDS_OHMS
        if truth.leak <= 0.0 or volts <= 0.0:
            return 0.0, 0.0
        amps = truth.leak * (volts / AT_VOLTS) ** LEAK_EXPONENT * math.exp(self._growth)
        return amps, LEAK_EXPONENT * amps / volts

    def step(self, seconds: float, volts: float) -> None:
        """Let it re-form or give way, and warm up, for `seconds`."""
        truth = self.truth
        if truth.course and volts > AWAKE:
            self._growth -= seconds / truth.course
            self._growth = max(-MOST_GROWTH, min(MOST_GROWTH, self._growth))
        power = volts * self.draw(volts)[0]
        self.can += seconds * (power - self.can / CAN) / truth.can_heat
