"""What a trace did between two moments: by how much and how fast it changed, its mean, lowest and highest.

Only readings that carry a number count, and how many carried none is said beside. Values SI. No clock and no I/O.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from benchlog.domain.trace import SECOND

Floats = npt.NDArray[np.float64]
Times = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Between:
    """One trace between two moments, both included; None where there are too few numbers to say.

    Attributes:
        count, missing: readings with a number, and those without one.
        difference: by how much the last number is more than the first.
        slope: of the straight line that fits all numbers best (least squares), per second.
        mean, lowest, highest: of the readings as they were taken, each counting once.
        spread: their standard deviation, with n - 1.
    """

    count: int
    missing: int
    difference: float | None = None
    slope: float | None = None
    mean: float | None = None
    lowest: float | None = None
    highest: float | None = None
    spread: float | None = None


@dataclass(frozen=True, slots=True)
class _Sums:
    """Numbers in a row, as far as they are needed: means and squares about them, of seconds and values from the first.

    What is left above the first number is small, so that nothing is lost beside a large steady part.
    """

    n: int
    start: int
    first: float
    last: float
    lowest: float
    highest: float
    t: float
    above: float
    tt: float
    tv: float
    vv: float


def between(stretches: Iterable[tuple[Times, Floats]]) -> Between:
    """The readings of stretches that follow each other: plan nanoseconds, and values, NaN for one without a number.

    They are gone through once and none is kept, so that a long run needs no more room than a short one.
    """
    known, missing = None, 0
    for t, value in stretches:
        good = np.isfinite(value)
        missing += int(len(value) - np.count_nonzero(good))
        if good.any():
            here = _sums(t[good], value[good])
            known = here if known is None else _joined(known, here)
    if known is None:
        return Between(0, missing)
    several = known.n > 1
    return Between(
        known.n,
        missing,
        difference=known.last - known.first if several else None,
        slope=known.tv / known.tt if known.tt > 0.0 else None,
        mean=known.first + known.above,
        lowest=known.lowest,
        highest=known.highest,
        spread=math.sqrt(known.vv / (known.n - 1)) if several else None,
    )


def _sums(t: Times, value: Floats) -> _Sums:
    since, above = (t - t[0]) / SECOND, value - value[0]
    t_mean, mean = float(since.mean()), float(above.mean())
    since -= t_mean
    above -= mean
    return _Sums(
        n=len(value),
        start=int(t[0]),
        first=float(value[0]),
        last=float(value[-1]),
        lowest=float(value.min()),
        highest=float(value.max()),
        t=t_mean,
        above=mean,
        tt=float(since @ since),
        tv=float(since @ above),
        vv=float(above @ above),
    )


def _joined(one: _Sums, two: _Sums) -> _Sums:
    """Both together, the earlier first (Chan, Golub and LeVeque, 1979: updating formulae for sample variances)."""
    n = one.n + two.n
    dt = (two.start - one.start) / SECOND + two.t - one.t
    dv = (two.first - one.first) + two.above - one.above
    share, weight = two.n / n, one.n * two.n / n
    return _Sums(
        n=n,
        start=one.start,
        first=one.first,
        last=two.last,
        lowest=min(one.lowest, two.lowest),
        highest=max(one.highest, two.highest),
        t=one.t + share * dt,
        above=one.above + share * dv,
        tt=one.tt + two.tt + weight * dt * dt,
        tv=one.tv + two.tv + weight * dt * dv,
        vv=one.vv + two.vv + weight * dv * dv,
    )
