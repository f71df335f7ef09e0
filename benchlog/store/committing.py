"""One durable commit, or nothing of it."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def committed(connection: sqlite3.Connection) -> Iterator[None]:
    """Commit what the block does as one; whatever leaves the block by an error takes all of it back."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        connection.rollback()
        raise
