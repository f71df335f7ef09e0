"""A picture of any stretch of a session at any zoom, from its levels of detail and its readings.

Read from the coarsest level down: a bucket that is no wider than two columns stands for its readings, a wider one is
opened, and so are the two at the ends. What is in no level yet, or in a session without levels, is read itself. So is
what lies in a bucket of an older session that does not say whether there is a silence in it.
"""

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import numpy as np

from benchlog.domain.detail import (
    GAP,
    NO_ITEMS,
    Flags,
    Items,
    Picture,
    folded,
    of_readings,
    picture,
    together,
)
from benchlog.domain.levels import FACTOR
from benchlog.store.levels import know_silences
from benchlog.store.migrations import SESSION
from benchlog.store.opening import reading

_LEVEL = (
    "SELECT first_t, last_t, n, ifnull(low, 0.0), ifnull(low_t, first_t), ifnull(high, 0.0), ifnull(high_t, first_t),"
    " {silence}, sum FROM json_each(?) AS part CROSS JOIN level WHERE level.trace = ? AND level.level = ?"
    " AND first_t >= json_extract(part.value, '$[0]') AND first_t <= json_extract(part.value, '$[1]')"
)
_COVERING = (
    "SELECT first_t, last_t FROM level WHERE trace = ? AND level = ? AND first_t <= ?"
    " ORDER BY first_t DESC LIMIT 1"
)
_READING = (
    "SELECT t, ifnull(reading.value, 9e999) FROM json_each(?) AS part CROSS JOIN reading WHERE reading.trace = ?"
    " AND t >= json_extract(part.value, '$[0]') AND t <= json_extract(part.value, '$[1]')"
)
_BUCKET = np.dtype(
    [(name, np.int64) for name in ("first_t", "last_t", "n")]
    + [("low", np.float64), ("low_t", np.int64), ("high", np.float64), ("high_t", np.int64)]
    + [("silence", np.int64), ("sum", np.float64)]
)
_ROW = np.dtype([("t", np.int64), ("value", np.float64)])

WIDEST = 2.0
"""How many columns a bucket may be wide: with a factor of eight there are half a bucket to four in a column."""

_CHUNK = 32_768
"""Readings taken at once."""
_MANY = 1_024
"""Readings from which on it is tried to have fewer, as in a session without levels."""
_EVER = (1 << 63) - 1

Range = tuple[int, int]


@dataclass(frozen=True, slots=True)
class TraceNumbers:
    """A trace in the numbers that are asked for first; times are plan nanoseconds.

    Attributes:
        rows: readings in all; `last_seq` and `last_t` number and time of the newest, `last_outcome` how it ended.
        final: the last number; `before` the last one up to the time asked for.
        low, low_t, high, high_t: the extremes.
    """

    rows: int = 0
    last_seq: int = 0
    last_t: int = 0
    last_outcome: str = ""
    final: float | None = None
    before: float | None = None
    low: float | None = None
    low_t: int = 0
    high: float | None = None
    high_t: int = 0


def pictures(
    path: Path, traces: Iterable[int], from_t: int | None, to_t: int | None, columns: int
) -> dict[int, Picture]:
    """Traces of a session from one time to another, plan nanoseconds, in buckets no wider than two columns.

    None is the first or the last reading. One reading more at either end shows where a line comes from and leads to.
    """
    with reading(path, SESSION) as connection:
        return {trace: _picture(connection, trace, from_t, to_t, columns) for trace in traces}


def numbers(path: Path, traces: Iterable[int], before: int | None) -> dict[int, TraceNumbers]:
    """What traces come to as a whole; `before` is the time up to which the last number is wanted besides."""
    with reading(path, SESSION) as connection:
        return {
            trace: _numbers(connection, trace, _ends(connection, trace, None, None), before)
            for trace in traces
        }


def numbers_within(connection: sqlite3.Connection, trace: int, from_t: int, to_t: int) -> TraceNumbers:
    """What a trace comes to from one time to another, both included."""
    return _numbers(connection, trace, _within(connection, trace, from_t, to_t), None)


