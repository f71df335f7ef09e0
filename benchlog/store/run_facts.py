"""What the library knows about its runs beside the list of them: units, visits, boards, parts taken."""

import sqlite3
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from benchlog.domain.sought import Findable, Sense
from benchlog.store.ids import utc_moment
from benchlog.store.index import words_of
from benchlog.store.migrations import LIBRARY
from benchlog.store.opening import reading
from benchlog.store.places import LIBRARY_FILE
from benchlog.store.records import SessionLine

_TAKEN = (
    "SELECT DISTINCT reading.session, reading.designator, coalesce(board.name, ''), coalesce(part.kind, ''),"
    " coalesce(part.id, '') FROM reading LEFT JOIN fitted ON fitted.id = reading.fitted"
    " LEFT JOIN part ON part.id = fitted.part LEFT JOIN board ON board.id = part.board"
    " WHERE reading.session != '' AND reading.id NOT IN (SELECT id FROM withdrawn)"
)


@dataclass(frozen=True, slots=True)
class TakenPart:
    """A part that was taken in a run; board, kind and part are empty where nobody knows which part it was."""

    designator: str
    board: str = ""
    kind: str = ""
    part: str = ""


@dataclass(frozen=True, slots=True)
class UnitFacts:
    """A unit as its runs are found by it."""

    name: str
    about: str = ""
    boards: tuple[str, ...] = ()
    designators: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RunFacts:
    """Units and visit numbers by id, the parts taken by the id of their run, and the runs made references."""

    units: dict[str, UnitFacts] = field(default_factory=dict)
    visits: dict[str, int] = field(default_factory=dict)
    taken: dict[str, tuple[TakenPart, ...]] = field(default_factory=dict)
    chosen: frozenset[str] = frozenset()


def run_facts(library: Path) -> RunFacts:
    """All of it, read at once."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        units = connection.execute("SELECT id, name, maker, model, serial FROM unit").fetchall()
        boards = connection.execute("SELECT unit, name FROM board ORDER BY place").fetchall()
        parts = connection.execute(
            "SELECT board.unit, part.designator FROM board JOIN part ON part.board = board.id"
        ).fetchall()
        visits = connection.execute("SELECT id, number FROM visit").fetchall()
        taken = _by_first(connection.execute(_TAKEN).fetchall())
        chosen = connection.execute("SELECT session FROM good_run").fetchall()
    names, places = _by_first(boards), _by_first(parts)
    return RunFacts(
        {
            id_: UnitFacts(
                name,
                " ".join(about),
                tuple(board for (board,) in names.get(id_, ())),
                tuple(dict.fromkeys(designator for (designator,) in places.get(id_, ()))),
            )
            for id_, name, *about in units
        },
        dict(visits),
        {run: tuple(TakenPart(*row) for row in rows) for run, rows in taken.items()},
        frozenset(run for (run,) in chosen),
    )


def facts_of(library: Path, line: SessionLine) -> RunFacts:
    """What is shown of one run: its unit's name, its visit's number, and whether it is a reference."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        units = connection.execute("SELECT id, name FROM unit WHERE id = ?", (line.unit,)).fetchall()
        visits = connection.execute("SELECT id, number FROM visit WHERE id = ?", (line.visit,)).fetchall()
        chosen = connection.execute("SELECT session FROM good_run WHERE session = ?", (line.id,)).fetchall()
    return RunFacts(
        {id_: UnitFacts(name) for id_, name in units},
        dict(visits),
        chosen=frozenset(run for (run,) in chosen),
    )


def findables(lines: Iterable[tuple[SessionLine, str]], facts: RunFacts) -> list[Findable]:
    """Runs as they can be found, each given with the words for how it ended; texts of a unit are made once."""
    of_unit = {id_: _unit_texts(unit) for id_, unit in facts.units.items()}
    return [_findable(line, ending, facts, of_unit.get(line.unit, {})) for line, ending in lines]


def _unit_texts(unit: UnitFacts) -> dict[Sense, str]:
    return {
        Sense.UNIT: words_of(unit.name, unit.about),
        Sense.OF_UNIT: words_of(*unit.designators),
        Sense.BOARD: words_of(*unit.boards),
    }


def _findable(line: SessionLine, ending: str, facts: RunFacts, of_unit: dict[Sense, str]) -> Findable:
    taken = facts.taken.get(line.id, ())
    reference = "reference" if line.id in facts.chosen else ""
    texts = {
        **of_unit,
        Sense.VISIT: f" visit {facts.visits[line.visit]}" if line.visit in facts.visits else "",
        Sense.TAKEN: words_of(*(part.designator for part in taken)),
        Sense.KIND: words_of(
            "power-up" if line.plan_name else "free run",
            "simulated" if line.rate != 1.0 else "",
            *(part.kind for part in taken),
        ),
        Sense.OUTCOME: words_of(ending, line.outcome, reference),
        Sense.PLAN: words_of(line.plan_name),
        Sense.WORDS: line.words or words_of(line.title, line.reason, line.file.stem),
    }
    try:
        day = utc_moment(line.started).astimezone().date()
    except ValueError:
        day = None
    return Findable(day, texts)


def taken_in(library: Path, run: str) -> tuple[TakenPart, ...]:
    """The parts that were taken in a run, each once, in the order of their designators."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        rows = connection.execute(
            f"{_TAKEN} AND reading.session = ? ORDER BY reading.designator", (run,)
        ).fetchall()
    return tuple(TakenPart(*row) for _, *row in rows)


def _by_first(rows: Iterable[sqlite3.Row | tuple[str, ...]]) -> dict[str, list[tuple[str, ...]]]:
    found: dict[str, list[tuple[str, ...]]] = defaultdict(list)
    for first, *rest in rows:
        found[first].append(tuple(rest))
    return found
