"""How hot a tungsten filament is, by its resistance: Forsythe and Worthing, 1925."""

import numpy as np

_FROM, _STEP = 300.0, 100.0
RESISTIVITY = (
    5.65, 8.06, 10.56, 13.23, 16.09, 19.00, 21.94, 24.93, 27.94, 30.98, 34.08, 37.19, 40.36, 43.55, 46.78, 50.05,
    53.35, 56.67, 60.06, 63.48, 66.91, 70.39, 73.91, 77.49, 81.04, 84.70, 88.33, 92.04, 95.76, 99.54, 103.3, 107.2,
    111.1, 115.0,
)  # fmt: skip
"""Microohm centimetres at 300, 400 ... 3600 K."""
_KELVIN = _FROM + _STEP * np.arange(len(RESISTIVITY))


def resistivity(kelvin: float) -> float:
    """Microohm centimetres between 300 and 3600 K, by a straight line between the table's places."""
    return float(np.interp(kelvin, _KELVIN, RESISTIVITY))


def ratio(kelvin: float) -> float:
    """Resistance over that at 300 K, the filament's own expansion left out."""
    return resistivity(kelvin) / RESISTIVITY[0]


def kelvin(times_cold: float) -> float:
    """The temperature at which the resistance is so many times that at 300 K; the table's ends at most."""
    return float(np.interp(times_cold * RESISTIVITY[0], RESISTIVITY, _KELVIN))
