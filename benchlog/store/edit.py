"""What the operator does to the library: each function one act, one durable commit, one undo."""

import contextlib
import math
from collections.abc import Iterable, Sequence
from pathlib import Path

from benchlog.domain.accuracy import COVERAGE
from benchlog.domain.designator import Mirror, fold
from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.unit import (
    Board,
    FittedItem,
    Part,
    PartEntry,
    PartReading,
    Round,
    RoundKind,
    Unit,
    UnitFile,
    Visit,
)
from benchlog.domain.verdict import Judgement
from benchlog.errors import BadInput, Fault
from benchlog.store.changes import Act, Value, insert
from benchlog.store.ids import new_id
from benchlog.store.library import Library
from benchlog.store.lock import FileLock
from benchlog.store.measured import part_of
from benchlog.store.migrations import SESSION
from benchlog.store.opening import open_file, plain_errors
from benchlog.store.part_rows import is_kept, row_of_reading
from benchlog.store.places import lock_path
from benchlog.store.records import RemarkRow, SessionLine
from benchlog.store.sweep import SweepReport, take_in

_UNIT_TEXTS = ("name", "maker", "model", "serial", "note")

# --- units and parts -----------------------------------------------------------------------------


def create_unit(library: Library, file: UnitFile) -> Unit:
    """Take a unit into the library with its boards, parts, what is fitted and what it should read."""
    unit = Unit(
        new_id(),
        file.name,
        file.maker,
        file.model,
        file.serial,
        file.mains,
        file.mirror,
        dict(file.pairs),
        file.note,
    )
    with library.act(f"new unit {file.name}") as act:
        act.insert(
            "unit",
            {
                "id": unit.id,
                "name": unit.name,
                "maker": unit.maker,
                "model": unit.model,
                "serial": unit.serial,
                "mains": unit.mains,
                "mirror": "\n".join(unit.mirror),
                "note": unit.note,
                "created": act.at,
            },
        )
        for designator, other in unit.pairs.items():
            act.insert("pair", {"id": new_id(), "unit": unit.id, "designator": designator, "other": other})
        for entry in file.board:
            board = add_board(library, unit.id, entry.name)
            for place, part in enumerate(entry.part, start=1):
                _add_part(act, board.id, place, part)
    return unit


def change_unit(library: Library, unit: Unit) -> None:
    """Write the data of a unit anew, with its rules and pairs for the other side; `BadInput` where they clash."""
    if not unit.name.strip():
        raise BadInput("name", "is empty", "give the unit a name")
    Mirror(unit.mirror, unit.pairs)
    with library.act(f"change the data of {unit.name}") as act:
        values: dict[str, Value] = {name: getattr(unit, name) for name in _UNIT_TEXTS}
        act.update("unit", unit.id, values | {"mains": unit.mains, "mirror": "\n".join(unit.mirror)})
        known = act.connection.execute(
            "SELECT id, designator, other FROM pair WHERE unit = ?", (unit.id,)
        ).fetchall()
        gone = [row for row in known if unit.pairs.get(row[1]) != row[2]]
        for id_, _, _ in gone:
            act.remove("pair", id_)
        kept = {row[1] for row in known if row not in gone}
        for designator, other in unit.pairs.items():
            if designator not in kept:
                row = {"id": new_id(), "unit": unit.id, "designator": designator, "other": other}
                act.insert("pair", row)


def add_board(library: Library, unit_id: str, name: str) -> Board:
    """Add a board to a unit, after those it has; `BadInput` where one is called so."""
    if not name.strip():
        raise BadInput("board", "has no name", "give the board a name")
    with library.act(f"new board {name}") as act:
        known = act.connection.execute("SELECT name FROM board WHERE unit = ?", (unit_id,)).fetchall()
        if fold(name) in {fold(other) for (other,) in known}:
            raise BadInput(name, "is the name of a board already", "name each board once")
        board = Board(new_id(), unit_id, name, _next(act, "board", "place", "unit", unit_id))
        act.insert("board", {"id": board.id, "unit": unit_id, "name": name, "place": board.place})
    return board


