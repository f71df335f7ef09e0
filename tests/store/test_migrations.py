"""A library made by an earlier benchlog holds what it held, and what is new is empty there."""

import sqlite3
from contextlib import closing
from pathlib import Path

from helpers.kept import begin
from helpers.library import part_reading, stocked

from benchlog.store import edit, query, query_unit
from benchlog.store.changes import Value, insert
from benchlog.store.library import Library
from benchlog.store.migrations import LIBRARY, Layout, columns_of
from benchlog.store.opening import create, open_file
from benchlog.store.part_rows import COLUMNS, reading_of_row
from benchlog.store.records import RemarkRow
from benchlog.store.schema_library import BINNED, BOARDS_DEAD, GOOD_RUN, READING_SESSION, ROUNDS_PLANNED

SINCE = tuple(
    f"    {name} "
    for name in (
        *("error", "nulled", "beside", "words", "off", "told_off"),
        *("measures", "measure", "model     ", "applied", "minutes"),
    )
)
"""Columns that came after the first layout."""


MEASURES = {
    "part": ("measures",),
    "expectation": ("measure",),
    "reading": ("measure", "model", "applied", "minutes"),
}
"""Columns that came with the measures of a part."""


def first_layout() -> Layout:
    """The library's tables as format 1 had them."""
    tables = tuple(
        "\n".join(line for line in table.split("\n") if not line.startswith(SINCE))
        # What stood before the newer columns was the last one.
        .replace("NOT NULL,     -- why it is unreadable", "NOT NULL      -- why it is unreadable")
        .replace("TEXT,               -- UTC at which another", "TEXT                -- UTC at which another")
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
        ("part", "measures"),
        ("expectation", "measure"),
        *(("reading", name) for name in ("measure", "model", "applied", "minutes")),
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
        for table, columns in MEASURES.items():
            for column in columns:
                library.connection.execute(f"ALTER TABLE {table} DROP COLUMN {column}")
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


def test_the_parts_of_an_older_library_have_one_measure_each_and_what_was_said_of_another_stays_its(
    tmp_path: Path,
) -> None:
    stock = stocked(tmp_path)
    fitted = stock.fitted("R110")
    edit.keep_reading(stock.library, part_reading(fitted=fitted, round=stock.round.id))
    edit.expect(stock.library, fitted, "0 V +/-20 mV", measure="volts")
    connection = stock.library.connection
    connection.execute("UPDATE expectation SET function = 'volts_dc' WHERE measure = 'volts'")
    for table, columns in MEASURES.items():
        for column in columns:
            connection.execute(f"ALTER TABLE {table} DROP COLUMN {column}")
    connection.execute("DELETE FROM format WHERE version > 7")
    connection.execute("PRAGMA user_version = 7")
    stock.library.close()
    with Library.open(tmp_path):
        pass
    lines = query_unit.parts(tmp_path, stock.unit.id)
    assert [line.designator for line in lines] == ["C4", "R9", "R110", "D9", "R210"]
    assert {line.measure.word for line in lines} == {""}
    r110 = lines[2]
    assert [(one.text, one.measure) for one in r110.expected] == [("4k7 5%", ""), ("0 V +/-20 mV", "volts")]
    (kept,) = query_unit.round_results(tmp_path, stock.round.id)
    assert (kept.reading.measure, kept.reading.conditions.model, kept.reading.value) == ("", "", 4680.0)
