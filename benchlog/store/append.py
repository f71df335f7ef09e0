"""The recorder's only door to a session file: whole batches, each one durable commit."""

import json
import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from itertools import chain
from pathlib import Path
from typing import Any

from benchlog.domain.levels import Bucket, Open, climb
from benchlog.domain.reading import Outcome
from benchlog.errors import Busy, Full
from benchlog.store import levels
from benchlog.store.committing import committed
from benchlog.store.folding import fold
from benchlog.store.ids import session_file_name, utc_now
from benchlog.store.lock import FileLock
from benchlog.store.migrations import SESSION
from benchlog.store.opening import PROGRAM, create, open_file, plain_errors
from benchlog.store.places import lock_path
from benchlog.store.records import (
    AnchorRow,
    EventRow,
    ReadingRow,
    RemarkRow,
    SessionHead,
    State,
    TakenRow,
    TraceRow,
)

_BEFORE_ALL = -(1 << 63)
_OVERLOAD = Outcome.OVERLOAD.value

_INSERT_READING = "INSERT INTO reading (trace, seq, t, value, outcome, raw) VALUES (?, ?, ?, ?, ?, ?)"
_AT_ONCE = 50
"""Rows in one statement: with each statement SQLite hands Python's lock to threads that wait for instruments."""
_INSERT_READINGS = _INSERT_READING + ", (?, ?, ?, ?, ?, ?)" * (_AT_ONCE - 1)


class SessionWriter:
    """A live session file and the lock that says its recorder lives.

    One thread uses it at a time; which one does not matter. A call that raises `StoreError` has
    written nothing and may be repeated.
    """

    def __init__(self, path: Path, lock: FileLock, connection: sqlite3.Connection) -> None:
        self.path = path
        self._lock = lock
        self._connection = connection
        self._last: dict[int, int] = {}
        self._open: dict[int, Open] = {}
        """What of each trace is in no full bucket of its levels yet."""
        self._count = 0

    @classmethod
    def create(cls, folder: Path, head: SessionHead) -> "SessionWriter":
        """Begin a session file in `folder`, which is made if it is not there."""
        path = folder / session_file_name(head.started, head.id)
        with plain_errors(folder):
            folder.mkdir(parents=True, exist_ok=True)
        lock = FileLock.take(lock_path(path), str(path))
        try:
            if path.exists():
                raise Busy(str(path), "there is a session of this id already", "begin it under a new one")
            create(path, SESSION, lambda connection: _write_head(connection, head), head.program or PROGRAM)
            connection = open_file(path, SESSION, write=True)
        except BaseException:
            lock.release(remove=True)
            raise
        writer = cls(path, lock, connection)
        try:
            _begin_log(connection, path)
        except BaseException:
            writer.abandon()
            path.unlink(missing_ok=True)  # it holds nothing but its head
            raise
        return writer

    def declare(self, traces: Iterable[TraceRow]) -> None:
        """Add traces, or correct what is known of one; readings need theirs declared."""
        rows = list(traces)
        with self._commit():
            self._connection.executemany(
                "INSERT INTO trace (id, name, unit, function, role, side, meter, critical)"
                " VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET name = excluded.name,"
                " unit = excluded.unit, function = excluded.function, role = excluded.role,"
                " side = excluded.side, meter = excluded.meter, critical = excluded.critical",
                rows,
            )
        for row in rows:
            self._last.setdefault(row.id, _BEFORE_ALL)
            self._open.setdefault(row.id, Open())

    def append(
        self,
        readings: Iterable[ReadingRow] = (),
        events: Iterable[EventRow] = (),
        remarks: Iterable[RemarkRow] = (),
        anchors: Iterable[AnchorRow] = (),
        taken: Iterable[TakenRow] = (),
    ) -> None:
        """Keep everything given in one durable commit; a repeated taken reading or remark is known by id.

        Within a trace time strictly increases: a stamp not above the one before it is set 1 ns after it.
        Levels of detail that become full by these readings are in the same commit.
        """
        last = self._last.copy()
        rows = _spread(readings, last)
        climbed = _climbed(rows, self._open)
        with self._commit():
            run = self._connection.executemany
            whole = len(rows) - len(rows) % _AT_ONCE
            run(_INSERT_READINGS, (_flat(rows[i : i + _AT_ONCE]) for i in range(0, whole, _AT_ONCE)))
            run(_INSERT_READING, rows[whole:])
            levels.insert(self._connection, [(trace, full) for trace, (_, full) in climbed.items()])
            run(
                "INSERT INTO event (t, kind, text, data) VALUES (?, ?, ?, ?)",
                [(t, kind, text, json.dumps(dict(data), allow_nan=False)) for t, kind, text, data in events],
            )
            run(
                "INSERT OR IGNORE INTO remark (id, t, text, late, at) VALUES (?, ?, ?, ?, ?)",
                [(*row, utc_now()) for row in remarks],
            )
            run("INSERT INTO anchor (t, wire_ns, utc) VALUES (?, ?, ?)", anchors)
            run(
                "INSERT OR IGNORE INTO taken (id, t, body) VALUES (?, ?, ?)",
                [(row.id, row.t, json.dumps(dict(row.body), allow_nan=False)) for row in taken],
            )
        self._last = last
        self._open |= {trace: left for trace, (left, _) in climbed.items()}
        self._count += len(rows)

    def close(self, outcome: str, reason: str, t: int) -> bool:
        """Close the session at plan time `t`; True if the file was folded to a plain one.

        With a reader in the way for longer than about two seconds it stays marked as not folded,
        complete with the log beside it, and the next sweep folds it.
        """
        with self._commit():
            self._connection.execute(
                "UPDATE session SET state = ?, outcome = ?, reason = ?, ended = ?, ended_t = ?, readings = ?",
                (State.NOT_FOLDED, outcome, reason, utc_now(), t, self._count),
            )
        try:
            with plain_errors(self.path):
                return fold(self._connection)
        finally:
            self.abandon()

    def abandon(self) -> None:
        """Let go of the file as it is; a session not closed before is closed by the next sweep."""
        self._connection.close()
        self._lock.release(remove=True)

    @contextmanager
    def _commit(self) -> Iterator[None]:
        with plain_errors(self.path), committed(self._connection):
            yield


