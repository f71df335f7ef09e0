"""The wall socket: mains that wanders slowly and flutters a little."""

import math
import random

FLUTTER = 0.0035
"""Rms of the quick part, as a fraction; with the slow part about 0.5 % rms over minutes."""
FLUTTER_TIME = 15.0
"""Seconds over which the quick part forgets itself: what is left of the flutter when a meter has averaged it."""


class Mains:
    """Volts at the wall over plan time; `volts` is what stands there just now."""

    def __init__(self, nominal: float, chance: random.Random, wander: float) -> None:
        self._nominal = nominal
        self._chance = chance
        self._wander = wander
        self._phases = (chance.uniform(0.0, math.tau), chance.uniform(0.0, math.tau))
        self._flutter = 0.0
        self._t = 0.0
        self.volts = nominal

    def step(self, seconds: float) -> None:
        """Let `seconds` pass."""
        self._t += seconds
        if self._wander <= 0.0:
            return
        keep = math.exp(-seconds / FLUTTER_TIME)
        self._flutter = keep * self._flutter + self._chance.gauss(0.0, FLUTTER) * math.sqrt(1.0 - keep * keep)
        slow = 0.6 * math.sin(math.tau * self._t / 307.0 + self._phases[0])
        slow += 0.4 * math.sin(math.tau * self._t / 1009.0 + self._phases[1])
        self.volts = self._nominal * (1.0 + self._wander * slow + self._flutter)
