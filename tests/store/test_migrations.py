"""A library made by an earlier benchlog holds what it held, and what is new is empty there."""

import sqlite3
from contextlib import closing
from pathlib import Path

from helpers.kept import begin

from benchlog.store import query
from benchlog.store.changes import Value, insert
from benchlog.store.library import Library
from benchlog.store.migrations import LIBRARY, Layout, columns_of
from benchlog.store.opening import create, open_file
from benchlog.store.part_rows import COLUMNS, reading_of_row
from benchlog.store.records import RemarkRow
from benchlog.store.schema_library import BINNED, BOARDS_DEAD, GOOD_RUN, READING_SESSION, ROUNDS_PLANNED

SINCE = ("    error ", "    nulled ", "    beside ", "    words ", "    off ", "    told_off ")
"""Columns that came after the first layout."""


def first_layout() -> Layout:
    """The library's tables as format 1 had them."""
    tables = tuple(
        "\n".join(line for line in table.split("\n") if not line.startswith(SINCE)).replace(
            # What stood before the newer columns was the last one.
            "NOT NULL,     -- why it is unreadable",
            "NOT NULL      -- why it is unreadable",
        )
        for table in LIBRARY.tables
        if table not in (BOARDS_DEAD, READING_SESSION, GOOD_RUN, BINNED, *ROUNDS_PLANNED)
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
        *(("session", name) for name in ("words", "off", "told_off")),
        *(("round_part", name) for name in ("id", "round", "part", "place")),
        *(("charge", name) for name in ("id", "visit", "reservoirs", "nodes", "at")),
        *(("good_run", name) for name in ("id", "unit", "session", "at")),
        *(("binned", name) for name in ("id", "file", "session", "at", "emptied")),
    }
    with closing(open_file(path, LIBRARY, write=True)) as connection:
        assert columns_of(connection) == LIBRARY.columns
        connection.row_factory = sqlite3.Row
        row = connection.execute("SELECT * FROM reading").fetchone()
    reading = reading_of_row(tuple(row[name] for name in COLUMNS))
    assert (reading.value, reading.error, reading.nulled, reading.beside) == (4680.0, None, None, ())


def test_the_runs_of_an_older_library_are_read_again_for_their_words(tmp_path: Path) -> None:
    with Library.open(tmp_path):
        pass
    writer = begin(tmp_path / "sessions")
    writer.append(remarks=[RemarkRow("a", 0, "The left fan sings.")])
    writer.close("completed", "", 1)
    with Library.open(tmp_path) as library:
        library.connection.execute("UPDATE session SET words = '', off = 'nobody knows'")
        for table in ("good_run", "binned", "round_part", "charge"):
            library.connection.execute(f"DROP TABLE {table}")
        library.connection.execute("DROP INDEX reading_session")
        for column in ("words", "off", "told_off"):
            library.connection.execute(f"ALTER TABLE session DROP COLUMN {column}")
        library.connection.execute("DELETE FROM format WHERE version > 3")
        library.connection.execute("PRAGMA user_version = 3")
    with Library.open(tmp_path):
        pass
    (line,) = query.sessions(tmp_path)
    assert " sings" in line.words
    assert line.off == ""
