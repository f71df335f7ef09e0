"""The library folder in the hands of the one who may write to it."""

import contextlib
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

from benchlog.store.changes import Act, newest_act, undo_last
from benchlog.store.committing import committed
from benchlog.store.ids import utc_now
from benchlog.store.lock import FileLock
from benchlog.store.migrations import LIBRARY
from benchlog.store.opening import PROGRAM, create, open_file, plain_errors
from benchlog.store.places import LIBRARY_FILE, SESSIONS
from benchlog.store.settling import settle
from benchlog.store.sweep import SweepReport, sweep, take_in

LOCK_FILE = "library.lock"
FOLDERS = ("plans", "benches", "photos", SESSIONS, "backups")


class Library:
    """An open library: its lock, its one writing connection, and what the sweep found.

    One thread uses it at a time; which one does not matter.
    """

    def __init__(
        self, folder: Path, lock: FileLock, connection: sqlite3.Connection, now: Callable[[], str]
    ) -> None:
        self.folder = folder
        self.sessions = folder / SESSIONS
        self.plans = folder / "plans"
        self.benches = folder / "benches"
        self.photos = folder / "photos"
        self.backups = folder / "backups"
        self.swept = SweepReport()
        self.now = now
        self.connection = connection
        self._lock = lock
        self._act: Act | None = None

    @classmethod
    def open(cls, folder: Path, program: str = PROGRAM, now: Callable[[], str] = utc_now) -> "Library":
        """Take the lock of a library, make what is missing of it, and sweep its sessions.

        `Busy` if another benchlog has it, `TooNew` or `Damaged` if it cannot be used, `Full` where
        nothing can be written. `program` stands in what is written, `now` gives UTC texts.
        """
        with plain_errors(folder):
            folder.mkdir(parents=True, exist_ok=True)
        lock = FileLock.take(folder / LOCK_FILE, str(folder))
        try:
            with plain_errors(folder):
                for name in FOLDERS:
                    (folder / name).mkdir(exist_ok=True)
            path = folder / LIBRARY_FILE
            if not path.exists():
                create(path, LIBRARY, lambda _: None, program)
            connection = open_file(
                path,
                LIBRARY,
                write=True,
                program=program,
                before_migrating=lambda older: _back_up(older, folder / "backups", now()),
            )
        except BaseException:
            lock.release()
            raise
        library = cls(folder, lock, connection, now)
        try:
            with plain_errors(folder):
                settle(folder, connection)
            library.swept = library.sweep()
        except BaseException:
            library.close()
            raise
        return library

    def sweep(self) -> SweepReport:
        """Close what died, read in what is new; also after a session was closed."""
        with plain_errors(self.folder / LIBRARY_FILE):
            return sweep(self.folder, self.connection)

    @contextmanager
    def act(self, label: str) -> Iterator[Act]:
        """One act of the operator: one durable commit and one undo for everything edited within.

        Inside another act it belongs to that one.
        """
        if self._act is not None:
            yield self._act
            return
        with plain_errors(self.folder / LIBRARY_FILE):
            try:
                with committed(self.connection):
                    self._act = Act(self.connection, label, self.now())
                    yield self._act
            finally:
                self._act = None

    def undo(self) -> str:
        """Take the newest act back that still stands; its label, or nothing if there is none."""
        with plain_errors(self.folder / LIBRARY_FILE), committed(self.connection):
            label = undo_last(self.connection, self.now())
        self.settle_bin()
        return label

    def newest(self) -> tuple[str, frozenset[str]]:
        """Label and tables of the newest act that still stands: what undo would take back."""
        with plain_errors(self.folder / LIBRARY_FILE):
            act, label = newest_act(self.connection)
            tables = self.connection.execute(
                'SELECT DISTINCT "table" FROM change WHERE act = ?', (act,)
            ).fetchall()
        return label, frozenset(table for (table,) in tables)

    def settle_bin(self) -> None:
        """Move the files of runs to where the library has them, and list those that came back."""
        with plain_errors(self.folder):
            back = settle(self.folder, self.connection)
        for path in back:
            take_in(path, self.connection, SweepReport())

    def backup(self) -> Path:
        """A consistent copy of library.db in the folder of backups; the sessions are plain files."""
        with plain_errors(self.backups):
            return _back_up(self.connection, self.backups, self.now())

    def close(self) -> None:
        """Let go of the library."""
        self.connection.close()
        self._lock.release()

    def __enter__(self) -> "Library":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _back_up(connection: sqlite3.Connection, backups: Path, now: str) -> Path:
    """A copy named by its time; one of the same second is replaced."""
    path = backups / f"library-{now[:19].replace('-', '').replace(':', '')}Z.db"
    path.unlink(missing_ok=True)
    with contextlib.closing(sqlite3.connect(path)) as copy:
        connection.backup(copy)
    return path
