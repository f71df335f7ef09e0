"""One exponential through readings, and everything else that the readings allow it to be.

y(t) = rest + swing exp(-t / tau), t from the first reading. For each time constant rest and swing follow by a
straight least-squares line (variable projection: Golub and Pereyra, 1973), so nothing has to be
guessed to start from. What the readings allow is every curve whose sum of squares lies above the best one's by no more
than s^2 F(1, nu) (the profile likelihood; Bates and Watts, 1988, chapter 6), nu by readings free of each other.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import fdtri, stdtrit

Floats = npt.NDArray[np.float64]
Number = Callable[[Floats, Floats, Floats], Floats]
"""Gives a number for each of many curves, by their rest, swing and tau."""

COVERAGE = 0.9
"""The share of cases in which what is foretold lies in its interval."""
LEAST_READINGS = 12
MOST_READINGS = 400
"""Of more readings the means of equal stretches are taken."""
SHORTEST, LONGEST = 0.02, 30.0
"""Time constants that are looked at, as shares of the time seen."""
BEND = 16.0
"""By how many variances a bent curve must do better than a straight line: four standard deviations."""
MISFIT = 0.999
"""So sure must it be that what is left over is a slow wave before the curve is called another one."""
WAVES = (2, 3, 4)
"""Half waves over the time seen that what is left over is looked through for."""
SMALL_WAVE, LARGE_LEFT = 0.01, 0.03
"""Shares of what the curve moved by: a smaller wave only widens the interval; readings further off the curve than the
second, several in a row to one side, follow another one whatever a test says. Bench habit, no source."""
FREE_BESIDE_WAVE = 8.0
"""Readings that count as free of each other beside such a small wave."""
_ANGLES = np.linspace(0.0, 2.0 * math.pi, 16, endpoint=False)

TOO_LITTLE = "too little seen"
NOT_BENT = "not bending yet"
SLOWER = "slower than seen so far"
NOT_ONE = "not one curve"
TOO_WIDE = "too uncertain"


@dataclass(frozen=True, slots=True, eq=False)
class Decay:
    """The best curve and all that the readings allow; `why` it is bad, empty where it is good.

    Attributes:
        rest, swing, tau: of the best curve; NaN where there is none.
        span: seconds from the first reading to the last.
        digit: the least by which two readings differ, as it was given.
        spread: standard deviation of a reading about the curve.
        allowed: rests, swings and time constants of curves that the readings allow, the best one first.
    """

    rest: float
    swing: float
    tau: float
    span: float
    digit: float
    spread: float
    allowed: tuple[Floats, Floats, Floats]
    why: str = ""

    @property
    def good(self) -> bool:
        """Whether anything may be foretold by it."""
        return not self.why

    @property
    def now(self) -> float:
        """What the curve reads at the last reading."""
        return self.rest + self.swing * math.exp(-self.span / self.tau)

    def range_of(self, number: Number) -> tuple[float, float, float]:
        """A number of the best curve, and its lowest and highest over all allowed ones; NaN counts as endless."""
        with np.errstate(all="ignore"):
            found = np.nan_to_num(number(*self.allowed), nan=math.inf, posinf=math.inf, neginf=-math.inf)
        return float(found[0]), float(found.min()), float(found.max())


def few(t: npt.ArrayLike, y: npt.ArrayLike, most: int = MOST_READINGS) -> tuple[Floats, Floats]:
    """Readings in time; of very many the means of stretches with as many readings each, the newest ones whole."""
    times, values = np.asarray(t, dtype=np.float64), np.asarray(y, dtype=np.float64)
    size = -(-len(times) // most)
    if size <= 1:
        return times, values
    over = len(times) % size
    return times[over:].reshape(-1, size).mean(axis=1), values[over:].reshape(-1, size).mean(axis=1)


def decay(
    t: Floats,
    y: Floats,
    *,
    digit: float = 0.0,
    coverage: float = COVERAGE,
    to_nothing: bool = False,
    small: float = SMALL_WAVE,
) -> Decay:
    """The exponential through readings in time.

    Args:
        t: seconds, rising; `y` as many readings.
        digit: the last digit of what was read; averaging makes no reading better than by it.
        coverage: the share of cases in which the true numbers are among those allowed.
        to_nothing: it decays to 0: the rest is not sought.
        small: the share of what it moved by, or of what is left to nothing, below which a wave only widens it.
    """
    search = _Search(t, y, digit, to_nothing, small)
    if len(t) < LEAST_READINGS or search.span <= 0.0:
        return search.bad(TOO_LITTLE)
    best = search.best()
    variance, free, misfit = search.noise(best)
    if not to_nothing:
        line = search.line()
        if (line - best[0]) / variance * free / len(t) < BEND:
            return search.bad(NOT_BENT)
    if misfit:
        return search.bad(NOT_ONE)
    if best[1] > search.span and not to_nothing:
        return search.bad(SLOWER)
    return search.allowed(best, variance, free, coverage)


class _Search:
    """The sums of squares of one set of readings."""

    def __init__(self, t: Floats, y: Floats, digit: float, to_nothing: bool, small: float) -> None:
        self.t = t - t[0] if len(t) else t
        self.y = y
        self.digit = digit
        self.to_nothing = to_nothing
        self.small = small
        self.span = float(self.t[-1]) if len(t) else 0.0
        self.sought = 2 if to_nothing else 3

    def bad(self, why: str) -> Decay:
        """No curve."""
        nothing = np.empty(0)
        nan = math.nan
        return Decay(nan, nan, nan, self.span, self.digit, nan, (nothing, nothing, nothing), why)

    def at(self, taus: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Of the best curve with each time constant: RSS, swing, its exponential's mean and power about it, rest."""
        e = np.exp(-self.t[None, :] / taus[:, None])
        mean = np.zeros(len(taus)) if self.to_nothing else e.mean(axis=1)
        level = 0.0 if self.to_nothing else float(self.y.mean())
        e = e - mean[:, None]
        y = self.y - level
        power = np.einsum("ij,ij->i", e, e)
        swing = e @ y / power
        left = y[None, :] - swing[:, None] * e
        return np.einsum("ij,ij->i", left, left), swing, mean, power, level - swing * mean

    def best(self) -> tuple[float, float]:
        """The least RSS and its time constant: by a grid, then by finer ones about its best place."""
        taus = np.geomspace(SHORTEST * self.span, LONGEST * self.span, 90)
        for _ in range(4):
            rss = self.at(taus)[0]
            i = int(np.argmin(rss))
            low, high = taus[max(0, i - 1)], taus[min(len(taus) - 1, i + 1)]
            taus = np.geomspace(low, high, 15)
        rss = self.at(taus)[0]
        i = int(np.argmin(rss))
        return float(rss[i]), float(taus[i])

    def line(self) -> float:
        """The RSS of a straight line."""
        columns = np.stack((np.ones(len(self.t)), self.t / self.span), axis=1)
        return _left(columns, self.y)[0]

    def noise(self, best: tuple[float, float]) -> tuple[float, float, bool]:
        """The variance of a reading, how many readings are free of each other, and whether a slow wave is left over.

        Readings that follow each other closely err alike (the mains wanders, a digit is rounded): with a correlation r
        between neighbours n of them count as n (1 - r) / (1 + r) (Bayley and Hammersley, 1946). The correlation
        is that of what is left once slow waves are taken out too, or a wrong curve would pass for such wandering.
        """
        u, e = self.t / self.span, np.exp(-self.t / best[1])
        own = [e, u * e] if self.to_nothing else [np.ones(len(u)), e, u * e]
        more = [np.cos(math.pi * k * u) for k in WAVES]
        if self.to_nothing:
            more.append(np.ones(len(u)))
        first, _ = _left(np.stack(own, axis=1), self.y)
        second, left = _left(np.stack(own + more, axis=1), self.y)
        n, beyond = len(u), len(u) - len(own) - len(more)
        floor = max(self.digit**2 / 12.0, (1e-9 * float(np.ptp(self.y))) ** 2, 1e-300)
        variance = max(best[0] / (n - self.sought), floor)
        if beyond < 1:
            return variance, float(n), False
        inner = max(second / beyond, floor)
        near = float(left[1:] @ left[:-1]) / max(float(left @ left), 1e-300)
        # Residuals of so many numbers sought are a little less alike than the readings are.
        alike = min(near + (len(own) + len(more)) / n * (1.0 + near), 0.98)
        near = alike if near > 1.3 / math.sqrt(n) else 0.0
        free = n * (1.0 - near) / (1.0 + near)
        share = (first - second) / len(more) / inner * free / n
        wave = share > float(fdtri(len(more), max(free - len(own) - len(more), 1.0), MISFIT))
        curve = self.curve(best[1])
        moved = float(np.ptp(curve))
        # Of what falls to nothing it counts how long what is left of it takes.
        of = min(moved, abs(float(curve[-1]))) if self.to_nothing else moved
        large = math.sqrt((first - second) / n) > self.small * of
        off = math.sqrt(best[0] / n) > LARGE_LEFT * moved and in_rows(self.y - curve)
        return variance, min(free, FREE_BESIDE_WAVE) if wave else free, (wave and large) or off

    def curve(self, tau: float) -> Floats:
        """The best curve with this time constant, at each reading."""
        _, swing, _, _, rest = self.at(np.array([tau]))
        return np.asarray(rest[0] + swing[0] * np.exp(-self.t / tau), dtype=np.float64)

    def allowed(self, best: tuple[float, float], variance: float, free: float, coverage: float) -> Decay:
        """The best curve with all that the readings allow."""
        n = len(self.t)
        slack = (
            variance * n / free * float(stdtrit(max(free - self.sought, 1.0), (1.0 + coverage) / 2.0)) ** 2
        )
        taus = best[1] * np.geomspace(1.0 / 12.0, 12.0, 401)
        taus = np.concatenate(([best[1]], taus))
        rss, swing, mean, power, _ = self.at(taus)
        room = slack - (rss - best[0])
        inside = room > 0.0
        if inside[1] or inside[-1]:
            return self.bad(TOO_WIDE)
        taus, swing, mean, power, room = (one[inside] for one in (taus, swing, mean, power, room))
        # Along the rim of what is allowed with each time constant; the best itself comes first.
        swings = swing[:, None] + np.sqrt(room / power)[:, None] * np.cos(_ANGLES)
        if self.to_nothing:
            rests = np.zeros_like(swings)
        else:
            rests = (
                float(self.y.mean()) - swings * mean[:, None] + np.sqrt(room / n)[:, None] * np.sin(_ANGLES)
            )
        rest = 0.0 if self.to_nothing else float(self.y.mean()) - swing[0] * mean[0]
        every = (
            np.concatenate(([rest], rests.ravel())),
            np.concatenate(([swing[0]], swings.ravel())),
            np.concatenate(([taus[0]], np.repeat(taus, len(_ANGLES)))),
        )
        spread = math.sqrt(variance)
        return Decay(float(rest), float(swing[0]), best[1], self.span, self.digit, spread, every)


def in_rows(left: Floats) -> bool:
    """Whether readings next to each other lie to the same side of a curve, more than chance lets them."""
    return float(left[1:] @ left[:-1]) > 2.5 / math.sqrt(len(left)) * float(left @ left)


def _left(columns: Floats, y: Floats) -> tuple[float, Floats]:
    """What a straight combination of columns leaves of y: its sum of squares, and each of it."""
    found, *_ = np.linalg.lstsq(columns, y, rcond=None)
    left = y - columns @ found
    return float(left @ left), left
