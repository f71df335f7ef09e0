"""Levels of detail for a run that was closed without them, worked out a little at a time by who may write."""

import contextlib
from pathlib import Path

from benchlog.store import levels
from benchlog.store.edit import put_session_in_index
from benchlog.store.library import Library
from benchlog.store.lock import FileLock
from benchlog.store.migrations import SESSION
from benchlog.store.opening import open_file, plain_errors, reading
from benchlog.store.places import lock_path


def share(session: Path) -> float:
    """How much of a session has its levels, 0 to 1."""
    with reading(session, SESSION) as connection:
        return levels.share(connection)


def work_out(library: Library, session: Path, seconds: float) -> float:
    """Work for about so long at the levels that a closed session lacks; how much of it has them now, 0 to 1.

    `Busy` while it is live. What is done stays done, so that it can be gone on with.
    """
    lock = FileLock.take(lock_path(session), str(session))
    try:
        with contextlib.closing(open_file(session, SESSION, write=True)) as connection, plain_errors(session):
            levels.work_out(connection, seconds)
            done = levels.share(connection)
    finally:
        lock.release(remove=True)
    put_session_in_index(library, session)
    return done
