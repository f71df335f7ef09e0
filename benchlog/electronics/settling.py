"""Where a reading that settles is heading, and when it is there: with an interval, or with the reason for none."""

import math
from collections.abc import Callable
from dataclasses import dataclass

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

CUTS = (0.0, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8)
"""Where a stretch that may follow one curve is taken to begin, as shares of what was seen: the longest one counts."""
INADEQUATE = 0.05
"""Share of what is still to come that no curve of one time constant knows better; bench habit, no source."""
STEADY_BANDS = 0.5
"""What has moved by no more than this much of its band, and is not bending away, stands still."""
STILL_LEAST = 60.0
"""Seconds for which what settles slowly must have stood still before that is said."""
STILL_LATE = 0.4
"""What stands still from this share of the time on, and follows no curve before, stepped there."""
WIDEST = 4.0
"""An interval wider than so many bands, and than the way still to go, says nothing."""


@dataclass(frozen=True, slots=True)
class Span:
    """A number and the interval it lies in at the stated coverage."""

    best: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Settling:
    """Where it settles and when; no number where `why` says why there is none.

    Attributes:
        value: the final value.
        after: seconds from the last reading until it moves by no more than its band within the window.
        tau: its time constant, s.
        why: the reason for no forecast, as the end of a sentence; empty where there is one.
        still_for: seconds for which it has stood still up to now: there is nothing to foretell; 0 where it moves.
    """

    value: Span | None = None
    after: Span | None = None
    tau: float = math.nan
    why: str = ""
    still_for: float = 0.0

    @property
    def steady(self) -> bool:
        """Whether it stands still, as far as it was seen."""
        return self.still_for > 0.0

    @property
    def good(self) -> bool:
        """Whether there is a forecast."""
        return self.value is not None


def settle(
    t: npt.ArrayLike,
    y: npt.ArrayLike,
    *,
    band: float,
    window: float = math.inf,
    still: float = 0.0,
    digit: float = 0.0,
    least: float = 0.0,
    coverage: float = COVERAGE,
) -> Settling:
    """Foretell an exponential settling.

    Args:
        t: seconds, rising; `y` as many readings in any unit.
        band: what it may move by, within `window` seconds (for ever, where left out), and count as settled.
        still: what it may wander by and count as standing still; its band where that is wider.
        digit: the last digit of the readings.
        least: seconds that must be seen before anything is said: what settles slowly has a quick part first.
        coverage: the share of cases in which the value lies in its interval.
    """
    times, values = few(t, y)
    seen = float(times[-1] - times[0]) if len(times) >= LEAST_READINGS else 0.0
    if seen > 0.0 and seen >= min(least, STILL_LEAST) and _still(times, values, max(band, still), digit):
        return Settling(still_for=seen)
    if seen <= 0.0 or seen < least:
        return Settling(why=TOO_LITTLE)
    found = stretch(times, values, least, lambda t, y: decay(t, y, digit=digit, coverage=coverage))
    if found.good:
        return _foretold(found, band, window)
    late = times >= times[0] + STILL_LATE * (times[-1] - times[0])
    if np.count_nonzero(late) >= LEAST_READINGS and _still(
        times[late], values[late], max(band, still), digit
    ):
        return Settling(still_for=float(times[-1] - times[late][0]))
    return Settling(why=found.why)


def stretch(t: Floats, y: Floats, least: float, curve: Callable[[Floats, Floats], Decay]) -> Decay:
    """The curve of the longest stretch up to now that follows one; of none that of the whole, with why not."""
    whole: Decay | None = None
    for cut in CUTS:
        inside = t >= t[0] + cut * (t[-1] - t[0])
        if whole is not None and (np.count_nonzero(inside) < LEAST_READINGS or t[-1] - t[inside][0] < least):
            break
        found = curve(t[inside], y[inside])
        if found.good:
            return found
        whole = whole or found
    assert whole is not None  # noqa: S101 - the first cut is always tried
    return whole


def _still(t: Floats, y: Floats, band: float, digit: float) -> bool:
    """Whether a straight line through it stays within half its band, and single readings do too but for noise."""
    u = t - t.mean()
    slope = float(u @ y) / float(u @ u)
    moved = abs(slope) * (t[-1] - t[0])
    left = y - y.mean() - slope * u
    quiet = np.abs(_thirds(left)).max() if len(y) >= 3 * LEAST_READINGS else 0.0
    return moved <= max(STEADY_BANDS * band, digit) and float(quiet) <= max(STEADY_BANDS * band, digit)


def _thirds(left: Floats) -> Floats:
    """The means of three equal stretches: a curve's middle lies to the other side of its ends."""
    return np.array([part.mean() for part in np.array_split(left, 3)])


def _foretold(found: Decay, band: float, window: float) -> Settling:
    """The numbers of a good curve, each never better known than any such curve knows it."""
    share = 1.0 - math.exp(-min(window / found.tau, 700.0))
    to_go = abs(found.now - found.rest)
    best, low, high = found.range_of(lambda rest, _swing, _tau: rest)
    more = INADEQUATE * to_go + 0.5 * found.digit
    value = Span(best, low - more, high + more)
    if value.high - value.low > max(WIDEST * band, to_go):
        return Settling(why=TOO_WIDE)
    if to_go * share <= band:
        return Settling(value, Span(0.0, 0.0, 0.0), found.tau)

    def until(_rest: Floats, swing: Floats, tau: Floats) -> Floats:
        moves = np.abs(swing) * (1.0 - np.exp(-np.minimum(window / tau, 700.0)))
        return np.maximum(tau * np.log(moves / band) - found.span, 0.0)

    best, low, high = found.range_of(until)
    if not math.isfinite(high):
        return Settling(why=TOO_WIDE)
    return Settling(value, Span(best, low * (1.0 - INADEQUATE), high * (1.0 + INADEQUATE)), found.tau)