def _spread(readings: Iterable[ReadingRow], last: dict[int, int]) -> list[ReadingRow]:
    """The readings with no two stamps of a trace alike; `last` is each trace's newest, kept up to date."""
    rows: list[ReadingRow] = []
    keep = rows.append
    for row in readings:
        trace, t = row[0], row[2]
        before = last[trace]
        if t <= before:
            t = before + 1
            row = row._replace(t=t)  # noqa: PLW2901
        last[trace] = t
        keep(row)
    return rows


def _climbed(rows: list[ReadingRow], known: dict[int, Open]) -> dict[int, tuple[Open, list[Bucket]]]:
    """By trace what its levels leave open after these rows, and the buckets that became full."""
    by: defaultdict[int, list[ReadingRow]] = defaultdict(list)
    for row in rows:
        by[row[0]].append(row)
    found = {}
    for trace, own in by.items():
        t, value = [row[2] for row in own], [row[3] for row in own]
        # Where all are numbers, nothing is looked through for what is none.
        overload = [row[4] == _OVERLOAD for row in own] if None in value else [False] * len(own)
        found[trace] = climb(known[trace], t, value, overload)
    return found


def _flat(rows: list[ReadingRow]) -> tuple[Any, ...]:
    """The values of several rows, one after the other."""
    return tuple(chain.from_iterable(rows))


def _begin_log(connection: sqlite3.Connection, path: Path) -> None:
    """Write ahead in a log from here on, so that readers and the recorder do not wait for each other."""
    with plain_errors(path):
        (mode,) = connection.execute("PRAGMA journal_mode = WAL").fetchone()
    if mode != "wal":
        problem = "cannot hold a live run, since this disk gives no shared memory (a network folder?)"
        raise Full(str(path), problem, "choose a folder on this computer")


def _write_head(connection: sqlite3.Connection, head: SessionHead) -> None:
    connection.execute(
        "INSERT INTO session (one, id, started, title, unit, visit, plan_name, plan, bench, rate, program, state)"
        " VALUES (1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            head.id,
            head.started,
            head.title,
            head.unit,
            head.visit,
            head.plan_name,
            head.plan,
            head.bench,
            head.rate,
            head.program or PROGRAM,
            State.LIVE,
        ),
    )
    connection.executemany("INSERT INTO profile (name, text) VALUES (?, ?)", sorted(head.profiles.items()))
