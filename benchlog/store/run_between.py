"""Every trace of a run between two moments, from its file: every reading counts, none of what is drawn."""

from pathlib import Path

from benchlog.domain.between import Between, between
from benchlog.domain.trace import SECOND
from benchlog.store import query


def between_of(path: Path, from_t: float, to_t: float) -> dict[str, Between]:
    """Each trace by its name, from one plan second to another. May read a long file: never on the GUI's thread."""
    found: dict[str, Between] = {}
    for row in query.traces(path):
        read = query.readings(path, row.id, from_t=round(from_t * SECOND), to_t=round(to_t * SECOND))
        t = read.t / SECOND
        # The file has chosen, to the nanosecond; a second written in binary is not asked again.
        found[row.name] = between(t, read.value, float("-inf"), float("inf"))
    return found