def items_within(connection: sqlite3.Connection, trace: int, from_t: int, to_t: int, width: float) -> Items:
    """The readings from one time to another, both included, or buckets no wider than that; the ends are readings."""
    ends = _within(connection, trace, from_t, to_t)
    return NO_ITEMS if ends is None else _items(connection, trace, ends, width)


def _within(connection: sqlite3.Connection, trace: int, from_t: int, to_t: int) -> Range | None:
    """The times of the first and the last reading of a stretch."""
    start, stop = connection.execute(
        "SELECT (SELECT min(t) FROM reading WHERE trace = ?1 AND t >= ?2),"
        " (SELECT max(t) FROM reading WHERE trace = ?1 AND t <= ?3)",
        (trace, from_t, to_t),
    ).fetchone()
    return None if start is None or stop is None or start > stop else (start, stop)


def _picture(
    connection: sqlite3.Connection, trace: int, from_t: int | None, to_t: int | None, columns: int
) -> Picture:
    ends = _ends(connection, trace, from_t, to_t)
    if ends is None:
        return picture(NO_ITEMS, 0.0)
    start, stop = (ends[0] if from_t is None else from_t), (ends[1] if to_t is None else to_t)
    width = max(0.0, WIDEST * (stop - start) / max(1, columns))
    return picture(_items(connection, trace, ends, width), width)


def _numbers(
    connection: sqlite3.Connection, trace: int, ends: Range | None, before: int | None
) -> TraceNumbers:
    if ends is None:
        return TraceNumbers()
    items = _items(connection, trace, ends, float("inf"))
    seq, outcome = connection.execute(
        "SELECT seq, outcome FROM reading WHERE trace = ? AND t = ?", (trace, ends[1])
    ).fetchone()
    held = items.only(items.n > 0)
    if not len(held):
        return TraceNumbers(int(items.rows.sum()), seq, ends[1], outcome)
    low, high = int(held.low.argmin()), int(held.high.argmax())
    return TraceNumbers(
        rows=int(items.rows.sum()),
        last_seq=seq,
        last_t=ends[1],
        last_outcome=outcome,
        final=_last_number(connection, trace, int(held.last_t[-1])),
        before=None if before is None else _last_number(connection, trace, before),
        low=float(held.low[low]),
        low_t=int(held.low_t[low]),
        high=float(held.high[high]),
        high_t=int(held.high_t[high]),
    )


def _last_number(connection: sqlite3.Connection, trace: int, until: int) -> float | None:
    found = connection.execute(
        "SELECT value FROM reading WHERE trace = ? AND t <= ? AND value IS NOT NULL ORDER BY t DESC LIMIT 1",
        (trace, until),
    ).fetchone()
    return found[0] if found else None


def _ends(connection: sqlite3.Connection, trace: int, from_t: int | None, to_t: int | None) -> Range | None:
    """The times of the reading just before a stretch and of the one just after it, or else its first and last."""
    start, stop = connection.execute(
        "SELECT coalesce((SELECT max(t) FROM reading WHERE trace = ?1 AND t < ?2),"
        " (SELECT min(t) FROM reading WHERE trace = ?1 AND t >= ?2)),"
        " coalesce((SELECT min(t) FROM reading WHERE trace = ?1 AND t > ?3),"
        " (SELECT max(t) FROM reading WHERE trace = ?1 AND t <= ?3))",
        (trace, -_EVER if from_t is None else from_t, _EVER if to_t is None else to_t),
    ).fetchone()
    return None if start is None or stop is None or start > stop else (start, stop)


