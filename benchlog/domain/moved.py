"""What moved in a long run: of each trace the first and the last number, its extremes with their times, silences."""

from dataclasses import dataclass

import numpy as np

from benchlog.domain.drift import Floats
from benchlog.domain.plan_trace import Role

EDGE = 30.0
"""Seconds whose median stands for the first and the last number: one reading alone is noise."""
SILENCE = 10.0
"""Seconds without a number that count as a silence."""


@dataclass(frozen=True, slots=True)
class Named:
    """Which trace it is: its name, what it shows, its SI unit."""

    name: str
    role: Role | None
    unit: str


@dataclass(frozen=True, slots=True)
class Moved:
    """One trace from on to off; None where it had no number. Times are plan seconds, lengths seconds.

    `silences` are their begins and lengths, the last one open where no number came after it.
    """

    trace: str
    role: Role | None
    unit: str
    first: float | None
    last: float | None
    lowest: tuple[float, float] | None
    highest: tuple[float, float] | None
    silences: tuple[tuple[float, float], ...] = ()

    @property
    def drift(self) -> float | None:
        """By how much the last number is above the first."""
        return None if self.first is None or self.last is None else self.last - self.first


def moved(trace: Named, t: Floats, value: Floats, begin: float, end: float) -> Moved:
    """What a trace did between two moments; `t` in seconds, ascending, NaN for a reading without a number."""
    within = (t >= begin) & (t <= end)
    t, value = t[within], value[within]
    good = np.isfinite(value)
    t, value = t[good], value[good]
    if not len(t):
        silent = ((begin, end - begin),) if end - begin > SILENCE else ()
        return Moved(trace.name, trace.role, trace.unit, None, None, None, None, silent)
    low, high = int(value.argmin()), int(value.argmax())
    return Moved(
        trace.name,
        trace.role,
        trace.unit,
        float(np.median(value[t <= t[0] + EDGE])),
        float(np.median(value[t >= t[-1] - EDGE])),
        (float(value[low]), float(t[low])),
        (float(value[high]), float(t[high])),
        _silences(t, begin, end),
    )


def _silences(t: Floats, begin: float, end: float) -> tuple[tuple[float, float], ...]:
    """The gaps between numbers, and those at both ends."""
    edges = np.concatenate(([begin], t, [end]))
    gaps = np.diff(edges)
    return tuple((float(edges[at]), float(gaps[at])) for at in np.flatnonzero(gaps > SILENCE))
