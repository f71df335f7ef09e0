"""Where a creeping reading is heading: the end of an exponential through what was read (rule 34).

A capacitor across a part charges from the meter's own current, and its reading follows
`end - left exp(-t / tau)`. For a given tau that is a straight line in the exponential, solved by least squares;
tau is looked for on a ladder.
"""

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from benchlog.domain.quantity import show

LEAST = 8
"""Readings from which a curve is told at all."""
LEAST_LATER = 5
LATER = 0.4
"""The share of the time that is left out for a second look: both must come to the same end."""
AGREE = 0.05
"""How far the two may lie apart, as a fraction of where it ends, or of the way it has come where that is near zero."""
ROUGH = 0.05
"""The scatter about the curve, as a fraction of what it has moved, above which it is no exponential."""
TO_GO = 0.01
"""What may be left of the way, as a fraction, for a reading that counts as come to rest."""
_TAUS = np.geomspace(0.05, 1.5, 90)
"""Time constants that are tried, as fractions of the time seen; a slower one has shown too little of itself."""

_Floats = npt.NDArray[np.float64]


def heading(t: Sequence[float], values: Sequence[float]) -> float | None:
    """The value that readings at times `t` (any unit, rising) come to; None where no exponential fits them."""
    times, read = np.asarray(t, dtype=np.float64), np.asarray(values, dtype=np.float64)
    end = _end(times, read)
    if end is None or abs(end - read[-1]) > np.ptp(read):
        return None
    if abs(end - read[-1]) <= TO_GO * abs(end):
        return end
    later = times >= times[0] + LATER * (times[-1] - times[0])
    again = _end(times[later], read[later], least=LEAST_LATER)
    near = AGREE * max(abs(end), float(np.ptp(read)))
    return end if again is not None and abs(again - end) <= near else None


def moving(t: Sequence[float], values: Sequence[float], floor: float = 0.0) -> bool:
    """Whether readings that agree with their neighbours still have a way to go, more than `floor` of their unit."""
    end = _end(np.asarray(t, dtype=np.float64), np.asarray(values, dtype=np.float64))
    return end is not None and abs(end - values[-1]) > max(TO_GO * abs(end), floor)


def _end(times: _Floats, read: _Floats, least: int = LEAST) -> float | None:
    """Where the best exponential ends; None where that is a bad one, or has shown too little of itself."""
    if len(times) < least or not times[-1] > times[0]:
        return None
    since = times - times[0]
    falls = np.exp(-since / (_TAUS[:, None] * since[-1]))
    about = falls - falls.mean(axis=1, keepdims=True)
    wanted = read - read.mean()
    left = (about @ wanted) / (about**2).sum(axis=1)
    scatter = np.sqrt(((wanted - left[:, None] * about) ** 2).mean(axis=1))
    best = int(scatter.argmin())
    moved = abs(left[best]) * (falls[best][0] - falls[best][-1])
    if best == len(_TAUS) - 1 or not scatter[best] < ROUGH * moved:
        return None
    end = float(read.mean() - left[best] * falls[best].mean())
    return end if math.isfinite(end) else None


def in_words(value: float, end: float | None, unit: str) -> str:
    """A reading that did not come to rest, as it is shown: `rising, heading for 4.68 kΩ`."""
    if end is None:
        return "it does not stand still, and nothing tells where it is heading"
    return f"{'rising' if end > value else 'falling'}, heading for {show(end, unit, digits=3)}"
