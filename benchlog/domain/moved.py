"""What moved in a long run: of each trace the first and the last number, its extremes with their times, silences."""

from dataclasses import dataclass

import numpy as np

from benchlog.domain.detail import Items
from benchlog.domain.plan_trace import Role
from benchlog.domain.trace import SECOND

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


def moved(
    trace: Named, read: Items, edges: tuple[float | None, float | None], begin: float, end: float
) -> Moved:
    """What a trace did between two moments.

    `read` are stretches of its readings, each with a number in it and without a silence inside; `edges` the first
    and the last number, as medians of `EDGE` seconds.
    """
    if not len(read):
        silent = ((begin, end - begin),) if end - begin > SILENCE else ()
        return Moved(trace.name, trace.role, trace.unit, None, None, None, None, silent)
    low, high = int(read.low.argmin()), int(read.high.argmax())
    return Moved(
        trace.name,
        trace.role,
        trace.unit,
        *edges,
        (float(read.low[low]), float(read.low_t[low]) / SECOND),
        (float(read.high[high]), float(read.high_t[high]) / SECOND),
        _silences(read, begin, end),
    )


def _silences(read: Items, begin: float, end: float) -> tuple[tuple[float, float], ...]:
    """The gaps between numbers, and those at both ends."""
    left = np.concatenate(([begin], read.last_t / SECOND))
    gaps = np.concatenate((read.first_t / SECOND, [end])) - left
    return tuple((float(left[at]), float(gaps[at])) for at in np.flatnonzero(gaps > SILENCE))
