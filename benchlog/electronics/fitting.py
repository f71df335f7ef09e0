"""Nonlinear least squares with standard errors, and an honest verdict: good, or bad with the reason in words."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

Floats = npt.NDArray[np.float64]
Model = Callable[..., Floats]
"""Gives y at each x for the numbers sought, which follow x one by one."""

MOST_STEPS = 4000
STEP = float(np.cbrt(np.finfo(np.float64).eps))
"""Of each number, for a slope by central differences."""
NOTHING_TOLD = 1e-12
"""A combination of numbers that moves the curve by less than this share of what another does is not told at all."""
EXPLAINS = 0.9
"""A curve that leaves more than this share of the scatter about the mean says no more than the mean."""
RUNS_FROM = 20
"""Readings from which the order of their residuals can be judged."""
RUNS = 3.3
"""Standard deviations by which there may be fewer runs of one sign than chance gives: one case in two thousand."""
BY_DIGIT = 0.75
"""Residuals within this many of the meter's last digits are the digit's own, in whatever order they come."""

TOO_FEW = "too few readings"
NOT_CONVERGED = "it did not converge"
NOT_TOLD = "the readings do not tell all of its numbers"
NO_BETTER = "it converged on a curve no better than their mean"
NOT_RANDOM = "what it leaves is not random: the curve is another one"


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A curve by least squares.

    Attributes:
        values: the numbers sought.
        errors: their standard errors; infinite where the readings do not tell them.
        rss: the sum of the squared residuals; `freedom` how many readings there are beyond the numbers sought.
        residuals: what each reading lies above the curve.
        why: why it is bad, as the end of a sentence; empty where it is good.
    """

    values: Floats
    errors: Floats
    rss: float
    freedom: int
    residuals: Floats
    why: str = ""

    @property
    def good(self) -> bool:
        """Whether its numbers may be shown."""
        return not self.why

    @property
    def spread(self) -> float:
        """Residual standard deviation."""
        return math.sqrt(self.rss / self.freedom) if self.freedom > 0 else math.nan


def fit(
    model: Model, x: npt.ArrayLike, y: npt.ArrayLike, starts: Sequence[Sequence[float]], *, digit: float = 0.0
) -> Fit:
    """The curve of least squares from the best of several starts; `digit` is the last digit of what was read.

    The method of Levenberg and Marquardt (scipy.optimize.least_squares, MINPACK's). The standard errors are those
    of the curve taken as straight about its end: the roots of the diagonal of s^2 (J'J)^-1 with s^2 = RSS / (n - p)
    (as NIST's Statistical Reference Datasets certify them).
    """
    found = [_from(model, _floats(x), _floats(y), _floats(start), digit) for start in starts]
    good = [one for one in found if one.good]
    return min(good or found, key=lambda one: one.rss)


def _from(model: Model, x: Floats, y: Floats, start: Floats, digit: float) -> Fit:
    freedom = len(y) - len(start)
    infinite = np.full(len(start), math.inf)
    if freedom < 1 or not (np.all(np.isfinite(x)) and np.all(np.isfinite(y))):
        return Fit(start, infinite, math.inf, freedom, np.full(len(y), math.nan), TOO_FEW)
    scale = max(float(np.max(np.abs(y))), 1.0)

    def misses(values: Floats) -> Floats:
        # Where a step leaves what the model can be computed for it is merely very far off.
        return np.nan_to_num(
            _floats(model(x, *values)) - y, nan=1e30 * scale, posinf=1e30 * scale, neginf=-1e30 * scale
        )

    with np.errstate(all="ignore"):
        came = least_squares(
            misses, start, method="lm", x_scale="jac", ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=MOST_STEPS
        )
        rss = float(came.fun @ came.fun)
        errors = _errors(_slopes(misses, _floats(came.x)), _floats(came.x), rss / freedom)
    residuals = -_floats(came.fun)
    return Fit(came.x, errors, rss, freedom, residuals, _why(bool(came.success), errors, residuals, y, digit))


def _slopes(misses: Callable[[Floats], Floats], values: Floats) -> Floats:
    """J at the end by central differences: those the method has stepped by are only half as exact."""
    columns = []
    for at, value in enumerate(values):
        step = np.zeros(len(values))
        step[at] = STEP * (abs(value) or 1.0)
        columns.append((misses(values + step) - misses(values - step)) / (2.0 * step[at]))
    return np.stack(columns, axis=1)


def _errors(jac: Floats, values: Floats, variance: float) -> Floats:
    """Standard errors by the singular values of J, its columns on one scale; infinite where J does not tell them."""
    scale = np.where(values != 0.0, np.abs(values), 1.0)
    if not np.all(np.isfinite(jac)):
        return np.full(len(values), math.inf)
    _, singular, right = np.linalg.svd(jac * scale, full_matrices=False)
    if singular[-1] <= NOTHING_TOLD * singular[0]:
        return np.full(len(values), math.inf)
    covariance = (right.T / singular**2) @ right * variance
    return np.asarray(scale * np.sqrt(np.diag(covariance)), dtype=np.float64)


def _why(converged: bool, errors: Floats, residuals: Floats, y: Floats, digit: float) -> str:
    rss, about_mean = float(residuals @ residuals), float(np.sum((y - np.mean(y)) ** 2))
    if not converged:
        return NOT_CONVERGED
    if not np.all(np.isfinite(errors)):
        return NOT_TOLD
    if rss > EXPLAINS * about_mean:
        return NO_BETTER
    return "" if random(residuals, digit) else NOT_RANDOM


def random(residuals: Floats, digit: float = 0.0) -> bool:
    """Whether residuals come in the order of chance, by how often their sign changes.

    The runs test of Wald and Wolfowitz, 1940: n readings, a above and b below, come in 1 + 2ab/n runs, with
    variance 2ab(2ab - n) / (n^2 (n - 1)). Fewer is what counts: those of a wrong curve stay on one side for long.
    """
    above = residuals > 0.0
    n, a = len(residuals), int(np.count_nonzero(above))
    b = n - a
    if n < RUNS_FROM or float(np.max(np.abs(residuals))) <= BY_DIGIT * digit:
        return True
    if not a or not b:
        return False
    runs = 1 + sum(bool(one) != bool(other) for one, other in pairwise(above))
    twice = 2.0 * a * b
    variance = twice * (twice - n) / (n * n * (n - 1.0))
    return runs >= 1.0 + twice / n - RUNS * math.sqrt(variance)


def _floats(values: npt.ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)
