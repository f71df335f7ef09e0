"""A picture of a trace: readings, or buckets of them where they lie closer than a column, as one row of points.

Every point is a reading that was made, where and as high as it was. Between the points of a bucket others lie,
none of them beyond its two. Times are plan nanoseconds.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from benchlog.domain.levels import FACTOR
from benchlog.domain.trace import LOST, SECOND

Times = npt.NDArray[np.int64]
Numbers = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

GAP = round(LOST * SECOND)
"""A silence longer than this breaks the line: as long as it takes to call a trace lost."""


@dataclass(frozen=True, slots=True, eq=False)
class Items:
    """Stretches of a trace as columns, oldest first, each a bucket or a single reading.

    Attributes:
        first_t, last_t: of each one's first and last reading.
        rows, n: its readings, and those of them with a number.
        low, low_t, high, high_t: its extremes; without a number NaN, and times without meaning.
        silence: the longest time between two of its readings in a row.
        total: the sum of its numbers.
    """

    first_t: Times
    last_t: Times
    rows: Times
    n: Times
    low: Numbers
    low_t: Times
    high: Numbers
    high_t: Times
    silence: Times
    total: Numbers

    def __len__(self) -> int:
        return len(self.first_t)

    def only(self, which: npt.NDArray[np.bool_] | npt.NDArray[np.intp] | slice) -> "Items":
        """Some of them."""
        return Items(*(getattr(self, name)[which] for name in Items.__slots__))


def of_readings(t: Times, value: Numbers) -> Items:
    """Readings as they are, NaN without a number."""
    ones = np.ones(len(t), dtype=np.int64)
    good = np.isfinite(value)
    total = np.where(good, value, 0.0)
    return Items(t, t, ones, good.astype(np.int64), value, t, value, t, np.zeros_like(t), total)


NO_ITEMS = of_readings(np.empty(0, dtype=np.int64), np.empty(0))


def together(parts: Sequence[Items]) -> Items:
    """Several columns of stretches as one, in time; no two of them overlap."""
    whole = Items(*(np.concatenate([getattr(part, name) for part in parts]) for name in Items.__slots__))
    return whole.only(np.argsort(whole.first_t, kind="stable"))


def folded(items: Items, width: float) -> Items:
    """The same in fewer: eight of them together, as long as none is wider than that many nanoseconds."""
    while len(items) >= 2 * FACTOR:
        count = len(items) // FACTOR
        blocks = items.only(slice(0, count * FACTOR))
        if np.any(blocks.last_t[FACTOR - 1 :: FACTOR] - blocks.first_t[::FACTOR] > width):
            break
        items = together([_eighths(blocks, count), items.only(slice(count * FACTOR, None))])
    return items


def _eighths(blocks: Items, count: int) -> Items:
    heads = np.arange(count) * FACTOR
    low = np.where(np.isnan(blocks.low), np.inf, blocks.low).reshape(count, FACTOR)
    high = np.where(np.isnan(blocks.high), -np.inf, blocks.high).reshape(count, FACTOR)
    lowest, highest = heads + low.argmin(axis=1), heads + high.argmax(axis=1)
    first, last = blocks.first_t.reshape(count, FACTOR), blocks.last_t.reshape(count, FACTOR)
    within = blocks.silence.reshape(count, FACTOR).max(axis=1)
    return Items(
        blocks.first_t[::FACTOR],
        blocks.last_t[FACTOR - 1 :: FACTOR],
        blocks.rows.reshape(count, FACTOR).sum(axis=1),
        blocks.n.reshape(count, FACTOR).sum(axis=1),
        blocks.low[lowest],
        blocks.low_t[lowest],
        blocks.high[highest],
        blocks.high_t[highest],
        np.maximum(within, (first[:, 1:] - last[:, :-1]).max(axis=1)),
        blocks.total.reshape(count, FACTOR).sum(axis=1),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """Points of a trace, and between which of them its line leads.

    Attributes:
        t, value: the points, in time.
        joined: whether the line leads to a point from the one before it. It does not where a silence or a reading
            without a number lies between them, nor anywhere near a bucket that holds either.
        broken: whether readings without a number came after the last point.
        width: no bucket among them is wider than that many nanoseconds; 0 where every point is a reading of its own
            and none is left out.
    """

    t: Times
    value: Numbers
    joined: Flags
    broken: bool
    width: float

    def __len__(self) -> int:
        return len(self.t)


def picture(items: Items, width: float) -> Picture:
    """Draw stretches that are not wider than `width` as points: the extremes of each in the order they were read."""
    held = np.flatnonzero(items.n > 0)
    numbered = items.rows == items.n
    whole = numbered & (items.silence <= GAP)
    near = np.ones(len(items), dtype=bool)
    near[1:] = items.first_t[1:] - items.last_t[:-1] <= GAP
    leads = near & whole
    leads[1:] &= whole[:-1]
    leads[:1] = False
    some = items.only(held)
    rising = some.low_t <= some.high_t
    t = np.column_stack((np.minimum(some.low_t, some.high_t), np.maximum(some.low_t, some.high_t)))
    value = np.column_stack((np.where(rising, some.low, some.high), np.where(rising, some.high, some.low)))
    joined = np.column_stack((leads[held], whole[held]))
    kept = np.ones(t.shape, dtype=bool)
    kept[:, 1] = t[:, 1] > t[:, 0]
    single = not len(items) or int(items.rows.max()) == 1
    return Picture(
        t=t[kept],
        value=value[kept],
        joined=joined[kept],
        broken=bool(len(items)) and not bool(numbered[-1]),
        width=0.0 if single else width,
    )
