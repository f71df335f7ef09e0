"""A trace of a run between two moments, from its file: every reading counts, itself or in its levels of detail."""

import sqlite3
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

import numpy as np

from benchlog.domain.between import Between, Floats, Times, between
from benchlog.domain.trace import SECOND
from benchlog.store import query
from benchlog.store.migrations import SESSION
from benchlog.store.opening import reading
from benchlog.store.picture import items_within

_ROW = np.dtype([("t", np.int64), ("value", np.float64)])
_ENDS = (
    "SELECT (SELECT value FROM reading WHERE trace = ?1 AND t >= ?2 AND value IS NOT NULL ORDER BY t LIMIT 1),"
    " (SELECT value FROM reading WHERE trace = ?1 AND t <= ?3 AND value IS NOT NULL ORDER BY t DESC LIMIT 1)"
)
"""The first and the last number of a stretch that has one."""
_AT_ONCE = 32_768
"""Readings held at a time."""


def summed_between(path: Path, from_t: float, to_t: float) -> dict[str, Between]:
    """Every trace by its name, without slope and spread, for which all readings would be read: this is quick."""
    start, stop = round(from_t * SECOND), round(to_t * SECOND)
    rows = query.traces(path)
    with reading(path, SESSION) as connection:
        return {row.name: _summed(connection, row.id, start, stop) for row in rows}


def _summed(connection: sqlite3.Connection, trace: int, start: int, stop: int) -> Between:
    items = items_within(connection, trace, start, stop, float("inf"))
    held = items.only(items.n > 0)
    count = int(held.n.sum())
    missing = int(items.rows.sum()) - count
    if not count:
        return Between(0, missing)
    first, last = connection.execute(_ENDS, (trace, start, stop)).fetchone()
    return Between(
        count,
        missing,
        difference=last - first if count > 1 else None,
        mean=float(held.total.sum()) / count,
        lowest=float(held.low.min()),
        highest=float(held.high.max()),
    )


def between_of(
    path: Path, name: str, from_t: float, to_t: float, wanted: Callable[[], bool] = lambda: True
) -> Between:
    """One trace from one plan second to another. May read a long file: never on the GUI's thread.

    Where it is not `wanted` any more it ends early, with what it has.
    """
    row = next((row for row in query.traces(path) if row.name == name), None)
    if row is None:
        return Between(0, 0)
    return between(_stretches(path, row.id, round(from_t * SECOND), round(to_t * SECOND), wanted))


def _stretches(
    path: Path, trace: int, start: int, stop: int, wanted: Callable[[], bool]
) -> Iterator[tuple[Times, Floats]]:
    """The readings of one trace, oldest first, infinite where one carries no number."""
    with reading(path, SESSION) as connection:
        cursor = connection.execute(
            "SELECT t, ifnull(value, 9e999) FROM reading WHERE trace = ? AND t >= ? AND t <= ? ORDER BY t",
            (trace, start, stop),
        )
        while wanted() and len(rows := np.fromiter(islice(cursor, _AT_ONCE), dtype=_ROW)):
            yield np.ascontiguousarray(rows["t"]), np.ascontiguousarray(rows["value"])
