"""The lamp in series as an instrument: its volts tell the mains current, and what is left for the unit.

I = I0 (V / V0)^0.55 (rerating powers of incandescent lamps: Fink and Beaty, 1978, page 22-8), meant near its rated
voltage and rough far below: a small lamp was measured at 0.38 to 0.47, so the exponent is fitted to the person's own.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from benchlog.domain.reference import table_share
from benchlog.electronics import tungsten
from benchlog.errors import BadInput

EXPONENT = 0.55
HOT = 2800.0
"""Kelvin of a filament at its rated volts; common practice, no source."""
SIZES = (40.0, 60.0, 100.0, 150.0)
"""Watts of lamps that are to be had, in the order in which they are tried."""
_STEPS = 200


@dataclass(frozen=True, slots=True)
class Lamp:
    """A filament lamp by what is printed on it: `watts` at `volts`."""

    watts: float
    volts: float
    exponent: float = EXPONENT

    @property
    def amps(self) -> float:
        """Rated current; also what it lets through into a dead short, once warm."""
        return self.watts / self.volts

    @property
    def hot_ohms(self) -> float:
        """At its rated volts."""
        return self.volts / self.amps

    @property
    def cold_ohms(self) -> float:
        """At 300 K, by tungsten's resistivity."""
        return self.hot_ohms / tungsten.ratio(HOT)

    @property
    def inrush(self) -> float:
        """Amps of the worst first half-wave into a short: the peak of its rated volts through a cold filament."""
        return self.volts * math.sqrt(2.0) / self.cold_ohms

    def current(self, across: float) -> float:
        """Amps at so many volts across it."""
        return self.amps * math.pow(max(across, 0.0) / self.volts, self.exponent)

    def across(self, amps: float) -> float:
        """Volts across it at so many amps."""
        return self.volts * math.pow(max(amps, 0.0) / self.amps, 1.0 / self.exponent)

    def kelvin(self, across: float) -> float:
        """How hot it is, roughly below a quarter of its rated volts."""
        amps = self.current(across)
        return tungsten.kelvin(across / amps / self.cold_ohms) if amps > 0.0 else 300.0


def fitted(volts: Sequence[float], amps: Sequence[float]) -> tuple[float, float]:
    """The exponent of a lamp and its standard error, by a straight line through ln I over ln V of measured points."""
    v, i = np.asarray(volts, dtype=np.float64), np.asarray(amps, dtype=np.float64)
    if len(v) != len(i) or len(v) < 3 or np.any(v <= 0.0) or np.any(i <= 0.0) or np.ptp(v) == 0.0:
        raise BadInput(
            "lamp", "no curve goes through these points", "give three or more of volts and amps above 0"
        )
    x, y = np.log(v) - np.log(v).mean(), np.log(i) - np.log(i).mean()
    power = float(x @ x)
    slope = float(x @ y) / power
    left = y - slope * x
    return slope, math.sqrt(float(left @ left) / (len(v) - 2) / power)


def in_series(lamp: Lamp, source: float, load: Callable[[float], float]) -> float:
    """Volts across the lamp in series with a load on `source` volts; `load` gives its amps at its volts.

    Halved until nothing is left to halve: the lamp's current grows with its volts, the load's falls. In phase: a
    rectifier draws its current in peaks, so of a unit this is a first guess only.
    """
    low, high = 0.0, source
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        if lamp.current(middle) < load(source - middle):
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def left_for_unit(applied: float, across: float) -> tuple[float, float]:
    """Volts left for the unit, at least and at most: V - L where both are in phase, the root of V^2 - L^2 at a quarter.

    A rectifier's peaks and a transformer's magnetising current lie between: a range, not a number.
    """
    across = min(max(across, 0.0), applied)
    return applied - across, math.sqrt(applied**2 - across**2)


def healthy(watts: float, mains: float) -> float | None:
    """Volts across a lamp of so many watts, or the next below it, before a unit idling at 27 W; None for smaller ones.

    Worked out for a model unit (`domain.reference`); the unit's own first good run takes its place.
    """
    share = table_share(watts)
    return None if share is None else share * mains


BRIGHTNESS = (
    (0.10, "dark"),
    (0.15, "a glow that can just be seen"),
    (0.50, "a glow"),
    (0.65, "half bright"),
    (0.85, "bright"),
    (math.inf, "full"),
)
"""Up to which share of its rated volts it looks how: a glow from 10 to 15 %, half bright at 50 to 60 %; no source."""


def looks(share: float) -> str:
    """How bright it looks at a share of its rated volts, in words."""
    return next(word for below, word in BRIGHTNESS if share < below)


def means(share: float) -> str:
    """What that says of the unit, once the flash of switching on is over; habit of the trade, no source."""
    if share < 0.15:
        return "it draws little: good, or it draws nothing at all"
    if share < 0.6:
        return "it draws more than a small idle: fine for a small lamp, else look for what it is"
    if share < 0.97:
        return (
            "it draws far too much: bias, oscillation or a leaky part; a larger lamp only if all else is well"
        )
    return "as good as a short: output pair, rectifier, reservoir, transformer, wiring or the mains selector"


@dataclass(frozen=True, slots=True)
class Recommended:
    """The lamp to begin with, and the largest before none at all, in watts."""

    begin: float
    largest: float


def recommended(watts_a_channel: float, channels: int = 2, *, class_a: bool = False) -> Recommended:
    """The lamp for a unit of so many watts a channel; start small, then go up one size (habit, no source)."""
    if class_a or watts_a_channel > 60.0:
        return Recommended(100.0, 200.0 if class_a or watts_a_channel > 100.0 else 150.0)
    if watts_a_channel * channels <= 20.0:
        return Recommended(40.0, 60.0)
    return Recommended(60.0, 100.0)
