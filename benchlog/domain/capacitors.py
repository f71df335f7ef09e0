"""What an electrolytic capacitor may lose and leak: published limits, and what common practice calls good.

Losses hold at one frequency alone: a limit for 120 Hz says nothing of a figure read at 1 kHz.
"""

import itertools
import math

AT_LINE = 120.0
"""The frequency, Hz, that the published limits of D hold for."""

D_AT_LINE = (
    (6.3, 0.23),
    (10.0, 0.20),
    (16.0, 0.16),
    (25.0, 0.14),
    (35.0, 0.12),
    (50.0, 0.10),
    (63.0, 0.09),
    (100.0, 0.08),
    (160.0, 0.12),
    (200.0, 0.14),
    (250.0, 0.17),
    (350.0, 0.20),
    (400.0, 0.25),
    (450.0, 0.25),
)
"""(rated volts up to, highest D at 120 Hz and 20 degC): Lelon, general-purpose type RGA."""

D_PER_MILLIFARAD = 0.02
"""Added to it for each 1000 uF above the first (same source, which leaves open whether in steps: taken as a slope)."""

SAME_FREQUENCY = 1.3
"""Up to this ratio two frequencies are one: 100 and 120 Hz are the two mains' (common practice, no source)."""

GOOD_ESR = ((1e-6, 5.0), (10e-6, 2.0), (100e-6, 0.5), (1e-3, 0.1), (10e-3, 0.03))
"""(farads, ohms that a good one has from 1 to 100 kHz at most) (common practice, no source)."""
ESR_TIMES = 3.0
"""So many times that is too much (common practice, no source)."""
HIGH_FROM, HIGH_TO = 1e3, 100e3
"""Between these frequencies, Hz, it holds."""

LOW_VOLTAGE = 100.0
"""Rated volts up to which the formula for small ones holds."""

RATED_SHARE = 0.95
"""Less than this share of the rated voltage is not the rated voltage (common practice, no source)."""

FALLING = 0.10
"""A leakage that falls by more than this share a minute is still on its way (common practice, no source)."""

WRONG_WAY = 10.0
"""So many times the limit is rather a capacitor the wrong way round (common practice, no source)."""

LARGE_CAN = 4.7e-3
"""From this many farads on it is a large can, whose own sheet says how much it may leak (bench habit, no source)."""


def same_frequency(one: float, other: float) -> bool:
    """Whether figures read at two frequencies, Hz, may be held against each other."""
    return max(one, other) <= SAME_FREQUENCY * min(one, other)


def d_limit(farads: float, rated: float) -> float | None:
    """The highest D at 120 Hz (Lelon RGA); None above its voltages."""
    at_rated = next((limit for volts, limit in D_AT_LINE if rated <= volts), None)
    return None if at_rated is None else at_rated + D_PER_MILLIFARAD * max(0.0, farads / 1e-3 - 1.0)


def esr_of(d: float, farads: float, frequency: float) -> float:
    """The ohms in series that a D stands for: D / (2 pi f C)."""
    return d / (2.0 * math.pi * frequency * farads)


def esr_limit(farads: float, rated: float | None, frequency: float) -> float | None:
    """The highest ESR, ohms, at a frequency; None where nothing says so for it."""
    if same_frequency(frequency, AT_LINE):
        limit = d_limit(farads, rated) if rated is not None else None
        return None if limit is None else esr_of(limit, farads, AT_LINE)
    if not HIGH_FROM <= frequency <= HIGH_TO or not GOOD_ESR[0][0] <= farads <= 10 * GOOD_ESR[-1][0]:
        return None
    return ESR_TIMES * _between(farads)


def _between(farads: float) -> float:
    """What a good one has, by both logarithms between the values that are known; the last holds above them."""
    for (low, most), (high, least) in itertools.pairwise(GOOD_ESR):
        if farads <= high:
            share = math.log(farads / low) / math.log(high / low)
            return most * math.exp(share * math.log(least / most))
    return GOOD_ESR[-1][1]


def leakage_limit(farads: float, rated: float) -> float:
    """The highest leakage, A, at rated voltage and 20 degC (Lelon RGA): see `leakage_minutes` for when."""
    cv = farads * 1e6 * rated
    if rated <= LOW_VOLTAGE:
        return max(0.01 * cv, 3.0) * 1e-6
    return (0.03 * cv + 15.0 if cv <= 1000.0 else 0.02 * cv + 25.0) * 1e-6


def leakage_minutes(rated: float) -> float:
    """After how many minutes at rated voltage that holds."""
    return 2.0 if rated <= LOW_VOLTAGE else 5.0


def series_farads(parallel: float, d: float) -> float:
    """The capacitance of the series model from that of the parallel one: Cs = Cp (1 + D^2)."""
    return parallel * (1.0 + d * d)
