"""How a session file with a log beside it becomes one plain file that can be copied by hand."""

import sqlite3
import time

from benchlog.store.records import State

PATIENCE = 2.0
"""Seconds to wait for readers to close; each opens, selects and closes within milliseconds."""

_PAUSE = 0.002
"""Seconds between two tries: shorter than the gap that a reader leaves between two looks."""


def fold(connection: sqlite3.Connection) -> bool:
    """Fold the log into the file and mark it closed; False where a reader stays attached.

    The session must have been closed before; `connection` must be the only one that writes.
    """
    deadline = time.monotonic() + PATIENCE
    while not _folded(connection):
        # SQLite answers at once here instead of waiting, so the waiting is done by hand.
        if time.monotonic() >= deadline:
            return False
        time.sleep(_PAUSE)
    return True


def _folded(connection: sqlite3.Connection) -> bool:
    try:
        connection.execute("PRAGMA journal_mode = DELETE").fetchone()
        connection.execute("UPDATE session SET state = ? WHERE state = ?", (State.CLOSED, State.NOT_FOLDED))
    except sqlite3.OperationalError as error:
        if error.sqlite_errorname.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
            return False
        raise
    return True
