"""What stands at the door of a library: its units with their last visit, their boards, what undo would take back."""

import sqlite3
from dataclasses import dataclass
from pathlib import Path

from benchlog.domain.unit import Board, Round, RoundKind, Unit, Visit
from benchlog.store import query_unit
from benchlog.store.changes import newest_act
from benchlog.store.migrations import LIBRARY
from benchlog.store.opening import plain_words, reading
from benchlog.store.places import LIBRARY_FILE


@dataclass(frozen=True, slots=True)
class UnitLine:
    """A unit, its newest visit and that visit's newest round; `taken` of its `parts` were read in that round."""

    unit: Unit
    parts: int = 0
    visit: Visit | None = None
    round: Round | None = None
    taken: int = 0


@dataclass(frozen=True, slots=True)
class BoardLine:
    """A board and how many parts it has."""

    board: Board
    parts: int


def unit_lines(library: Path) -> tuple[UnitLine, ...]:
    """Every unit; the one that came in last first, those never taken in by name at the end."""
    units = query_unit.units(library)
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        parts = dict(
            connection.execute(
                "SELECT board.unit, count(*) FROM board JOIN part ON part.board = board.id GROUP BY board.unit"
            ).fetchall()
        )
        visits = _newest_visits(connection)
        with plain_words(library / LIBRARY_FILE):
            rounds = {visit.id: _newest_round(connection, visit.id) for visit in visits.values()}
        taken = {each.id: _taken(connection, each.id) for each in rounds.values() if each is not None}
    lines = []
    for unit in units:
        visit = visits.get(unit.id)
        round_ = rounds.get(visit.id) if visit is not None else None
        lines.append(
            UnitLine(
                unit, parts.get(unit.id, 0), visit, round_, taken[round_.id] if round_ is not None else 0
            )
        )
    return tuple(sorted(lines, key=lambda line: -(line.visit.number if line.visit is not None else 0)))


def board_lines(library: Path, unit_id: str) -> tuple[BoardLine, ...]:
    """The boards of a unit in their order, with their parts counted."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        found = connection.execute(
            "SELECT board.id, board.unit, board.name, board.place, count(part.id) FROM board"
            " LEFT JOIN part ON part.board = board.id WHERE board.unit = ? GROUP BY board.id ORDER BY board.place",
            (unit_id,),
        ).fetchall()
    return tuple(BoardLine(Board(*row), parts) for *row, parts in found)


def undoable(library: Path) -> str:
    """What undo would take back: the label of the newest act that still stands, empty where there is none."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        return newest_act(connection)[1]


def _newest_visits(connection: sqlite3.Connection) -> dict[str, Visit]:
    found = connection.execute(
        "SELECT id, unit, number, complaint, mains, opened, closed FROM visit ORDER BY number"
    ).fetchall()
    return {row[1]: Visit(*row) for row in found}


def _newest_round(connection: sqlite3.Connection, visit_id: str) -> Round | None:
    row = connection.execute(
        "SELECT id, visit, kind, title, started, ended FROM round WHERE visit = ?"
        " ORDER BY started DESC, rowid DESC LIMIT 1",
        (visit_id,),
    ).fetchone()
    return Round(row[0], row[1], RoundKind(row[2]), *row[3:]) if row is not None else None


def _taken(connection: sqlite3.Connection, round_id: str) -> int:
    """How many fitted items were read in a round, withdrawn readings left out."""
    (count,) = connection.execute(
        "SELECT count(DISTINCT fitted) FROM reading WHERE round = ? AND fitted IS NOT NULL"
        " AND id NOT IN (SELECT id FROM withdrawn)",
        (round_id,),
    ).fetchone()
    return int(count)
