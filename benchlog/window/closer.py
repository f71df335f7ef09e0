"""A stretch of a run's file as points for the graph; called off the GUI thread. No Qt."""

from collections.abc import Mapping
from pathlib import Path

from benchlog.domain.detail import Picture
from benchlog.domain.trace import SECOND
from benchlog.store import query
from benchlog.store.picture import pictures
from benchlog.window.points import Points


def closer_look(
    file: Path, t0: float, t1: float, columns: int, rows: Mapping[str, int] | None = None
) -> dict[str, Points]:
    """What a session file shows from one plan second to another in so many columns, by trace.

    `rows` are the numbers of its traces where they are known.
    """
    if rows is None:
        rows = {row.name: row.id for row in query.traces(file)}
    found = pictures(file, rows.values(), round(t0 * SECOND), round(t1 * SECOND), columns)
    return {name: points_of(found[row]) for name, row in rows.items()}


def points_of(found: Picture) -> Points:
    """A picture of the store in the window's seconds."""
    return Points(found.t / SECOND, found.value, found.joined, found.broken, found.width / SECOND)
