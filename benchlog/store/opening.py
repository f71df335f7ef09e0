"""How a file of ours is made and opened: one checklist, and SQLite's errors as plain sentences."""

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from benchlog import __version__
from benchlog.errors import BadInput, Busy, Damaged, Full, StoreError, TooNew
from benchlog.store.ids import utc_now
from benchlog.store.migrations import Layout, columns_of, migrate, stamp

PROGRAM = f"benchlog {__version__}"
BUSY_WAIT = 5.0
"""Seconds a statement waits for another process's short lock."""
_PRAGMAS = (
    "foreign_keys = ON",
    "trusted_schema = OFF",
    "synchronous = FULL",
    # Where fsync alone does not reach the disk (macOS); without effect elsewhere.
    "fullfsync = ON",
    "checkpoint_fullfsync = ON",
)
OLDEST_SQLITE = (3, 37, 0)
"""The first with STRICT tables."""

_BUSY = ("SQLITE_BUSY", "SQLITE_LOCKED", "SQLITE_PROTOCOL")
_DAMAGED = ("SQLITE_CORRUPT", "SQLITE_NOTADB", "SQLITE_IOERR_READ", "SQLITE_IOERR_SHORT_READ")
_DAMAGED_UNNAMED = ("Could not decode to UTF-8", "unsupported file format", "malformed database schema")
"""Damage found by Python's own layer, or before SQLite knows the file: it carries no name of its own."""
_FULL = ("SQLITE_FULL", "SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_IOERR")


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn what the disk or another process did to `path` into a `StoreError`; bugs pass through."""
    try:
        yield
    except sqlite3.Error as error:
        known = _known(path, error)
        if known is None:
            raise
        raise known from error
    except UnicodeDecodeError as error:  # SQLite quotes the file in its message, and Python cannot read that
        raise _damaged(path, "it holds text that is no text") from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise Full(
            str(path), f"cannot be read or written here ({reason})", "make room or choose another folder"
        ) from error


def _known(path: Path, error: sqlite3.Error) -> StoreError | None:
    """The sentence for an SQLite error that is nobody's bug; None for one that is."""
    name = getattr(error, "sqlite_errorname", "")
    if str(error).startswith(_DAMAGED_UNNAMED):
        return _damaged(path, str(error))
    if name.startswith(_BUSY):
        return Busy(str(path), "is in use by another program", "close that one and try again")
    if name.startswith(_DAMAGED):
        return _damaged(path, str(error))
    if name.startswith(_FULL):
        return Full(
            str(path), f"cannot be read or written here ({error})", "make room or choose another folder"
        )
    return None


@contextmanager
def plain_words(path: Path) -> Iterator[None]:
    """Turn a word in a file that we cannot have written there into `Damaged`; for turning rows into records."""
    try:
        yield
    except (KeyError, ValueError) as error:
        raise _damaged(path, f"it holds {error}") from error


def _damaged(path: Path, how: str) -> Damaged:
    return Damaged(str(path), f"is damaged ({how})", "go back to a copy of it")


def create(
    path: Path, layout: Layout, fill: Callable[[sqlite3.Connection], None], program: str = PROGRAM
) -> None:
    """Make a new file at `path`, whole and on the disk or not at all; `fill` adds its first rows.

    It is made beside its place and moved there, so a crash never leaves half a file under the name.
    """
    part = path.with_suffix(".part")
    with plain_errors(path):
        part.unlink(missing_ok=True)
        connection = _connect(part, "rwc")
        try:
            # No journal file: a half-made part is thrown away, never rolled back.
            connection.execute("PRAGMA journal_mode = MEMORY")
            connection.execute("BEGIN IMMEDIATE")
            for statement in layout.tables:
                connection.execute(statement)
            connection.execute(f"PRAGMA application_id = {layout.application_id:d}")
            stamp(connection, layout.version, "first layout of this file", program, utc_now())
            fill(connection)
            connection.execute("COMMIT")
        finally:
            connection.close()
        part.replace(path)
        _sync_folder(path.parent)


