"""A trace as the graph keeps it: growing arrays, and its extremes in as many columns as there are pixels.

Whatever the zoom, every reading in view lies between the low and the high of its own column: a spike of a
single reading stays where it was and as tall as it was. Of a long run the newest readings are held one by one and
the older ones by their extremes; what a closer look needs is read from the file and laid over them.
Times are plan seconds, values SI.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from benchlog.domain.trace import LOST
from benchlog.window.points import BLOCK, NO_POINTS, Flags, Floats, Growing, Indices, Points, extremes

FACTOR = 16
"""How many entries of one level make one of the next."""

AT_ONCE = 200_000
"""Up to so many readings in view are gone through one by one; beyond, blocks already closed are quicker."""

GAP = LOST
"""A silence longer than this is drawn as a gap, s: as long as it takes to call a trace lost."""

MOST = 1_000_000
"""Readings of one trace held one by one; of more, the older half is held by its extremes, two of `BLOCK` each."""

WIDEST = 2.0
"""How many columns two points may stand for: as many as the store gives for a picture."""


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """What lies in each column that holds a reading, left to right.

    Attributes:
        column: its number, from 0.
        low, high: the extremes of its readings.
        first_t, first, last_t, last: its first and last reading.
        joined: whether a line leads to it from the reading before.
        gap: whether the line is broken somewhere in it, or at its left edge.
        before, after: the nearest reading outside the range on either side that a line leads to.
    """

    column: Indices
    low: Floats
    high: Floats
    first_t: Floats
    first: Floats
    last_t: Floats
    last: Floats
    joined: Flags
    gap: Flags
    before: tuple[float, float] | None = None
    after: tuple[float, float] | None = None

    def __len__(self) -> int:
        return len(self.column)


class Series:
    """The readings of one trace, in time."""

    def __init__(self, gap: float = GAP, most: int = MOST) -> None:
        self.gap = gap
        self.most = most
        self.clear()

    def clear(self) -> None:
        """Forget every reading."""
        self._t = Growing(np.float64)
        self._v = Growing(np.float64)
        self._joined = Growing(np.bool_)
        self._levels: list[tuple[Growing, Growing]] = []
        self._broken = True
        self._whole_from = -math.inf
        """From this time on every reading is there; before it extremes of stretches up to `_coarse` seconds long."""
        self._coarse = 0.0
        self._closer: tuple[float, float, Points] | None = None

    def __len__(self) -> int:
        return self._t.n

    @property
    def span(self) -> tuple[float, float] | None:
        """The times of the first and the last reading."""
        return (float(self._t.all[0]), float(self._t.all[-1])) if len(self) else None

    @property
    def last(self) -> float | None:
        """The newest value; None where there is none, or where what came after it was no number."""
        return float(self._v.all[-1]) if len(self) and not self._broken else None

    # --- filling ---------------------------------------------------------------------------------

    def append(self, t: float, value: float | None) -> None:
        """Take one reading; one without a number breaks the line."""
        if value is None or not math.isfinite(value):
            self._broken = True
            return
        if len(self) and t < self._t.all[-1]:
            self._merge(np.array([t]), np.array([value]), np.array([not self._broken]))
            return
        near = len(self) > 0 and t - self._t.all[-1] <= self.gap
        self._joined.add(near and not self._broken)
        self._t.add(t)
        self._v.add(value)
        self._broken = False
        if self._t.n % FACTOR == 0:
            self._raise_levels()
            self._shorten()

    def extend(self, t: npt.ArrayLike, value: npt.ArrayLike) -> None:
        """Take many readings, oldest first; NaN stands for one without a number."""
        times, values = np.asarray(t, dtype=np.float64), np.asarray(value, dtype=np.float64)
        if not len(times):
            return
        good = np.isfinite(values)
        # A reading is joined to the one before it where that one was a number too.
        joined = np.concatenate(([not self._broken], good[:-1]))
        late = len(self) > 0 and bool(np.any(good)) and times[good][0] < self._t.all[-1]
        if late or np.any(np.diff(times) < 0.0):
            self._merge(times[good], values[good], joined[good])
            return
        self._broken = bool(not good[-1])
        before = self._t.all[-1] if len(self) else -math.inf
        times, joined = times[good], joined[good]
        joined &= np.diff(times, prepend=before) <= self.gap
        self._t.add(times)
        self._v.add(values[good])
        self._joined.add(joined)
        self._raise_levels()
        self._shorten()

    def add(self, points: Points) -> None:
        """Take points that come after everything that is there."""
        for kept, new in ((self._t, points.t), (self._v, points.value), (self._joined, points.joined)):
            kept.add(new)
        if len(points) or points.broken:
            self._broken = points.broken
        if points.width > 0.0 and len(points):
            self._whole_from, self._coarse = float(points.t[-1]), max(self._coarse, points.width)
        self._raise_levels()
        self._shorten()

    def look_closer(self, t0: float, t1: float, points: Points) -> None:
        """Lay over a stretch what was read for it from the file; it takes the place of another such."""
        self._closer = (t0, t1, points)

    def lacks(self, t0: float, t1: float, column: float) -> bool:
        """Whether the file could show more of a stretch in columns of so many seconds than is known here."""
        if self._coarse <= WIDEST * column or t0 >= self._whole_from or not len(self):
            return False
        if self._closer is None:
            return True
        from_t, to_t, points = self._closer
        start, end = max(t0, float(self._t.all[0])), min(t1, self._whole_from)
        covers = from_t <= start and end <= to_t
        return not covers or points.width > 1.001 * WIDEST * column

    def holds(self, t: Floats) -> Flags:
        """Which of these times are those of a reading that is there."""
        times = self._t.all
        if not len(times):
            return np.zeros(len(t), dtype=np.bool_)
        at = np.searchsorted(times, t)
        off = np.minimum(
            np.abs(times[np.minimum(at, len(times) - 1)] - t), np.abs(times[np.maximum(at - 1, 0)] - t)
        )
        return np.asarray(off < 1e-9, dtype=np.bool_)

    def _shorten(self) -> None:
        """Hold the older readings by their extremes, where there are too many."""
        start = int(np.searchsorted(self._t.all, self._whole_from, side="right"))
        if self._t.n - start <= self.most:
            return
        count = (self._t.n - start - self.most // 2) // BLOCK
        stop = start + count * BLOCK
        old = slice(start, stop)
        few = extremes(self._t.all[old], self._v.all[old], self._joined.all[old], BLOCK)
        self._coarse = max(self._coarse, few.width)
        self._whole_from = float(self._t.all[stop - 1])
        if few.broken:
            self._joined.all[stop : stop + 1] = False
        parts = ((self._t, few.t), (self._v, few.value), (self._joined, few.joined))
        fewer = [np.concatenate((kept.all[:start], new, kept.all[stop:])) for kept, new in parts]
        self._t, self._v, self._joined = Growing(np.float64), Growing(np.float64), Growing(np.bool_)
        for kept, new in zip((self._t, self._v, self._joined), fewer, strict=True):
            kept.add(new)
        self._levels = []
        self._raise_levels()

    def _merge(self, t: Floats, value: Floats, joined: Flags) -> None:
        """Put late readings where they belong; rare, so everything is built anew."""
        times = np.concatenate((self._t.all, t))
        order = np.argsort(times, kind="stable")
        times = times[order]
        values = np.concatenate((self._v.all, value))[order]
        links = np.concatenate((self._joined.all, joined))[order]
        links &= np.diff(times, prepend=-math.inf) <= self.gap
        broken, held = self._broken, (self._whole_from, self._coarse, self._closer)
        self.clear()
        self._broken = broken
        self._whole_from, self._coarse, self._closer = held
        for kept, new in ((self._t, times), (self._v, values), (self._joined, links)):
            kept.add(new)
        self._raise_levels()

    def _raise_levels(self) -> None:
        """Close every block of every level that has become whole."""
        lows, highs, k = self._v, self._v, 0
        while lows.n >= FACTOR:
            if k == len(self._levels):
                self._levels.append((Growing(np.float64), Growing(np.float64)))
            low, high = self._levels[k]
            start, stop = low.n * FACTOR, lows.n // FACTOR * FACTOR
            if stop == start:
                return
            low.add(lows.all[start:stop].reshape(-1, FACTOR).min(axis=1))
            high.add(highs.all[start:stop].reshape(-1, FACTOR).max(axis=1))
            lows, highs, k = low, high, k + 1

    # --- asking ----------------------------------------------------------------------------------

    def near(self, t: float) -> tuple[float, float] | None:
        """The reading nearest to a time, where one is no further than the gap; never one in between.

        Where only extremes are known it is the nearest of those.
        """
        times, values, links, _ = self._seen(t, t)
        i = int(np.searchsorted(times, t))
        found = [j for j in (i - 1, i) if 0 <= j < len(times)]
        if not found:
            return None
        j = min(found, key=lambda one: abs(float(times[one]) - t))
        # Between two extremes that a line joins others were read.
        reach = max(self.gap, self._coarse) if 0 < i < len(times) and links[i] else self.gap
        return (float(times[j]), float(values[j])) if abs(float(times[j]) - t) <= reach else None

    def _seen(self, t0: float, t1: float) -> tuple[Floats, Floats, Flags, bool]:
        """What is known of a stretch, and whether that is simply all that is held."""
        times, values, links = self._t.all, self._v.all, self._joined.all
        closer = self._closer[2] if self._closer is not None else NO_POINTS
        if not len(closer) or closer.t[-1] < t0 or closer.t[0] > t1 or not len(times):
            return times, values, links, True
        start, stop = np.searchsorted(times, closer.t[0]), np.searchsorted(times, closer.t[-1], side="right")
        # One point more at either end says where the line comes from and leads to.
        first = min(max(0, int(np.searchsorted(times, t0)) - 1), start)
        last = max(int(np.searchsorted(times, t1, side="right")) + 1, stop)
        head, tail = slice(first, start), slice(stop, last)
        inner = closer.joined.copy()
        # No break between two points held is no break up to what lies between them.
        inner[0] = bool(start < len(times) and links[start]) if start > 0 else False
        return (
            np.concatenate((times[head], closer.t, times[tail])),
            np.concatenate((values[head], closer.value, values[tail])),
            np.concatenate((links[head], inner, links[tail])),
            False,
        )

    def columns(self, t0: float, t1: float, width: int) -> Columns:
        """The readings from `t0` to `t1` in `width` columns of equal time, each with its own extremes."""
        times, values, links, whole = self._seen(t0, t1)
        at = np.searchsorted(times, edges(t0, t1, width))
        at[-1] = np.searchsorted(times, t1, side="right")
        held = np.flatnonzero(at[1:] > at[:-1])
        starts, stops = at[held], at[held + 1]
        broken = ~links[: at[-1]]
        broken[:1] = False
        if whole and at[-1] - at[0] > AT_ONCE:
            low, high = self._extremes(0, starts, stops)
        else:
            # Columns that hold something lie end to end, so one sweep over the readings does.
            low = np.minimum.reduceat(values[: at[-1]], starts) if len(held) else np.empty(0)
            high = np.maximum.reduceat(values[: at[-1]], starts) if len(held) else np.empty(0)
        first, end = int(at[0]), int(at[-1])
        reaches_in = 0 < first < len(times) and bool(links[first])
        reaches_out = 0 < end < len(times) and bool(links[end])
        return Columns(
            column=held,
            low=low,
            high=high,
            first_t=times[starts],
            first=values[starts],
            last_t=times[stops - 1],
            last=values[stops - 1],
            joined=links[starts],
            gap=np.logical_or.reduceat(broken, starts) if len(held) else np.empty(0, dtype=np.bool_),
            before=(float(times[first - 1]), float(values[first - 1])) if reaches_in else None,
            after=(float(times[end]), float(values[end])) if reaches_out else None,
        )

    def _extremes(self, level: int, starts: Indices, stops: Indices) -> tuple[Floats, Floats]:
        """Lowest and highest of each range of a level's entries; whole blocks come from the level above."""
        lows, highs = (self._v, self._v) if level == 0 else self._levels[level - 1]
        if level == len(self._levels):
            return _fold(lows.all, highs.all, starts, stops)
        low = np.full(len(starts), math.inf)
        high = np.full(len(starts), -math.inf)
        inner_starts, inner_stops = -(-starts // FACTOR), stops // FACTOR
        whole = inner_stops > inner_starts
        some = np.flatnonzero(whole)
        if len(some):
            low[some], high[some] = self._extremes(level + 1, inner_starts[some], inner_stops[some])
        left_stop = np.where(whole, inner_starts * FACTOR, stops)
        right_start = np.where(whole, inner_stops * FACTOR, stops)
        for a, b in ((starts, left_stop), (right_start, stops)):
            rest = np.flatnonzero(b > a)
            least, most = _fold(lows.all, highs.all, a[rest], b[rest])
            low[rest], high[rest] = np.minimum(low[rest], least), np.maximum(high[rest], most)
        return low, high


def _fold(lows: Floats, highs: Floats, starts: Indices, stops: Indices) -> tuple[Floats, Floats]:
    """The extremes of each range of entries, ranges being short and none of them empty."""
    if not len(starts):
        return np.empty(0), np.empty(0)
    lengths = stops - starts
    heads = np.concatenate(([0], np.cumsum(lengths)[:-1]))
    picked = np.arange(int(lengths.sum())) + np.repeat(starts - heads, lengths)
    return np.minimum.reduceat(lows[picked], heads), np.maximum.reduceat(highs[picked], heads)


def edges(t0: float, t1: float, width: int) -> Floats:
    """The times at which columns begin, and the end of the last."""
    return np.linspace(t0, t1, width + 1)


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """A line as upright strokes, one a column: where the line is in that column, lowest and highest.

    `gaps` are the columns in which the line begins anew after a silence or a reading without a number, so that a gap
    narrower than a column is seen too.
    """

    column: Indices
    low: Floats
    high: Floats
    gaps: Indices


def stroke(columns: Columns, t0: float, t1: float, width: int) -> Stroke:
    """Draw the line through the readings: straight from one to the next where they are joined, else nothing."""
    times = np.column_stack((columns.first_t, columns.last_t)).ravel()
    values = np.column_stack((columns.first, columns.last)).ravel()
    # Entry k says whether a line leads from point k to point k + 1.
    leads = np.ones(len(times), dtype=bool)
    leads[1::2] = np.append(columns.joined[1:], columns.after is not None) if len(columns) else False
    if columns.before is not None:
        joins = bool(columns.joined[0]) if len(columns) else columns.after is not None
        times = np.insert(times, 0, columns.before[0])
        values = np.insert(values, 0, columns.before[1])
        leads = np.insert(leads, 0, joins)
    if columns.after is not None:
        times = np.append(times, columns.after[0])
        values = np.append(values, columns.after[1])
        leads = np.append(leads, False)
    low = np.full(width, np.nan)
    high = np.full(width, np.nan)
    low[columns.column], high[columns.column] = columns.low, columns.high
    if len(times):
        at = edges(t0, t1, width)
        crossing = np.interp(at, times, values)
        # A line crosses into a column after its left edge, and out of it before its right one.
        after = np.searchsorted(times, at[:-1], side="right") - 1
        before = np.searchsorted(times, at[1:], side="left") - 1
        for k, edge in ((after, crossing[:-1]), (before, crossing[1:])):
            crosses = np.where((k >= 0) & leads[k], edge, np.nan)
            low, high = np.fmin(low, crosses), np.fmax(high, crosses)
    drawn = np.flatnonzero(~np.isnan(low))
    return Stroke(drawn, low[drawn], high[drawn], columns.column[columns.gap])
