"""How a run drifted from cold to hot, from its file; and which earlier run of the unit shows that best."""

from collections.abc import Iterable
from pathlib import Path

from benchlog.domain.drift import DRIFTS, MINUTES, Drift, drift_of, on_since
from benchlog.domain.trace import SECOND
from benchlog.store import query
from benchlog.store.records import SessionLine
from benchlog.store.run_beside import good_runs

LAST = 60.0 * MINUTES[-1]
"""Seconds after switching on of which the last moment is read."""


def drifts(path: Path) -> dict[str, Drift]:
    """The drift of each trace that has one; empty where the unit was never on."""
    events = query.events(path)
    on = on_since((event.t / SECOND, event.kind, event.data) for event in events)
    off = next((event.t / SECOND for event in events if event.kind == "off"), None)
    if on is None:
        return {}
    found = {}
    for row in query.traces(path):
        if row.role in DRIFTS:
            read = query.readings(path, row.id, from_t=round(on * SECOND), to_t=round((on + LAST) * SECOND))
            found[row.name] = drift_of(row.name, read.t / SECOND, read.value, on, off)
    return found


def earlier(
    library: Path, unit: str, visit: str, names: Iterable[str], but: str = ""
) -> tuple[str, dict[str, Drift]]:
    """The day and the drifts of the newest good run that shows one of these traces cold to hot.

    One of an earlier visit goes before one of this visit; `but` is the run that is not meant, by its file's name.
    Empty where there is none.
    """
    wanted = set(names)
    if not unit:
        return "", {}
    lines = [line for line in good_runs(library, unit) if line.file.name != but]
    for line in sorted(lines, key=lambda line: _of_this_visit(line, visit)):
        known = drifts(line.file)
        if any(value is not None for name in wanted & known.keys() for value in known[name].at):
            return line.started[:10], {name: known[name] for name in wanted & known.keys()}
    return "", {}


def _of_this_visit(line: SessionLine, visit: str) -> bool:
    return bool(visit) and line.visit == visit
