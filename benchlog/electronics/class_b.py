"""What a class-B output stage turns into heat, driven with a sine into a resistor; a loudspeaker makes it more."""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Heat:
    """Watts taken from the rails, given to the load, and left in both devices together; peak volts at the load."""

    taken: float
    given: float
    left: float
    peak: float


def at_output(rail: float, load: float, watts: float) -> Heat:
    """At so many watts into `load` ohms from +/-`rail` volts: Vp = sqrt(2 P R), taken 2 V Vp / (pi R)."""
    peak = math.sqrt(2.0 * watts * load)
    taken = 2.0 * rail * peak / (math.pi * load)
    return Heat(taken, watts, taken - watts, peak)


def full(rail: float, load: float) -> Heat:
    """Driven to the rails: pi/4, 78.5 % of what is taken reaches the load."""
    return at_output(rail, load, rail**2 / (2.0 * load))


def worst(rail: float, load: float) -> Heat:
    """Where both devices together get hottest: 2 V^2 / (pi^2 R), at a peak of 2/pi of the rail."""
    return at_output(rail, load, 2.0 * rail**2 / (math.pi**2 * load))
