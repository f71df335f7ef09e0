"""A junction's volts and its heat: thermal voltage, emission coefficient, temperatures, heat sink, derating."""

import math
from dataclasses import dataclass

BOLTZMANN, CHARGE = 1.380649e-23, 1.602176634e-19
"""J/K and C, exact in the SI."""
ZERO_CELSIUS = 273.15


def thermal_volts(celsius: float) -> float:
    """kT/q."""
    return BOLTZMANN * (celsius + ZERO_CELSIUS) / CHARGE


def emission(volts: tuple[float, float], amps: tuple[float, float], celsius: float = 25.0) -> float:
    """Emission coefficient n of I = Is exp(V / (n kT/q)) from two points: (V2 - V1) / (kT/q ln(I2 / I1))."""
    return (volts[1] - volts[0]) / (thermal_volts(celsius) * math.log(amps[1] / amps[0]))


@dataclass(frozen=True, slots=True)
class Temperatures:
    """degC of heat sink, case and junction."""

    sink: float
    case: float
    junction: float


def temperatures(watts: float, air: float, *, case: float, insulator: float, sink: float) -> Temperatures:
    """With kelvin per watt from junction to case, case to sink and sink to air: each adds its part of the watts."""
    on_sink = air + watts * sink
    on_case = on_sink + watts * insulator
    return Temperatures(on_sink, on_case, on_case + watts * case)


def sink_needed(watts: float, air: float, highest: float, *, case: float, insulator: float) -> float:
    """Kelvin per watt a heat sink may have at most so that the junction stays at `highest` degC."""
    return (highest - air) / watts - case - insulator


def derated(watts: float, per_kelvin: float, case: float, above: float = 25.0) -> float:
    """Watts a device may still take at so many degC of its case: its rating less so much for each kelvin above 25."""
    return max(0.0, watts - per_kelvin * max(0.0, case - above))