def add_part(library: Library, board_id: str, entry: PartEntry) -> FittedItem:
    """Add a part to a board, with what is fitted there now and what it should read."""
    with library.act(f"new part {entry.designator}") as act:
        known = act.connection.execute("SELECT designator FROM part WHERE board = ?", (board_id,)).fetchall()
        if fold(entry.designator) in {fold(designator) for (designator,) in known}:
            raise BadInput(entry.designator, "stands on this board already", "name each part once")
        return _add_part(act, board_id, _next(act, "part", "place", "board", board_id), entry)


def add_parts(library: Library, board_id: str, entries: Sequence[PartEntry]) -> tuple[FittedItem, ...]:
    """Add several parts in one act; all of them, or none with every fault at once in `BadInput`."""
    several = f"{len(entries)} new parts"
    faults: list[Fault] = []
    made: list[FittedItem] = []
    with library.act(several if len(entries) != 1 else f"new part {entries[0].designator}") as act:
        found = act.connection.execute("SELECT designator FROM part WHERE board = ?", (board_id,)).fetchall()
        known = {fold(designator) for (designator,) in found}
        place = _next(act, "part", "place", "board", board_id)
        for entry in entries:
            if fold(entry.designator) in known:
                faults.append(Fault(entry.designator, "stands on this board already", "name each part once"))
                continue
            known.add(fold(entry.designator))
            made.append(_add_part(act, board_id, place, entry))
            place += 1
        if faults:
            raise BadInput.of(faults)
    return tuple(made)


def _add_part(act: Act, board_id: str, place: int, entry: PartEntry) -> FittedItem:
    part = Part(
        new_id(),
        board_id,
        entry.designator,
        entry.kind,
        entry.function,
        entry.in_circuit,
        entry.note,
        tuple(one.name for one in entry.asked) if entry.measures else (),
    )
    act.insert(
        "part",
        {
            "id": part.id,
            "board": board_id,
            "designator": part.designator,
            "kind": str(part.kind),
            "function": part.function and str(part.function),
            "in_circuit": int(part.in_circuit),
            "note": part.note,
            "place": place,
            "measures": "\n".join(part.measures),
        },
    )
    fitted = _insert_fitted(act, FittedItem(new_id(), part.id, entry.marking, "", act.at), "")
    for measure, expectation in entry.expectations.items():
        _expect(act, fitted.id, expectation, measure)
    return fitted


def fit(library: Library, part_id: str, marking: str, reason: str, visit_id: str = "") -> FittedItem:
    """Put a new item at a designator; the one before ends there and keeps its readings."""
    with library.act(f"fit {marking}") as act:
        before = act.connection.execute(
            "SELECT id FROM fitted WHERE part = ? AND until IS NULL", (part_id,)
        ).fetchall()
        for (item,) in before:
            act.update("fitted", item, {"until": act.at})
        return _insert_fitted(act, FittedItem(new_id(), part_id, marking, reason, act.at), visit_id)


def _insert_fitted(act: Act, item: FittedItem, visit_id: str) -> FittedItem:
    act.insert(
        "fitted",
        {
            "id": item.id,
            "part": item.part,
            "visit": visit_id or None,
            "marking": item.marking,
            "reason": item.reason,
            "since": item.since,
            "until": None,
        },
    )
    return item


