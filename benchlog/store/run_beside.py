"""Which runs may lie beside a run: those of its unit, and of each other unit of its model the newest good one."""

from dataclasses import dataclass
from pathlib import Path

from benchlog.store import index, query
from benchlog.store.migrations import LIBRARY
from benchlog.store.opening import reading
from benchlog.store.places import LIBRARY_FILE
from benchlog.store.records import Ending, SessionLine, State

UNITS = 10
"""So many other units of the model; more are a grey field."""
_GOOD = (Ending.COMPLETED, Ending.STOPPED)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A run that may lie beside another.

    Attributes:
        unit, visit: what they are called; empty and 0 where nobody knows.
        stands: "as found" for the first run of a visit, "as left" for the last of one that ended well.
        other_unit: whether it is another unit of the same model.
    """

    line: SessionLine
    unit: str = ""
    visit: int = 0
    stands: str = ""
    other_unit: bool = False


def candidates(library: Path, session: Path) -> tuple[Candidate, ...]:
    """Those of its own unit, newest first, then the other units; without a unit every run that has none either."""
    lines = [line for line in query.sessions(library) if line.state is not State.UNREADABLE]
    own = index.read_line(session)
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        units = connection.execute("SELECT id, name, maker, model FROM unit").fetchall()
        visits = dict(connection.execute("SELECT id, number FROM visit").fetchall())
    names = {id_: name for id_, name, _, _ in units}
    model = {id_: (maker.strip().casefold(), model.strip().casefold()) for id_, _, maker, model in units}
    mine = [line for line in lines if line.unit == own.unit]
    found = [
        Candidate(line, names.get(line.unit, ""), visits.get(line.visit, 0), stands)
        for line, stands in zip(mine, _stand(mine), strict=True)
        if line.file.name != own.file.name
    ]
    wanted = model.get(own.unit, ("", ""))
    others: dict[str, SessionLine] = {}
    for line in lines if wanted[1] else ():
        if line.unit != own.unit and model.get(line.unit) == wanted and line.outcome in _GOOD:
            others.setdefault(line.unit, line)
    return (
        *found,
        *(
            Candidate(line, names.get(line.unit, ""), visits.get(line.visit, 0), other_unit=True)
            for line in list(others.values())[:UNITS]
        ),
    )


def good_runs(library: Path, unit: str) -> list[SessionLine]:
    """The runs of a unit that ended well, newest first."""
    return [line for line in query.sessions(library) if line.unit == unit and line.outcome in _GOOD]


def _stand(lines: list[SessionLine]) -> list[str]:
    """For each run of a unit, newest first, whether it is the first of its visit or the last one that ended well."""
    firsts = {line.visit: line.id for line in lines if line.visit}
    lasts: dict[str, str] = {}
    for line in lines:
        if line.visit and line.outcome in _GOOD:
            lasts.setdefault(line.visit, line.id)
    return [
        "as found"
        if firsts.get(line.visit) == line.id
        else "as left"
        if lasts.get(line.visit) == line.id
        else ""
        for line in lines
    ]
