"""The rectifier: what a winding gives to a reservoir, averaged over a half-wave."""

import math

_TWO_OVER_PI = 2.0 / math.pi


def average(peak: float, volts: float, ohms: float) -> tuple[float, float, float]:
    """Give the mean current of a full-wave rectifier, and its slopes over peak and over volts.

    A rectified sine of `peak` volts (diode drop taken off) feeds a reservoir at `volts` through `ohms`. The
    diodes conduct while peak * cos(phi) > volts; integrating (peak * cos(phi) - volts) / ohms over that angle
    and dividing by pi gives 2 / (pi * ohms) * (sqrt(peak^2 - volts^2) - volts * acos(volts / peak)).
    """
    volts = max(volts, 0.0)
    if peak <= volts or peak <= 0.0:
        return 0.0, 0.0, 0.0
    root = math.sqrt(peak * peak - volts * volts)
    angle = math.acos(volts / peak)
    scale = _TWO_OVER_PI / ohms
    return scale * (root - volts * angle), scale * root / peak, -scale * angle