def _items(connection: sqlite3.Connection, trace: int, ends: Range, width: float) -> Items:
    """The stretches between two readings, those among them, none wider than `width` nanoseconds.

    Of a file that does not know it each one's silence is as long as itself, and with a width none is longer than a gap.
    """
    start, stop = ends
    known = know_silences(connection)
    unknown = width < float("inf") and not known
    (top,) = connection.execute(
        "SELECT coalesce(max(level), 0) FROM level WHERE trace = ?", (trace,)
    ).fetchone()
    kept, ranges = [NO_ITEMS], [ends]
    for level in range(top, 0, -1):
        covering = connection.execute(_COVERING, (trace, level, start)).fetchone()
        if covering is not None and covering[1] >= stop:
            ranges = [covering]  # all of it lies in one bucket, as it does on the way down to a short stretch
            continue
        if covering is not None and ranges[0][0] <= start:
            ranges[0] = (min(ranges[0][0], covering[0]), ranges[0][1])
        found = _buckets(connection, trace, level, ranges, known)
        found = found.only((found.last_t >= start) & (found.first_t <= stop))
        opened = (found.last_t - found.first_t > width) | (found.first_t <= start) | (found.last_t >= stop)
        opened |= unknown & (found.silence > GAP)
        kept.append(found.only(~opened))
        ranges = _below([*ranges[:-1], (ranges[-1][0], min(ranges[-1][1], stop))], found, opened)
        if not ranges:
            break
    if ranges:
        kept.append(_readings(connection, trace, ranges, ends, width))
    return together(kept)


def _below(read: list[Range], found: Items, opened: Flags) -> list[Range]:
    """Where the next finer level is to be read: in what was opened of `read`, and behind the last full bucket."""
    at = np.flatnonzero(opened)
    ranges: list[Range] = []
    if len(at):
        # Two neighbours of different ranges have what was kept of a coarser level between them.
        which = np.searchsorted([start for start, _ in read], found.first_t[at], side="right")
        breaks = np.flatnonzero((np.diff(at) > 1) | (np.diff(which) > 0))
        heads, tails = at[np.append(0, breaks + 1)], at[np.append(breaks, len(at) - 1)]
        ranges = list(zip(found.first_t[heads].tolist(), found.last_t[tails].tolist(), strict=True))
    # Levels hold from the start of a trace without a hole, so only the very end can be in none.
    last = read[-1]
    reached = int(found.last_t[-1]) if len(found) else last[0] - 1
    if reached < last[1]:
        ranges.append((max(reached + 1, last[0]), last[1]))
    return ranges


def _buckets(
    connection: sqlite3.Connection, trace: int, level: int, ranges: list[Range], known: bool
) -> Items:
    """The buckets of a level that begin in some ranges; `known` is whether the file says how long they were silent."""
    silence = "silence" if known else "last_t - first_t"
    cursor = connection.execute(_LEVEL.format(silence=silence), (json.dumps(ranges), trace, level))
    found = np.fromiter(cursor, dtype=_BUCKET)
    count = np.full(len(found), FACTOR**level)
    none = found["n"] == 0
    low, high = (np.where(none, np.nan, found[name]) for name in ("low", "high"))
    first_t, last_t, n, low_t, high_t, silent = (
        np.ascontiguousarray(found[name]) for name in ("first_t", "last_t", "n", "low_t", "high_t", "silence")
    )
    return Items(
        first_t, last_t, count, n, low, low_t, high, high_t, silent, np.ascontiguousarray(found["sum"])
    )


def _readings(
    connection: sqlite3.Connection, trace: int, ranges: list[Range], ends: Range, width: float
) -> Items:
    """The readings in some ranges; where there are many to a column, folded."""
    cursor = connection.execute(_READING, (json.dumps(ranges), trace))
    parts = [NO_ITEMS]
    while len(rows := np.fromiter(islice(cursor, _CHUNK), dtype=_ROW)):
        value = np.where(np.isfinite(rows["value"]), rows["value"], np.nan)
        items = of_readings(np.ascontiguousarray(rows["t"]), value)
        items = items.only((items.first_t >= ends[0]) & (items.last_t <= ends[1]))
        if len(items) >= _MANY:
            # Those behind the last full bucket lie together; the others may have buckets between them.
            inner = (items.first_t > max(ends[0], ranges[-1][0] - 1)) & (items.last_t < ends[1])
            parts.append(folded(items.only(inner), width))
            items = items.only(~inner)
        parts.append(items)
    return together(parts)
