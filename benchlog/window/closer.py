"""A stretch of a run's file as points for the graph; called off the GUI thread. No Qt."""

from pathlib import Path

from benchlog.domain.detail import Picture
from benchlog.domain.trace import SECOND
from benchlog.store import query
from benchlog.store.picture import pictures
from benchlog.window.points import Points


def closer_look(file: Path, t0: float, t1: float, columns: int) -> dict[str, Points]:
    """What a session file shows from one plan second to another in so many columns, by trace.

    A trace that two of its rows name is the newer one.
    """
    rows = query.traces(file)
    found = pictures(file, [row.id for row in rows], round(t0 * SECOND), round(t1 * SECOND), columns)
    return {row.name: points_of(found[row.id]) for row in rows}


def points_of(found: Picture) -> Points:
    """A picture of the store in the window's seconds."""
    return Points(found.t / SECOND, found.value, found.joined, found.broken, found.width / SECOND)
