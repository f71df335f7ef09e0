"""Points of a trace as the graph holds them, and arrays that grow. Times are plan seconds, values SI. No Qt."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

BLOCK = 64
"""So many readings give two extremes where the older ones of many are held by those."""


class Growing:
    """An array that grows at its end without being copied each time."""

    __slots__ = ("_room", "n")

    def __init__(self, kind: type[np.generic]) -> None:
        self._room: npt.NDArray[Any] = np.empty(256, dtype=kind)
        self.n = 0

    @property
    def all(self) -> npt.NDArray[Any]:
        """What it holds; a view, valid until it grows."""
        return self._room[: self.n]

    def add(self, values: npt.ArrayLike) -> None:
        """Put values at the end."""
        new = np.atleast_1d(np.asarray(values, dtype=self._room.dtype))
        need = self.n + len(new)
        if need > len(self._room):
            room = np.empty(max(need, 2 * len(self._room)), dtype=self._room.dtype)
            room[: self.n] = self._room[: self.n]
            self._room = room
        self._room[self.n : need] = new
        self.n = need


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """Readings of a trace, or of readings in a row their extremes; see `domain.detail.Picture`.

    Attributes:
        t, value: the points; `joined` whether a line leads to each from the one before.
        broken: whether readings without a number came after the last.
        width: no stretch that two points stand for is longer, s; 0 where nothing is left out.
    """

    t: Floats
    value: Floats
    joined: Flags
    broken: bool = False
    width: float = 0.0

    def __len__(self) -> int:
        return len(self.t)

    def after(self, t: float) -> "Points":
        """Those after a time."""
        some = slice(int(np.searchsorted(self.t, t, side="right")), None)
        return Points(self.t[some], self.value[some], self.joined[some], self.broken, self.width)

    def then(self, later: "Points") -> "Points":
        """These and later ones."""
        if not len(self):
            return later
        return Points(
            np.concatenate((self.t, later.t)),
            np.concatenate((self.value, later.value)),
            np.concatenate((self.joined, later.joined)),
            later.broken,
            max(self.width, later.width),
        )

    def fewer(self, most: int) -> "Points":
        """These where there are no more than so many; else the older half of them by its extremes."""
        stop = max(0, len(self) - most // 2) // BLOCK * BLOCK
        if len(self) <= most or not stop:
            return self
        old = extremes(self.t[:stop], self.value[:stop], self.joined[:stop], BLOCK)
        joined = self.joined[stop:].copy()
        joined[:1] &= not old.broken
        # What a point stands for already may reach beyond the two ends of its stretch.
        width = old.width + self.width
        return Points(old.t, old.value, old.joined, old.broken, width).then(
            Points(self.t[stop:], self.value[stop:], joined, self.broken, self.width)
        )


NO_POINTS = Points(np.empty(0), np.empty(0), np.empty(0, dtype=np.bool_))


def extremes(t: Floats, value: Floats, joined: Flags, size: int) -> Points:
    """The lowest and the highest of each `size` readings, a whole number of times as many, in the order of time.

    The line is broken wherever it was broken in a stretch, or at the beginning of it; and behind the last one, where
    that holds a break, which may lie behind both of its points.
    """
    heads = np.arange(0, len(t), size)
    blocks, links = value.reshape(-1, size), joined.reshape(-1, size)
    low, high = heads + blocks.argmin(axis=1), heads + blocks.argmax(axis=1)
    whole: Flags = np.all(links[:, 1:], axis=1)
    leads: Flags = np.logical_and(links[:, 0], whole)
    leads[1:] &= whole[:-1]
    at = np.column_stack((np.minimum(low, high), np.maximum(low, high)))
    kept = np.ones(at.shape, dtype=np.bool_)
    kept[:, 1] = at[:, 1] > at[:, 0]
    picked = at[kept]
    width = float(np.max(t[size - 1 :: size] - t[::size], initial=0.0))
    broken = bool(len(whole)) and not bool(whole[-1])
    return Points(t[picked], value[picked], np.column_stack((leads, whole))[kept], broken, width)
