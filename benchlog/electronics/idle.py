"""Idle current of a class-AB output stage: from a drop, the current of least crossover distortion, runaway."""

import math
from dataclasses import dataclass

from benchlog.errors import BadInput

OLIVER_VOLTS = 0.026
"""kT/q as it stands in the criterion; 28.7 mV at 60 degC."""
SAME_HOUR = 3600.0
FINE_ENOUGH = 0.01
"""Share of the part that a nulled meter must resolve."""
PER_KELVIN = 0.002
"""A junction loses about 2 mV a kelvin."""


def oliver(emitter_ohms: float, inner_ohms: float = 0.0) -> float:
    """Amps at which crossover distortion is least: 26 mV / (RE + r), r being what the device itself has in bulk.

    B. Oliver, Hewlett-Packard Journal, February 1971. The maker's service value goes before it.
    """
    total = emitter_ohms + inner_ohms
    if total <= 0.0:
        raise BadInput(
            "emitter resistor", f"{emitter_ohms:g} ohm and {inner_ohms:g} inside", "give ohms above 0"
        )
    return OLIVER_VOLTS / total


@dataclass(frozen=True, slots=True)
class Current:
    """Amps, and between which they lie by the resistor's tolerance."""

    amps: float
    low: float
    high: float


def current(drop: float, ohms: float, *, tolerance: float = 0.0, across_both: bool = False) -> Current:
    """Amps from the drop across one emitter resistor, or from emitter to emitter across both: I = V / RE, V / 2 RE."""
    if ohms <= 0.0 or not 0.0 <= tolerance < 1.0:
        raise BadInput(
            "emitter resistor", f"{ohms:g} ohm within {tolerance:g}", "give ohms above 0, a share below 1"
        )
    total = 2.0 * ohms if across_both else ohms
    amps = drop / total
    ends = amps / (1.0 + tolerance), amps / (1.0 - tolerance)
    return Current(amps, min(ends), max(ends))


def ohms_to_use(
    sheet: float,
    read: float | None,
    *,
    four_wire: bool = False,
    nulled_ago: float | None = None,
    resolution: float | None = None,
) -> tuple[float, str]:
    """The ohms an idle current is worked out with, and why.

    The sheet's, unless the resistor was read on four wires, or with leads nulled within the hour by a meter that
    resolves 1 % of it: on two wires 0.22 ohm read as 0.42 is the leads. `nulled_ago` in seconds.
    """
    if read is None:
        return sheet, "the sheet's: the resistor was not read"
    if four_wire:
        return read, "as read on four wires"
    if nulled_ago is None or nulled_ago > SAME_HOUR:
        return sheet, "the sheet's: what was read has the leads in it"
    if resolution is None or resolution > FINE_ENOUGH * sheet:
        return sheet, "the sheet's: the meter does not resolve 1 % of it"
    return read, "as read, leads nulled within the hour"


def uncertainty(drop: float, drop_off: float, ohms: float, tolerance: float) -> float:
    """Expanded uncertainty (k = 2) in amps of drop over ohms, both half-widths rectangular (JCGM 100:2008).

    `drop_off` in volts: how far the meter can be off either way; `tolerance` a share of `ohms`.
    """
    relative = math.hypot(drop_off / drop, tolerance) / math.sqrt(3.0)
    return 2.0 * abs(drop / ohms) * relative


def loop_gain(kelvin_per_watt: float, volts: float, inner_ohms: float, emitter_ohms: float) -> float:
    """Gain round an output device without bias tracking: theta V (2 mV/K) / (re + RE); from 1 on it runs away."""
    return kelvin_per_watt * volts * PER_KELVIN / (inner_ohms + emitter_ohms)
