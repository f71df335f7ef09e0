"""A library made by an earlier benchlog holds what it held, and what is new is empty there."""

import sqlite3
from contextlib import closing
from pathlib import Path

from benchlog.store.changes import Value, insert
from benchlog.store.migrations import LIBRARY, Layout, columns_of
from benchlog.store.opening import create, open_file
from benchlog.store.part_rows import COLUMNS, reading_of_row
from benchlog.store.schema_library import BOARDS_DEAD

SINCE_3 = ("    error ", "    nulled ", "    beside ")


def first_layout() -> Layout:
    """The library's tables as format 1 had them."""
    tables = tuple(
        "\n".join(line for line in table.split("\n") if not line.startswith(SINCE_3))
        for table in LIBRARY.tables
        if table != BOARDS_DEAD
    )
    return Layout(LIBRARY.noun, LIBRARY.application_id, tables)


def fill(connection: sqlite3.Connection) -> None:
    row: dict[str, Value] = {
        "id": "r1",
        "session": "",
        "designator": "R1",
        "function": "ohms",
        "outcome": "ok",
        "value": 4680.0,
    }
    row |= {
        "unit": "ohm",
        "negative": 0,
        "raw": "4.68k",
        "taken": "2026-01-01T00:00:00Z",
        "job": "parts meter",
    }
    row |= {
        "settled": 1,
        "typed": 0,
        "flags": "",
        "circuit": "",
        "leads": "",
        "lid": "",
        "volume": "",
        "load": "",
    }
    insert(connection, "reading", row)


def test_a_library_of_format_1(tmp_path: Path) -> None:
    path = tmp_path / "library.db"
    old = first_layout()
    create(path, old, fill, "benchlog 0.1.0")
    assert LIBRARY.columns - old.columns == {
        *(("boards_dead", name) for name in ("id", "visit", "round", "dead", "at")),
        ("reading", "error"),
        ("reading", "nulled"),
        ("reading", "beside"),
    }
    with closing(open_file(path, LIBRARY, write=True)) as connection:
        assert columns_of(connection) == LIBRARY.columns
        connection.row_factory = sqlite3.Row
        row = connection.execute("SELECT * FROM reading").fetchone()
    reading = reading_of_row(tuple(row[name] for name in COLUMNS))
    assert (reading.value, reading.error, reading.nulled, reading.beside) == (4680.0, None, None, ())
