"""A trace of a run between two moments, from its file: every reading counts, none of what is drawn."""

from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

import numpy as np

from benchlog.domain.between import Between, Floats, Times, between
from benchlog.domain.trace import SECOND
from benchlog.store import query
from benchlog.store.migrations import SESSION
from benchlog.store.opening import reading

_ROW = np.dtype([("t", np.int64), ("value", np.float64)])
_AT_ONCE = 32_768
"""Readings held at a time."""


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
