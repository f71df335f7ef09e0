"""Levels of detail in a session file: written as they become full, worked out later where they are missing."""

import sqlite3
import time
from collections.abc import Iterable, Iterator
from itertools import chain

from benchlog.domain.levels import FACTOR, Bucket, Open, climb
from benchlog.domain.reading import Outcome
from benchlog.store.committing import committed

_COLUMNS = "level, bucket, first_t, last_t, rows, n, overloads, low, low_t, high, high_t, sum, silence"
_ONE = "(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
_INSERT = f"INSERT INTO level (trace, {_COLUMNS}) VALUES {_ONE}"  # noqa: S608
_AT_ONCE = 25
"""Rows in one statement, as with readings."""
_INSERT_MANY = _INSERT + f", {_ONE}" * (_AT_ONCE - 1)

_BEFORE_ALL = -(1 << 63)

CHUNK = 4 * FACTOR**5
"""Readings worked out in one commit where levels are missing."""


def insert(connection: sqlite3.Connection, found: Iterable[tuple[int, list[Bucket]]]) -> None:
    """Write buckets of some traces inside the caller's transaction."""
    rows = [(trace, *bucket) for trace, buckets in found for bucket in buckets]
    whole = len(rows) - len(rows) % _AT_ONCE
    connection.executemany(
        _INSERT_MANY, (tuple(chain.from_iterable(rows[i : i + _AT_ONCE])) for i in range(0, whole, _AT_ONCE))
    )
    connection.executemany(_INSERT, rows[whole:])


def know_silences(connection: sqlite3.Connection) -> bool:
    """Whether the levels of a file say how long its traces were silent; those of the first layout do not."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    return int(version) > 1


def share(connection: sqlite3.Connection) -> float:
    """How much of a session is in its levels, by time, 0 to 1; 1 where nothing more would fill a bucket.

    Levels that do not know of silences count for nothing: they are worked out anew.
    """
    shares = [_share(connection, trace) for trace in _traces(connection)]
    return sum(shares) / len(shares) if shares else 1.0


def _share(connection: sqlite3.Connection, trace: int) -> float:
    after = _reached(connection, trace)
    (behind,) = connection.execute(
        "SELECT count(*) FROM (SELECT 1 FROM reading WHERE trace = ? AND t > ? LIMIT ?)",
        (trace, after, FACTOR),
    ).fetchone()
    if behind < FACTOR:
        return 1.0
    first, last = connection.execute(
        "SELECT (SELECT min(t) FROM reading WHERE trace = ?1), (SELECT max(t) FROM reading WHERE trace = ?1)",
        (trace,),
    ).fetchone()
    return max(0.0, float(after - first) / float(last - first))


def work_out(connection: sqlite3.Connection, seconds: float = float("inf")) -> bool:
    """Write what levels are missing for about so long at most; whether all are there now.

    Each commit leaves levels that hold from the start of a trace without a hole, so that it may be left at any time.
    """
    end = time.monotonic() + seconds
    for trace in _traces(connection):
        known = _opened(connection, trace)
        for t, value, overload in _chunks(connection, trace):
            known, found = climb(known, t, value, overload)
            if not found:
                continue
            with committed(connection):
                insert(connection, [(trace, found)])
            if time.monotonic() >= end:
                return share(connection) == 1.0
    return True


def _traces(connection: sqlite3.Connection) -> list[int]:
    return [trace for (trace,) in connection.execute("SELECT id FROM trace ORDER BY id")]


def _opened(connection: sqlite3.Connection, trace: int) -> Open:
    """What the levels of a trace leave open; the readings behind them are not among it."""
    counts: list[int] = []
    waiting: list[tuple[Bucket, ...]] = []
    while True:
        level = len(counts) + 1
        (count,) = connection.execute(
            "SELECT coalesce((SELECT bucket + 1 FROM level WHERE trace = ? AND level = ?"
            " ORDER BY first_t DESC LIMIT 1), 0)",
            (trace, level),
        ).fetchone()
        if not count:
            return Open(buckets=tuple(waiting), counts=tuple(counts))
        newest = connection.execute(
            f"SELECT {_COLUMNS} FROM level WHERE trace = ? AND level = ? ORDER BY first_t DESC LIMIT ?",  # noqa: S608
            (trace, level, count % FACTOR),
        ).fetchall()
        counts.append(count)
        waiting.append(tuple(Bucket(*row) for row in reversed(newest)))


def _reached(connection: sqlite3.Connection, trace: int) -> int:
    """Up to which time the levels of a trace go; before all times where there are none that count."""
    if not know_silences(connection):
        return _BEFORE_ALL
    (t,) = connection.execute(
        "SELECT coalesce((SELECT last_t FROM level WHERE trace = ? AND level = 1 ORDER BY first_t DESC LIMIT 1), ?)",
        (trace, _BEFORE_ALL),
    ).fetchone()
    return int(t)


def _chunks(
    connection: sqlite3.Connection, trace: int
) -> Iterator[tuple[list[int], list[float | None], list[bool]]]:
    """The readings of a trace that are in no level, oldest first."""
    after = _reached(connection, trace)
    while rows := connection.execute(
        "SELECT t, value, outcome = ? FROM reading WHERE trace = ? AND t > ? ORDER BY t LIMIT ?",
        (Outcome.OVERLOAD.value, trace, after, CHUNK),
    ).fetchall():
        after = rows[-1][0]
        yield [row[0] for row in rows], [row[1] for row in rows], [bool(row[2]) for row in rows]
