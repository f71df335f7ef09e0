"""What a trace did between two moments: by how much and how fast it changed, its mean, lowest and highest.

Only readings that carry a number count, and how many carried none is said beside. Values SI, times plan seconds. No
clock and no I/O.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


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


def between(t: Floats, value: Floats, from_t: float, to_t: float) -> Between:
    """The readings from one moment to another, given oldest first with NaN for one without a number."""
    first, last = np.searchsorted(t, from_t, side="left"), np.searchsorted(t, to_t, side="right")
    t, value = t[first:last], value[first:last]
    good = np.isfinite(value)
    missing = int(len(value) - np.count_nonzero(good))
    t, value = t[good], value[good]
    if not len(value):
        return Between(0, missing)
    # What is left above the first reading is small, so that nothing is lost beside a large steady part.
    above = value - value[0]
    mean = float(value[0] + above.mean())
    return Between(
        len(value),
        missing,
        difference=float(above[-1]) if len(value) > 1 else None,
        slope=_slope(t, above),
        mean=mean,
        lowest=float(value.min()),
        highest=float(value.max()),
        spread=float(above.std(ddof=1)) if len(value) > 1 else None,
    )


def _slope(t: Floats, value: Floats) -> float | None:
    """The slope of the best straight line; None where no time has passed."""
    if not len(t) or t[-1] <= t[0]:
        return None
    since = t - t[0]
    since -= since.mean()
    return float(since @ (value - value.mean()) / (since @ since))
