"""The good run of a unit that its next one is held against: a person's choice, else the first completed one.

Either counts only on the same source.
"""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from statistics import median

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.domain.reading import Outcome
from benchlog.domain.reference import Reference, of_run, same_source
from benchlog.errors import BadInput
from benchlog.store import query
from benchlog.store.changes import Act
from benchlog.store.ids import new_id
from benchlog.store.index import read_line
from benchlog.store.library import Library
from benchlog.store.migrations import LIBRARY
from benchlog.store.opening import reading
from benchlog.store.places import LIBRARY_FILE
from benchlog.store.records import OUTCOMES, Ending, SessionLine, SessionState

AT_THE_END = 10_000_000_000
"""Plan nanoseconds at the end of a dwell whose median stands for the stage."""
_RESTS = ("dwelling", "ready", "held")
"""States of the stage machine in which the source rests where it should."""
_GOOD = (Ending.COMPLETED, Ending.STOPPED)
"""Endings of a run that may be made a reference; a soak is ended by hand."""
_OK = OUTCOMES.index(Outcome.OK)


def reference(library: Path, unit: str, plan: Plan) -> Reference | None:
    """What a person's reference of this unit on the source of `plan` shows, else its first completed run on it.

    None where there is neither.
    """
    found = _found(library, unit, plan)
    return found[1] if found is not None else None


def reference_run(library: Path, unit: str, plan: Plan) -> SessionLine | None:
    """The run of which `reference` tells; None where there is none."""
    found = _found(library, unit, plan)
    return found[0] if found is not None else None


def is_reference(library: Path, line: SessionLine) -> bool:
    """Whether a plan such as that run's own would expect what this run shows."""
    if line.outcome not in _GOOD or not line.unit:
        return False
    plan = _plan(query.state(line.file), line.file.name)
    found = _found(library, line.unit, plan) if plan is not None else None
    return found is not None and found[0].id == line.id


def _found(library: Path, unit: str, plan: Plan) -> tuple[SessionLine, Reference] | None:
    if not unit:
        return None
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        rows = connection.execute(
            "SELECT session FROM good_run WHERE unit = ? ORDER BY rowid DESC", (unit,)
        ).fetchall()
    order = {session: place for place, (session,) in enumerate(rows)}
    mine = [line for line in query.sessions(library) if line.unit == unit and line.outcome in _GOOD]
    chosen = sorted((line for line in mine if line.id in order), key=lambda line: order[line.id])
    first = [line for line in reversed(mine) if line.outcome == Ending.COMPLETED]
    for line in (*chosen, *first):
        found = _shown(line, plan)
        if found is not None:
            return line, replace(found, chosen=line.id in order)
    return None


def _shown(line: SessionLine, plan: Plan | None = None) -> Reference | None:
    """What a run shows; None where nothing is told, or it ran on another source than that of `plan`."""
    state = query.state(line.file)
    ran = _plan(state, line.file.name)
    if ran is None or (plan is not None and not same_source(plan, ran)):
        return None
    return of_run(ran, state.head.started[:10], dict(_stages(line.file, ran)))


def choose(library: Library, session: Path) -> None:
    """Make a run the reference of its unit, in the place of what would be expected without; `BadInput` says why not."""
    line = _line(session)
    name = session.stem
    if line.outcome not in _GOOD:
        raise BadInput(name, "did not end well", "a reference is a run that went through or that you ended")
    known = library.connection.execute("SELECT 1 FROM unit WHERE id = ?", (line.unit,)).fetchone()
    if known is None:
        raise BadInput(
            name, "belongs to no unit of this library", "only later plans of its own unit could expect it"
        )
    if _shown(line) is None:
        raise BadInput(name, "shows nothing at the end of a stage", "a later plan could expect nothing of it")
    with library.act(f"make the run {name} the reference") as act:
        _let_go(act, line.id)
        act.insert("good_run", {"id": new_id(), "unit": line.unit, "session": line.id, "at": act.at})


def let_go(library: Library, session: Path) -> None:
    """Make a run no reference any more."""
    line = _line(session)
    with library.act(f"the run {session.stem} is no reference") as act:
        _let_go(act, line.id)


def _line(session: Path) -> SessionLine:
    """The line of a run as it is now; `BadInput` where there is no such file."""
    if not session.is_file():
        raise BadInput(str(session), "there is no run here", "look at the list again")
    return read_line(session)


def _let_go(act: Act, run: str) -> None:
    for (id_,) in act.connection.execute("SELECT id FROM good_run WHERE session = ?", (run,)).fetchall():
        act.remove("good_run", id_)


def of_text(library: Path, unit: str, text: str) -> Reference | None:
    """The same for a plan as it is written; None as well where nobody can read it, which others tell."""
    try:
        return reference(library, unit, textfile.parse(text, "plan", Plan))
    except BadInput:
        return None


def _plan(state: SessionState, place: str) -> Plan | None:
    """The plan it ran with; None where this program reads it no more."""
    try:
        return textfile.parse(state.head.plan, place, Plan)
    except BadInput:
        return None


def _stages(path: Path, plan: Plan) -> Iterator[tuple[int, dict[str, float]]]:
    """Each stage the source rested at, by its place in the plan, with what the traces read at its end."""
    rests: dict[int, tuple[int, int]] = {}
    resting: tuple[int, int] | None = None
    for event in query.events(path, "stage", "off"):
        index = event.data.get("index")
        if resting is not None:
            rests[resting[0]] = (resting[1], event.t)
        here = event.kind == "stage" and event.data.get("state") in _RESTS
        if not here or not isinstance(index, int) or not 0 <= index < len(plan.stage):
            resting = None
        elif resting is None or resting[0] != index:
            resting = (index, event.t)
    for index, (since, until) in rests.items():
        read = {}
        for trace in query.traces(path):
            rows = query.readings(path, trace.id, from_t=max(since, until - AT_THE_END), to_t=until)
            values = [float(v) for v in rows.value[rows.outcome == _OK]]
            if values:
                read[trace.name] = median(values)
        yield index, read
