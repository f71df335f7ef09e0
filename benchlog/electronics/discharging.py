"""When a reservoir that is seen to fall reaches 5 V and 1 V, and what comes back of its charge after that.

V = V0 exp(-t / RC), so t = RC ln(V0 / V). Believed only of what falls along one such curve: an amplifier's idle
current makes a straight fall of it until it falls asleep, and what its bleeder does then nobody has seen yet.
Nothing here says that a reservoir is discharged: that is judged from readings seen under 1 V, and by a person.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from benchlog.electronics.decay import (
    COVERAGE,
    LEAST_READINGS,
    TOO_LITTLE,
    TOO_WIDE,
    Decay,
    Floats,
    decay,
    few,
)
from benchlog.electronics.settling import INADEQUATE, Settling, Span, settle, stretch

LEVELS = (5.0, 1.0)
"""Volts that are asked for: some start work under 5 V, most under 1 V."""
FALLEN = 0.65
"""It must have fallen to this share on the stretch before anything is foretold from it."""
STANDS = 0.98
"""What has fallen by less than this share of itself is not seen to fall."""
WAVE = 1e-3
"""Share of what is left below which a wave about the curve does not count: an idle current's hardly shows at first."""
WIDEST = 3.0
"""The latest time is at most so many times the earliest, or nothing is said."""
MAY_RETURN = 0.1
"""At most this share of its charge comes back (dielectric absorption, 1 to 10 %: practice of the trade)."""
BACK_VOLTS = 0.05
NOT_FALLING = "not seen to fall"


@dataclass(frozen=True, slots=True)
class Discharging:
    """Seconds from the last reading to each level; none where `why` says why not."""

    times: Mapping[float, Span] = field(default_factory=dict)
    tau: float = math.nan
    why: str = ""

    @property
    def good(self) -> bool:
        """Whether there is a forecast."""
        return not self.why


def time_to(volts: float, ohms: float, farads: float, level: float) -> float:
    """Seconds in which so many farads fall from `volts` to `level` through so many ohms: RC ln(V0 / V)."""
    return max(0.0, ohms * farads * math.log(volts / level))


def energy(farads: float, volts: float) -> float:
    """Joules in a capacitor: C V^2 / 2."""
    return 0.5 * farads * volts**2


def discharge(
    t: npt.ArrayLike,
    volts: npt.ArrayLike,
    *,
    levels: Sequence[float] = LEVELS,
    digit: float = 0.0,
    coverage: float = COVERAGE,
) -> Discharging:
    """Foretell when a reservoir is at some levels, if it goes on as it falls now.

    Args:
        t: seconds, rising; `volts` as many readings, of either sign.
        levels: volts; what it is below already takes no time.
        digit: the last digit of the readings.
        coverage: the share of cases in which each time lies in its interval.
    """
    times, values = few(t, volts)
    values = np.abs(values)
    if len(times) < LEAST_READINGS:
        return Discharging(why=TOO_LITTLE)
    if values[-1] > STANDS * values[0]:
        return Discharging(why=NOT_FALLING)
    found = stretch(
        times,
        values,
        0.0,
        lambda t, y: decay(t, y, digit=digit, coverage=coverage, to_nothing=True, small=WAVE),
    )
    if not found.good:
        return Discharging(why=found.why)
    if found.now > FALLEN * found.swing:
        return Discharging(why=TOO_LITTLE)
    foretold = {level: _until(level, found) for level in levels}
    if any(one.high > WIDEST * max(one.low, 1.0) for one in foretold.values()):
        return Discharging(why=TOO_WIDE)
    return Discharging(foretold, found.tau)


def _until(level: float, found: Decay) -> Span:
    def until(_rest: Floats, swing: Floats, tau: Floats) -> Floats:
        return np.maximum(tau * np.log(swing / level) - found.span, 0.0)

    best, low, high = found.range_of(until)
    return Span(best, low * (1.0 - INADEQUATE), high * (1.0 + INADEQUATE))


@dataclass(frozen=True, slots=True)
class Rebound:
    """What comes back of a charge: where it is heading, and what share that is of what was there before."""

    settling: Settling
    share: float = math.nan
    usual: bool = True
    """Whether that is no more than dielectric absorption brings back: else something still feeds it."""


def rebound(t: npt.ArrayLike, volts: npt.ArrayLike, before: float, *, digit: float = 0.0) -> Rebound:
    """Foretell what a reservoir that was at `before` volts comes back to once its load is taken off."""
    found = settle(t, np.abs(np.asarray(volts, dtype=np.float64)), band=BACK_VOLTS, digit=digit)
    if found.value is None:
        return Rebound(found)
    share = found.value.best / abs(before)
    return Rebound(found, share, share <= MAY_RETURN)
