"""Many parts in one act: a list taken in, a board copied for the other side; one commit, one undo."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from benchlog.domain.designator import Mirror, fold
from benchlog.domain.unit import Board, PartEntry, Unit
from benchlog.errors import BadInput, Fault
from benchlog.store.changes import Act, Value
from benchlog.store.edit import add_board, add_parts
from benchlog.store.ids import new_id
from benchlog.store.library import Library

FIRST_BOARD = "Board 1"
"""Where parts go of a unit without boards."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A part and the name of the board it goes on; a board that the unit does not have yet is made."""

    board: str
    entry: PartEntry


@dataclass(frozen=True, slots=True)
class Copied:
    """What a copy did: the board it went to, how many parts it made, which of them stood there already."""

    board: str
    made: int
    there: tuple[str, ...]


def take_in(library: Library, unit_id: str, parts: Sequence[Placed], label: str) -> int:
    """Take parts in on their boards, all of them or none; how many. `BadInput` with each that is there already."""
    of_board: dict[str, list[PartEntry]] = {}
    names: dict[str, str] = {}
    for part in parts:
        of_board.setdefault(fold(part.board), []).append(part.entry)
        names.setdefault(fold(part.board), part.board)
    faults: list[Fault] = []
    with library.act(label) as act:
        boards = _boards(act, unit_id)
        for key, entries in of_board.items():
            board = boards.get(key) or add_board(library, unit_id, names[key])
            try:
                add_parts(library, board.id, entries)
            except BadInput as error:
                faults += [replace(one, place=f"{board.name}: {one.place}") for one in error.faults]
        if faults:
            raise BadInput.of(faults)
    return len(parts)


def copy_board(library: Library, unit: Unit, board_id: str, name: str) -> Copied:
    """Copy a board's parts to the board `name` as the same ones of the other side, with what each should read.

    That board is made where the unit has none called so; parts that stand there stay as they are. `BadInput` with
    every part of which neither rule nor table tells the other side: then nothing is copied.
    """
    mirror = Mirror(unit.mirror, unit.pairs)
    with library.act(f"copy of a board: {name}") as act:
        rows = act.connection.execute(
            "SELECT id, designator FROM part WHERE board = ? ORDER BY place", (board_id,)
        ).fetchall()
        others = [(part, mirror.other(designator) or "") for part, designator in rows]
        _check_others(row[1] for row, (_, other) in zip(rows, others, strict=True) if not other)
        boards = _boards(act, unit.id)
        board = boards.get(fold(name)) or add_board(library, unit.id, name)
        known, place = _designators(act, board.id), _last_place(act, board.id)
        there: list[str] = []
        for part, other in others:
            if fold(other) in known:
                there.append(other)
                continue
            known.add(fold(other))
            place += 1
            _copy_part(act, part, {"board": board.id, "designator": other, "place": place})
    return Copied(board.name, len(others) - len(there), tuple(there))


def _check_others(without: Iterable[str]) -> None:
    faults = [
        Fault(designator, "has no other side by rule or table", "add a rule such as R1## <-> R2##, or a pair")
        for designator in without
    ]
    if faults:
        raise BadInput.of(faults)


def _copy_part(act: Act, part: str, changed: dict[str, Value]) -> None:
    """A part once more, with what is fitted there now and what that should read."""
    new = new_id()
    (row,) = _rows(act, "part", "id = ?", part)
    act.insert("part", row | changed | {"id": new})
    for item in _rows(act, "fitted", "part = ? AND until IS NULL", part):
        own = new_id()
        fresh: dict[str, Value] = {"id": own, "part": new, "visit": None, "reason": "", "since": act.at}
        act.insert("fitted", item | fresh)
        for told in _rows(act, "expectation", "fitted = ? AND until IS NULL", str(item["id"])):
            act.insert("expectation", told | {"id": new_id(), "fitted": own, "at": act.at})


def _rows(act: Act, table: str, where: str, value: str) -> list[dict[str, Value]]:
    """Whole rows with all their columns, also those of a later layout; in the order they were written."""
    cursor = act.connection.execute(f"SELECT * FROM {table} WHERE {where} ORDER BY rowid", (value,))  # noqa: S608
    names = [column[0] for column in cursor.description]
    return [dict(zip(names, row, strict=True)) for row in cursor]


def _boards(act: Act, unit_id: str) -> dict[str, Board]:
    """The boards of a unit by their names, folded."""
    found = act.connection.execute("SELECT id, unit, name, place FROM board WHERE unit = ?", (unit_id,))
    return {fold(row[2]): Board(*row) for row in found}


def _designators(act: Act, board_id: str) -> set[str]:
    found = act.connection.execute("SELECT designator FROM part WHERE board = ?", (board_id,))
    return {fold(designator) for (designator,) in found}


def _last_place(act: Act, board_id: str) -> int:
    (place,) = act.connection.execute(
        "SELECT coalesce(max(place), 0) FROM part WHERE board = ?", (board_id,)
    ).fetchone()
    return int(place)
