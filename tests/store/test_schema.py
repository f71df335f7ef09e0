"""The tables are their own documentation: each table and each column carries a comment in the file."""

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from helpers.kept import begin

from benchlog.store import schema_library, schema_session
from benchlog.store.library import Library

TABLES = [
    pytest.param(text, id=f"{kind}-{found[1]}")
    for kind, tables in (("session", schema_session.TABLES), ("library", schema_library.TABLES))
    for text in tables
    if (found := re.match(r"\s*CREATE TABLE (\w+)", text))
]
SELF_TELLING = {"id", "name", "maker", "model", "serial", "note", "title", "text", "reason"}
"""Columns whose name says it all."""
AS_IN_THE_FILE = "-- from here on as in the file's table session"


@pytest.fixture(params=["session", "library"])
def file(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """A fresh file as any SQLite tool sees it."""
    if request.param == "session":
        writer = begin(tmp_path)
        writer.close("completed", "", 0)
        path = writer.path
    else:
        Library.open(tmp_path).close()
        path = tmp_path / "library.db"
    with closing(sqlite3.connect(path)) as connection:
        yield connection


@pytest.mark.parametrize("text", TABLES)
def test_a_table_and_its_columns_say_what_they_are(text: str) -> None:
    first, *lines = text.strip().splitlines()[:-1]
    assert first.startswith("CREATE TABLE")
    assert lines[0].strip().startswith("-- ")
    told_elsewhere = False
    for line in lines:
        code, _, comment = line.strip().partition("-- ")
        told_elsewhere = told_elsewhere or AS_IN_THE_FILE in line
        if not code or re.match(r"(PRIMARY KEY|UNIQUE|CHECK) ?\(", code):
            continue
        assert comment or told_elsewhere or code.split()[0] in SELF_TELLING or code.startswith("CHECK"), line


def test_the_comments_stand_in_the_file(file: sqlite3.Connection) -> None:
    tables = file.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'table'").fetchall()
    assert len(tables) >= 10
    for name, text in tables:
        assert re.search(r"\n\s+-- \w", text), name


def test_every_table_is_strict(file: sqlite3.Connection) -> None:
    loose = [
        row[1] for row in file.execute("PRAGMA table_list") if not row[1].startswith("sqlite_") and not row[5]
    ]
    assert loose == []


def test_a_link_leads_to_a_table(file: sqlite3.Connection) -> None:
    assert file.execute("PRAGMA foreign_key_check").fetchall() == []


def test_readings_lie_in_the_order_they_are_asked_for(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    writer.close("completed", "", 0)
    with closing(sqlite3.connect(writer.path)) as connection:
        plan = connection.execute(
            "EXPLAIN QUERY PLAN SELECT t, value FROM reading WHERE trace = 1 AND t BETWEEN 0 AND 9 ORDER BY t"
        ).fetchall()
    assert [row[3] for row in plan] == ["SEARCH reading USING PRIMARY KEY (trace=? AND t>? AND t<?)"]
