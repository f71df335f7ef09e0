"""A stretch of a run's file as points for the graph; called off the GUI thread. No Qt."""

from collections.abc import Mapping
from pathlib import Path

from benchlog.domain.detail import Picture
from benchlog.domain.trace import SECOND
from benchlog.store import query
from benchlog.store.picture import pictures
from benchlog.window.graph_guests import Wish, on_time_of
from benchlog.window.points import NO_POINTS, Points


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


def closer_guest(wish: Wish) -> dict[str, Points]:
    """What the file of a run that lies beside another shows of what is wished for, on that one's time, by line."""
    guest = wish.guest
    rows = {name: row for name, row in guest.rows.items() if name in guest.points}
    found = dict.fromkeys(rows, NO_POINTS)
    if guest.file is None:
        return found
    for piece, from_t, to_t, columns in wish.parts:
        read = closer_look(guest.file, from_t, to_t, columns, rows)
        found = {name: found[name].then(on_time_of(read[name], (piece,))) for name in found}
    return found


def points_of(found: Picture) -> Points:
    """A picture of the store in the window's seconds."""
    return Points(found.t / SECOND, found.value, found.joined, found.broken, found.width / SECOND)
