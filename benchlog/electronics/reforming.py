"""A capacitor re-formed through a resistor: its leakage from the drop, when that is low enough, whether it gets there.

The current decays roughly exponentially; a drop still above a tenth of what is applied after an hour is hopeless,
and a current that rises is stopped at once (practice of the trade).
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from benchlog.electronics.asked import Progress
from benchlog.electronics.decay import (
    COVERAGE,
    LEAST_READINGS,
    SLOWER,
    TOO_LITTLE,
    TOO_WIDE,
    Decay,
    Floats,
    decay,
    few,
)
from benchlog.electronics.settling import INADEQUATE, Span, stretch

PLATEAU_OVER = 600.0
"""Seconds over which a current that fell by less than `PLATEAU` of itself is not improving."""
PLATEAU = 0.03
RISE = 0.1
"""A mean current above the lowest mean so far by more than this share, and by two digits, is rising."""
RISE_BLOCKS = 12
"""Means that a rise is looked for in: one reading alone is none."""
FALLEN = 0.6
"""To this share it must have fallen along a curve to nothing before anything is foretold from that."""
LATE = 0.5
"""Such a curve is laid through what was read from this share of the time on."""
BENDS = 0.15, 0.05
"""Shares of the time to come by which it may be sooner or later than any such curve has it: the volts across the
capacitor rise as its current falls, and its leakage with them, so that the fall becomes steeper towards its end."""
CLOSEST = 0.02
"""Share of the time seen closer than which no time is told."""
HOPELESS_SHARE, HOPELESS_AFTER = 0.1, 3600.0


@dataclass(frozen=True, slots=True)
class Reforming:
    """How it goes, with the current now; seconds to the target only where it is foretold, else `why` not.

    `settles` is where the current is heading, in amps: above the target it never gets there.
    """

    state: Progress
    amps: float
    to_target: Span | None = None
    settles: Span | None = None
    why: str = ""


def leakage(drop: npt.ArrayLike, ohms: float) -> Floats:
    """Amps through the resistor in series, and so through the capacitor: I = V / R."""
    return np.asarray(drop, dtype=np.float64) / ohms


def hopeless(drop: float, applied: float, seconds: float) -> bool:
    """Whether the drop is still above a tenth of what is applied after an hour."""
    return seconds >= HOPELESS_AFTER and abs(drop) > HOPELESS_SHARE * abs(applied)


def reform(
    t: npt.ArrayLike,
    drop: npt.ArrayLike,
    ohms: float,
    target: float,
    *,
    digit: float = 0.0,
    coverage: float = COVERAGE,
) -> Reforming:
    """How re-forming goes, by the drop across the resistor.

    Args:
        t: seconds, rising; `drop` as many readings, V.
        ohms: of the resistor.
        target: amps that count as low enough.
        digit: the last digit of the drop, V.
        coverage: the share of cases in which the time lies in its interval.
    """
    times, amps = few(t, np.abs(leakage(drop, ohms)))
    step = digit / ohms
    if len(times) < LEAST_READINGS:
        return Reforming(Progress.UNKNOWN, float(amps[-1]) if len(amps) else math.nan)
    means = np.array([part.mean() for part in np.array_split(amps, min(RISE_BLOCKS, len(amps) // 2))])
    now = float(means[-1])
    if now > float(means.min()) * (1.0 + RISE) + 2.0 * step:
        return Reforming(Progress.RISING, now)
    if now <= target:
        return Reforming(Progress.REACHED, now)
    found = _curve(times, amps, step, coverage)
    if not found.good:
        return _without_curve(times, amps, found.why, now, step)
    settles = found.range_of(lambda rest, _swing, _tau: rest)
    spare = INADEQUATE * abs(found.now - found.rest) + 0.5 * step
    heading = Span(settles[0], max(0.0, settles[1] - spare), settles[2] + spare)
    if heading.low > target:
        return Reforming(Progress.PLATEAU, now, settles=heading, why="it is heading for more than the target")
    time = _to_target(found, target)
    return Reforming(Progress.FALLING, now, time, heading, "" if time is not None else TOO_WIDE)


def _curve(t: Floats, amps: Floats, step: float, coverage: float) -> Decay:
    """The curve of the current: to a rest of its own, or to nothing where that would lie below nothing."""
    found = stretch(t, amps, 0.0, lambda t, y: decay(t, y, digit=step, coverage=coverage))
    if found.good and found.rest > 0.0:
        return found
    late = t >= t[0] + LATE * (t[-1] - t[0])
    to_nothing = stretch(
        t[late], amps[late], 0.0, lambda t, y: decay(t, y, digit=step, coverage=coverage, to_nothing=True)
    )
    seen = to_nothing.good and to_nothing.now < FALLEN * float(amps[0])
    return to_nothing if seen else replace(found, why=found.why or SLOWER)


def _to_target(found: Decay, target: float) -> Span | None:
    """Seconds until the current is as low as that; None where some allowed curve never gets there."""

    def until(rest: Floats, swing: Floats, tau: Floats) -> Floats:
        return np.maximum(tau * np.log(swing / (target - rest)) - found.span, 0.0)

    best, low, high = found.range_of(until)
    if not math.isfinite(high):
        return None
    sooner, later = BENDS
    close = CLOSEST * found.span
    return Span(best, max(0.0, low * (1.0 - sooner) - close), high * (1.0 + later) + close)


def _without_curve(t: Floats, amps: Floats, why: str, now: float, step: float) -> Reforming:
    """Falling or not improving, by the last ten minutes; nothing is foretold."""
    late = t >= t[-1] - PLATEAU_OVER
    if t[-1] - t[0] < PLATEAU_OVER or np.count_nonzero(late) < LEAST_READINGS:
        return Reforming(
            Progress.FALLING if amps[-1] < amps[0] else Progress.UNKNOWN, now, why=why or TOO_LITTLE
        )
    half = np.array_split(amps[late], 2)
    fallen = 2.0 * float(half[0].mean() - half[1].mean())
    state = Progress.PLATEAU if fallen < max(PLATEAU * now, step) else Progress.FALLING
    return Reforming(state, now, why=why)