def _sync_folder(folder: Path) -> None:
    """Put a new name on the disk; Windows does so by itself and lets no folder be opened."""
    if os.name == "posix":  # pragma: no branch
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def open_file(
    path: Path,
    layout: Layout,
    *,
    write: bool,
    program: str = PROGRAM,
    before_migrating: Callable[[sqlite3.Connection], object] | None = None,
) -> sqlite3.Connection:
    """Open a file of ours after the whole checklist; the caller closes it.

    Checked in this order: SQLite itself, that the file is there, that it is ours, that it is no
    newer than this program; for writing, an older layout is then brought up step by step, after
    `before_migrating` has seen the file as it was.
    """
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        least = ".".join(map(str, OLDEST_SQLITE))
        problem = f"version {sqlite3.sqlite_version} is too old"
        raise StoreError("SQLite", problem, f"use a Python with {least} or later")
    with plain_errors(path):
        if not path.is_file():
            raise BadInput(str(path), f"there is no {layout.noun} here", "check the name and the folder")
        connection = _connect(path, "rw" if write else "ro")
        try:
            version = _checked_version(connection, path, layout)
            if version == layout.version:
                _check_tables(connection, path, layout)
            elif write:
                if before_migrating is not None:
                    before_migrating(connection)
                migrate(connection, layout, version, program, utc_now())
        except BaseException:
            connection.close()
            raise
    return connection


@contextmanager
def reading(path: Path, layout: Layout) -> Iterator[sqlite3.Connection]:
    """A read-only look at one consistent state of a file; opened here, closed when the block ends."""
    with plain_errors(path):
        try:
            connection = open_file(path, layout, write=False)
        except StoreError as error:
            if getattr(error.__cause__, "sqlite_errorname", "") != "SQLITE_READONLY_ROLLBACK":
                raise
            _roll_back(path)
            connection = open_file(path, layout, write=False)
        try:
            connection.execute("BEGIN")
            yield connection
        finally:
            connection.close()


def _roll_back(path: Path) -> None:
    """Undo the half commit of a writer that died; SQLite does so for the first who may write and looks."""
    connection = _connect(path, "rw")
    try:
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    finally:
        connection.close()


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    """A connection with our pragmas and no transaction of its own; any thread may use it, one at a time."""
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=BUSY_WAIT,
        isolation_level=None,
        check_same_thread=False,
    )
    try:
        for pragma in _PRAGMAS:
            connection.execute(f"PRAGMA {pragma}")
    except BaseException:
        connection.close()
        raise
    return connection


def _checked_version(connection: sqlite3.Connection, path: Path, layout: Layout) -> int:
    """The layout's version in the file; `Damaged` if it is not ours, `TooNew` if it is ahead of us."""
    (application_id,) = connection.execute("PRAGMA application_id").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    if application_id != layout.application_id or version < 1:
        raise Damaged(str(path), f"is no {layout.noun} of benchlog", "check the name")
    if version > layout.version:
        raise TooNew(
            str(path),
            f"was written by {_writer(connection)} in format {version}, and {PROGRAM} reads up to {layout.version}",
            "use the newer benchlog",
        )
    return int(version)


def _check_tables(connection: sqlite3.Connection, path: Path, layout: Layout) -> None:
    """`Damaged` if a column is missing, so that later a missing one can only be a bug of ours."""
    missing = sorted(layout.columns - columns_of(connection))
    if missing:
        raise _damaged(path, "it lacks the column {} of its table {}".format(*reversed(missing[0])))


def _writer(connection: sqlite3.Connection) -> str:
    """Which program gave the file its layout, as far as its `format` table still tells."""
    try:
        row = connection.execute("SELECT program FROM format ORDER BY version DESC LIMIT 1").fetchone()
    except sqlite3.Error:
        row = None
    return str(row[0]) if row and row[0] else "a newer benchlog"
