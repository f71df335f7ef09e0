"""A part reading as a row of the library and back; where it belongs if its taker did not know."""

import sqlite3
from collections.abc import Mapping
from dataclasses import astuple, fields, replace

from benchlog.domain.designator import fold
from benchlog.domain.reading import Function, Outcome
from benchlog.domain.unit import Conditions, PartReading
from benchlog.store.changes import Value

_CONDITIONS = tuple(each.name for each in fields(Conditions))
_PLAIN = (
    "id",
    "designator",
    "value",
    "unit",
    "raw",
    "taken",
    "session",
    "job",
    "resolution",
    "error",
    "nulled",
    "measure",
)
_LINKS = ("fitted", "round", "visit")
_YES_NO = ("settled", "typed", "negative")
COLUMNS = (*_PLAIN, *_LINKS, *_YES_NO, "function", "outcome", "flags", "beside", *_CONDITIONS)
"""The columns of the table `reading` in the order `reading_of_row` wants them."""


def row_of_reading(reading: PartReading) -> dict[str, Value]:
    """The columns of the table `reading`."""
    row: dict[str, Value] = {name: getattr(reading, name) for name in _PLAIN}
    row |= {name: getattr(reading, name) or None for name in _LINKS}
    row |= {name: int(getattr(reading, name)) for name in _YES_NO}
    row |= {
        "function": str(reading.function),
        "outcome": str(reading.outcome),
        "flags": "\n".join(reading.flags),
        "beside": "\n".join(f"{word} {value!r}" for word, value in reading.beside),
    }
    row |= dict(zip(_CONDITIONS, astuple(reading.conditions), strict=True))
    if reading.conditions.inputs_shorted is not None:
        row["inputs_shorted"] = int(reading.conditions.inputs_shorted)
    return row


def reading_of_row(values: tuple[Value, ...]) -> PartReading:
    """The reading that a row with `COLUMNS` stands for."""
    row: dict[str, object] = dict(zip(COLUMNS, values, strict=True))
    known: dict[str, object] = {name: row.pop(name) for name in _CONDITIONS}
    if known["inputs_shorted"] is not None:
        known["inputs_shorted"] = bool(known["inputs_shorted"])
    row |= {name: row[name] or "" for name in _LINKS}
    row |= {name: bool(row[name]) for name in _YES_NO}
    row["function"] = Function(str(row["function"]))
    row["outcome"] = Outcome(str(row["outcome"]))
    row["flags"] = tuple(str(row["flags"]).split("\n")) if row["flags"] else ()
    pairs = (line.split(" ", 1) for line in str(row["beside"]).splitlines())
    row["beside"] = tuple((word, float(value)) for word, value in pairs)
    return PartReading(**row, conditions=Conditions(**known))  # type: ignore[arg-type]


def is_kept(connection: sqlite3.Connection, reading: str) -> bool:
    """Whether the library has the reading with this id."""
    return connection.execute("SELECT 1 FROM reading WHERE id = ?", (reading,)).fetchone() is not None


def placed(connection: sqlite3.Connection, reading: PartReading, visit: str) -> PartReading:
    """The reading with its links checked against the library, and filled in where they are plain.

    A link to what this library does not have is dropped. Without a fitted item the designator
    decides if the visit's unit has it once; without a round, the one under way at that time.
    """
    visit = _if_there(connection, "visit", reading.visit or visit)
    fitted = _if_there(connection, "fitted", reading.fitted) or _sole_fitted(connection, visit, reading)
    round_ = _if_there(connection, "round", reading.round) or _round_then(connection, visit, reading)
    return replace(reading, visit=visit, fitted=fitted, round=round_)


def _if_there(connection: sqlite3.Connection, table: str, row: str) -> str:
    found = connection.execute(f"SELECT id FROM {table} WHERE id = ?", (row,)).fetchone()  # noqa: S608
    return row if found else ""


def _sole_fitted(connection: sqlite3.Connection, visit: str, reading: PartReading) -> str:
    found = connection.execute(
        "SELECT fitted.id, part.designator FROM visit JOIN board ON board.unit = visit.unit"
        " JOIN part ON part.board = board.id JOIN fitted ON fitted.part = part.id WHERE visit.id = ?"
        " AND fitted.since <= ? AND (fitted.until IS NULL OR fitted.until > ?)",
        (visit, reading.taken, reading.taken),
    ).fetchall()
    called = fold(reading.designator)
    items = [item for item, designator in found if fold(designator) == called]
    return str(items[0]) if len(items) == 1 else ""


def _round_then(connection: sqlite3.Connection, visit: str, reading: PartReading) -> str:
    found = connection.execute(
        "SELECT id FROM round WHERE visit = ? AND started <= ? AND (ended IS NULL OR ended >= ?)"
        " ORDER BY started DESC, rowid DESC LIMIT 1",
        (visit, reading.taken, reading.taken),
    ).fetchone()
    return str(found[0]) if found else ""


def conditions_of(body: Mapping[str, object]) -> Conditions:
    """Conditions from a table of them; an unknown name is a TypeError."""
    return Conditions(**body)  # type: ignore[arg-type]
