"""Levels of detail: the readings of a trace summed up eight by eight, so that a long run is drawn without being read.

Level 1 sums up eight readings in a row, level 2 eight of those, and so on: by count and not by time, so that a
picture costs the same at any rate. A bucket is handed out once it is full; what is not yet full stays open.
"""

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from operator import sub
from typing import NamedTuple

FACTOR = 8
"""How many of one level make one of the next."""

_MOST = sys.float_info.max


class Bucket(NamedTuple):
    """What some readings in a row come to; times are plan nanoseconds.

    Attributes:
        level, number: which level, and which of its buckets, counted from 0.
        first_t, last_t: of its first and last reading, with or without a number.
        rows, n, overloads: all readings, those with a number, those beyond the range.
        low, low_t, high, high_t: the extremes and when they were first read; None where nothing has a number.
        total: sum of the numbers, held to what a float can say.
        silence: the longest time between two readings in a row.
    """

    level: int
    number: int
    first_t: int
    last_t: int
    rows: int
    n: int
    overloads: int
    low: float | None
    low_t: int | None
    high: float | None
    high_t: int | None
    total: float
    silence: int


@dataclass(frozen=True, slots=True)
class Open:
    """What of one trace is in no full bucket yet.

    Attributes:
        t, value, overload: its newest readings, fewer than eight; `value` None without a number.
        buckets: for each level the full buckets that wait for enough to make one of the next.
        counts: how many buckets of each level were full so far.
    """

    t: tuple[int, ...] = ()
    value: tuple[float | None, ...] = ()
    overload: tuple[bool, ...] = ()
    buckets: tuple[tuple[Bucket, ...], ...] = ()
    counts: tuple[int, ...] = ()


def climb(
    known: Open, t: Sequence[int], value: Sequence[float | None], overload: Sequence[bool]
) -> tuple[Open, list[Bucket]]:
    """Take readings, oldest first: what is open after them, and the buckets that became full, each level in order."""
    times, values, beyond = [*known.t, *t], [*known.value, *value], [*known.overload, *overload]
    whole = len(times) - len(times) % FACTOR
    counts, waiting = list(known.counts), list(known.buckets)
    if whole and not counts:
        counts.append(0)
        waiting.append(())
    full = _of_readings(times, values, beyond, whole, counts[0]) if whole else []
    found = list(full)
    level = 0
    while full:
        counts[level] += len(full)
        children = [*waiting[level], *full]
        used = len(children) - len(children) % FACTOR
        waiting[level] = tuple(children[used:])
        level += 1
        if used and level == len(counts):
            counts.append(0)
            waiting.append(())
        full = [
            _of_buckets(level + 1, counts[level] + at // FACTOR, children[at : at + FACTOR])
            for at in range(0, used, FACTOR)
        ]
        found += full
    left = Open(
        tuple(times[whole:]), tuple(values[whole:]), tuple(beyond[whole:]), tuple(waiting), tuple(counts)
    )
    return left, found


def _of_readings(
    t: list[int], value: list[float | None], overload: list[bool], whole: int, first: int
) -> list[Bucket]:
    """Level 1 of the first `whole` readings, numbered from `first`."""
    found = []
    apart = list(map(sub, t[1:whole], t))
    for at in range(0, whole, FACTOR):
        silence = max(apart[at : at + FACTOR - 1])
        part: list[float] = value[at : at + FACTOR]  # type: ignore[assignment]  # the next line sees to it
        if None in part:
            found.append(_with_gaps(t, value, overload, at, first + at // FACTOR, silence))
            continue
        low, high = min(part), max(part)
        found.append(
            Bucket(
                1,
                first + at // FACTOR,
                t[at],
                t[at + FACTOR - 1],
                FACTOR,
                FACTOR,
                0,
                low,
                t[at + part.index(low)],
                high,
                t[at + part.index(high)],
                _held(sum(part)),
                silence,
            )
        )
    return found


def _with_gaps(
    t: list[int], value: list[float | None], overload: list[bool], at: int, number: int, silence: int
) -> Bucket:
    """A bucket of level 1 in which something has no number."""
    held = [(one, when) for one, when in zip(value[at : at + FACTOR], t[at : at + FACTOR], strict=True)]
    numbers = [(one, when) for one, when in held if one is not None]
    low, low_t = min(numbers, default=(None, None))
    high, high_t = max(numbers, key=lambda one: (one[0], -one[1]), default=(None, None))
    return Bucket(
        1,
        number,
        t[at],
        t[at + FACTOR - 1],
        FACTOR,
        len(numbers),
        sum(overload[at : at + FACTOR]),
        low,
        low_t,
        high,
        high_t,
        _held(sum(one for one, _ in numbers)),
        silence,
    )


def _of_buckets(level: int, number: int, parts: Sequence[Bucket]) -> Bucket:
    """One bucket of the next level."""
    lows = [(part.low, part.low_t) for part in parts if part.low is not None]
    highs = [(part.high, part.high_t) for part in parts if part.high is not None]
    # Parts stand in time, so of equal ones the first is the earliest.
    low, low_t = min(lows, key=_value, default=(None, None))
    high, high_t = max(highs, key=_value, default=(None, None))
    return Bucket(
        level,
        number,
        parts[0].first_t,
        parts[-1].last_t,
        sum([part.rows for part in parts]),
        sum([part.n for part in parts]),
        sum([part.overloads for part in parts]),
        low,
        low_t,
        high,
        high_t,
        _held(sum([part.total for part in parts])),
        max([*[part.silence for part in parts], *[two.first_t - one.last_t for one, two in pairwise(parts)]]),
    )


def _value(one: tuple[float, int | None]) -> float:
    return one[0]


def _held(total: float) -> float:
    """A sum as a float can hold it; of numbers near the largest one it has no meaning, and must not be none."""
    return total if -_MOST <= total <= _MOST else max(-_MOST, min(_MOST, total)) if total == total else 0.0  # noqa: PLR0124
