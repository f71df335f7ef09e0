"""Steps from one layout of a file to the next: ordered, named, each whole or not at all.

A layout's version is one more than the number of its steps, so a step is added by appending it
to its tuple, and the tables of a new file are always the newest.
"""

import contextlib
import functools
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from benchlog.store import schema_library, schema_session
from benchlog.store.committing import committed


@dataclass(frozen=True, slots=True)
class Step:
    """One change of layout; `apply` runs inside the transaction that also records the step."""

    name: str
    apply: Callable[[sqlite3.Connection], object]


@dataclass(frozen=True)
class Layout:
    """A kind of file: what it is called, how it is known, its tables, and how older ones get there."""

    noun: str
    application_id: int
    tables: tuple[str, ...]
    steps: tuple[Step, ...] = ()

    @property
    def version(self) -> int:
        """The version of the newest layout; a file without steps taken has version 1."""
        return 1 + len(self.steps)

    @functools.cached_property
    def columns(self) -> frozenset[tuple[str, str]]:
        """Table and name of every column the newest layout has."""
        with contextlib.closing(sqlite3.connect(":memory:")) as connection:
            for statement in self.tables:
                connection.execute(statement)
            return columns_of(connection)


def _add_columns(connection: sqlite3.Connection, table: str, *columns: str) -> None:
    for column in columns:
        connection.execute(f"ALTER TABLE {table} ADD COLUMN {column}")


def _words_of_runs(connection: sqlite3.Connection) -> None:
    """Add the columns, and have every run read again: the list is a cache of their files."""
    more = (
        "words TEXT NOT NULL DEFAULT ''",
        "off TEXT NOT NULL DEFAULT ''",
        "told_off INTEGER NOT NULL DEFAULT 0",
    )
    _add_columns(connection, "session", *more)
    connection.execute("UPDATE session SET changed = 0")
    connection.execute(schema_library.READING_SESSION)


def _levels_anew(connection: sqlite3.Connection) -> None:
    """Begin them anew: they are worked out from the readings, by and by, once somebody looks at the run."""
    connection.execute("DROP TABLE level")
    connection.execute(schema_session.LEVEL)


def _rounds_planned(connection: sqlite3.Connection) -> None:
    for statement in schema_library.ROUNDS_PLANNED:
        connection.execute(statement)


def _measures(connection: sqlite3.Connection) -> None:
    """Add the columns; what an older expectation said of another measurement than the part's own keeps that."""
    _add_columns(connection, "part", "measures TEXT NOT NULL DEFAULT ''")
    _add_columns(connection, "expectation", "measure TEXT NOT NULL DEFAULT ''")
    more = (
        "measure TEXT NOT NULL DEFAULT ''",
        "model TEXT NOT NULL DEFAULT ''",
        "applied REAL",
        "minutes REAL",
    )
    _add_columns(connection, "reading", *more)
    connection.execute(
        "UPDATE expectation SET measure = CASE function WHEN 'volts_dc' THEN 'volts' ELSE function END"
        " WHERE function IS NOT NULL"
    )


SESSION_STEPS: tuple[Step, ...] = (Step("levels of detail know their longest silence", _levels_anew),)
LIBRARY_STEPS: tuple[Step, ...] = (
    Step("whether boards were found dead", lambda connection: connection.execute(schema_library.BOARDS_DEAD)),
    Step(
        "readings carry their meter's error, the leads taken off, and what came beside the value",
        lambda connection: _add_columns(
            connection, "reading", "error REAL", "nulled REAL", "beside TEXT NOT NULL DEFAULT ''"
        ),
    ),
    Step("the list of runs holds their words, and how each stood off", _words_of_runs),
    Step(
        "a run can be made the reference of its unit",
        lambda connection: connection.execute(schema_library.GOOD_RUN),
    ),
    Step("a deleted run can be brought back", lambda connection: connection.execute(schema_library.BINNED)),
    Step("a round can go over some parts, and what the boards held is kept in volts", _rounds_planned),
    Step("a part has several measures", _measures),
)

SESSION = Layout("session file", schema_session.APPLICATION_ID, schema_session.TABLES, SESSION_STEPS)
LIBRARY = Layout("library", schema_library.APPLICATION_ID, schema_library.TABLES, LIBRARY_STEPS)


def columns_of(connection: sqlite3.Connection) -> frozenset[tuple[str, str]]:
    """Table and name of every column of an open file."""
    return frozenset(
        connection.execute(
            "SELECT tables.name, columns.name FROM sqlite_schema AS tables, pragma_table_info(tables.name) AS columns"
            " WHERE tables.type = 'table'"
        )
    )


def migrate(connection: sqlite3.Connection, layout: Layout, version: int, program: str, at: str) -> None:
    """Take every step from `version` on; a step that fails leaves the file at the step before."""
    for number, step in enumerate(layout.steps[version - 1 :], start=version + 1):
        with committed(connection):
            step.apply(connection)
            stamp(connection, number, step.name, program, at)


def stamp(connection: sqlite3.Connection, version: int, name: str, program: str, at: str) -> None:
    """Write in the file which layout it has now, and by whom; inside the caller's transaction."""
    connection.execute(f"PRAGMA user_version = {version:d}")
    connection.execute(
        "INSERT INTO format (version, name, program, at) VALUES (?, ?, ?, ?)", (version, name, program, at)
    )
