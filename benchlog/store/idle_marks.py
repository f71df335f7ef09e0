"""Which idles were marked as set in the runs of a visit so far: the next run of it begins with them."""

from pathlib import Path

from benchlog.store import query


def set_in(library: Path, visit: str) -> tuple[str, ...]:
    """The traces whose idle was set when last marked in this visit; none where there is no visit."""
    marks: dict[str, bool] = {}
    lines = [line for line in query.sessions(library) if visit and line.visit == visit and not line.problem]
    for line in reversed(lines):
        for event in query.events(line.file, "idle"):
            marks[str(event.data.get("trace", ""))] = bool(event.data.get("set"))
    return tuple(name for name, done in marks.items() if done)