def expect(
    library: Library,
    fitted_id: str,
    text: str,
    origin: Origin = Origin.SHEET,
    measure: str = "",
) -> str:
    """Say what a fitted item should read, in the place of what was said before; the expectation's id.

    `measure` is the word of what is measured, empty for the part's own value. `BadInput` if the text cannot
    be read as an expectation of that for its kind of part.
    """
    with library.act(f"should read {text}") as act:
        row = act.connection.execute("SELECT part FROM fitted WHERE id = ?", (fitted_id,)).fetchone()
        if row is None:
            raise BadInput(fitted_id, "is no fitted item of this library", "list the parts of the unit")
        part = part_of(act, row[0])
        expectation = part.measure(measure).expected(part.kind, text, origin)
        before = act.connection.execute(
            "SELECT id FROM expectation WHERE fitted = ? AND measure = ? AND until IS NULL",
            (fitted_id, measure),
        ).fetchall()
        for (old,) in before:
            act.update("expectation", old, {"until": act.at})
        return _expect(act, fitted_id, expectation, measure)


def _expect(act: Act, fitted_id: str, expectation: Expectation, measure: str) -> str:
    id_ = new_id()
    act.insert(
        "expectation",
        {
            "id": id_,
            "fitted": fitted_id,
            "measure": measure,
            "text": expectation.text,
            "origin": str(expectation.origin),
            "nominal": expectation.nominal,
            "low": _end(expectation.low),
            "high": _end(expectation.high),
            "unit": expectation.unit,
            "at": act.at,
        },
    )
    return id_


def _end(limit: float | None) -> float | None:
    """A limit as it is kept: an infinite one is none."""
    return limit if limit is not None and math.isfinite(limit) else None


def _next(act: Act, table: str, column: str, owner: str = "", id_: str = "") -> int:
    """One more than the highest number in use, from 1."""
    where = f"WHERE {owner} = ?" if owner else ""
    (highest,) = act.connection.execute(
        f"SELECT coalesce(max({column}), 0) FROM {table} {where}",  # noqa: S608
        (id_,) if owner else (),
    ).fetchone()
    return int(highest) + 1


# --- visits and rounds ---------------------------------------------------------------------------


def open_visit(library: Library, unit_id: str, complaint: str = "", mains: float | None = None) -> Visit:
    """Take a unit in; the visit gets the next number of the library."""
    with library.act("take the unit in") as act:
        visit = Visit(new_id(), unit_id, _next(act, "visit", "number"), complaint, mains, act.at)
        act.insert(
            "visit",
            {
                "id": visit.id,
                "unit": unit_id,
                "number": visit.number,
                "complaint": complaint,
                "mains": mains,
                "opened": visit.opened,
            },
        )
    return visit


def close_visit(library: Library, visit_id: str) -> None:
    """Hand a unit over."""
    with library.act("hand the unit over") as act:
        act.update("visit", visit_id, {"closed": act.at})


def start_round(library: Library, visit_id: str, kind: RoundKind, title: str = "") -> Round:
    """Begin a pass over parts."""
    with library.act(f"begin a round {kind}") as act:
        round_ = Round(new_id(), visit_id, kind, title, act.at)
        act.insert(
            "round",
            {
                "id": round_.id,
                "visit": visit_id,
                "kind": str(kind),
                "title": title,
                "started": round_.started,
            },
        )
    return round_


def end_round(library: Library, round_id: str) -> None:
    """End a pass over parts."""
    with library.act("end the round") as act:
        act.update("round", round_id, {"ended": act.at})


def open_item(library: Library, visit_id: str, kind: str, text: str, part_id: str = "") -> str:
    """Put something on the open list of a visit; the item's id."""
    with library.act(f"on the open list: {text}") as act:
        id_ = new_id()
        act.insert(
            "open_item",
            {
                "id": id_,
                "visit": visit_id,
                "part": part_id or None,
                "kind": kind,
                "text": text,
                "opened": act.at,
            },
        )
    return id_


def close_item(library: Library, item_id: str) -> None:
    """Strike something off the open list: it was put back."""
    with library.act("off the open list") as act:
        act.update("open_item", item_id, {"closed": act.at})


def say_boards(library: Library, visit_id: str, dead: bool | None, round_id: str = "") -> None:
    """Keep that the boards were found without charge, or charged; None takes back what was said before."""
    with library.act("the boards' charge") as act:
        row: dict[str, Value] = {
            "id": new_id(),
            "visit": visit_id,
            "round": round_id or None,
            "dead": None if dead is None else int(dead),
            "at": act.at,
        }
        act.insert("boards_dead", row)


def void_boards(library: Library) -> None:
    """Take back what was said of the boards' charge in every visit: power is put on, and leaves no run to show it."""
    with library.act("power put on for a proof") as act:
        found = act.connection.execute(
            "SELECT visit FROM boards_dead WHERE dead IS NOT NULL"
            " AND rowid IN (SELECT max(rowid) FROM boards_dead GROUP BY visit)"
        ).fetchall()
        for (visit,) in found:
            say_boards(library, visit, None)


# --- readings ------------------------------------------------------------------------------------


def keep_reading(
    library: Library, reading: PartReading, judgement: Judgement | None = None, expected: str = ""
) -> bool:
    """Keep a part reading and what it proves; False if it was kept before, known by its id.

    `expected` is the text of the expectation it was judged by.
    """
    with library.act(f"reading of {reading.designator}") as act:
        if is_kept(act.connection, reading.id):
            return False
        act.insert("reading", row_of_reading(reading))
        if judgement is not None:
            # Not an edit of its own: when the reading is taken back it stays with it.
            insert(act.connection, "judgement", _row_of_judgement(act, reading.id, judgement, expected))
    return True


def judge_reading(library: Library, reading_id: str, judgement: Judgement, expected: str = "") -> None:
    """Add a later verdict to a reading; the older ones stay."""
    with library.act("judge again") as act:
        act.insert("judgement", _row_of_judgement(act, reading_id, judgement, expected))


def _row_of_judgement(act: Act, reading_id: str, judgement: Judgement, expected: str) -> dict[str, Value]:
    return {
        "id": new_id(),
        "reading": reading_id,
        "at": act.at,
        "rule": str(judgement.rule),
        "verdict": str(judgement.verdict),
        "reason": judgement.reason,
        "expected": expected,
        "low": _end(judgement.low),
        "high": _end(judgement.high),
        "value": judgement.value,
        "uncertainty": judgement.uncertainty,
        "coverage": COVERAGE if judgement.uncertainty is not None else None,
        "probability": judgement.probability,
        "unit": judgement.unit,
        "near_limit": int(judgement.near_limit),
        "notes": "\n".join(judgement.notes),
    }


def withdraw(library: Library, reading_ids: Iterable[str], reason: str) -> None:
    """Take readings back: they stay and no longer count; those taken back before are left as they are."""
    with library.act("take readings back") as act:
        for id_ in reading_ids:
            known = act.connection.execute("SELECT 1 FROM withdrawn WHERE id = ?", (id_,)).fetchone()
            if not known:
                act.insert("withdrawn", {"id": id_, "at": act.at, "reason": reason})


def undo(library: Library) -> str:
    """Take the newest act back that still stands; its label, or nothing if there is none."""
    return library.undo()


# --- sessions ------------------------------------------------------------------------------------


def put_session_in_index(library: Library, session: Path) -> SessionLine:
    """Bring the line of one session up to date, and copy readings taken in it that the library lacks."""
    if not session.is_file():
        raise BadInput(str(session), "there is no session file here", "check the name and the folder")
    return take_in(session, library.connection, SweepReport())


def remark_late(library: Library, session: Path, text: str, t: int) -> RemarkRow:
    """Add a note about plan time `t` to a closed session, marked as late; `Busy` while it is live."""
    row = RemarkRow(new_id(), t, text, late=True)
    lock = FileLock.take(lock_path(session), str(session))
    try:
        with contextlib.closing(open_file(session, SESSION, write=True)) as connection, plain_errors(session):
            connection.execute(
                "INSERT INTO remark (id, t, text, late, at) VALUES (?, ?, ?, ?, ?)", (*row, library.now())
            )
    finally:
        lock.release(remove=True)
    put_session_in_index(library, session)
    return row
