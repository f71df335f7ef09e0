"""What is put right when a library is opened: runs whose recorder died are closed and read in."""

import contextlib
import sqlite3
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

from benchlog.domain.quantity import show
from benchlog.errors import WATCH, BadInput, Busy, Damaged, Fault, StoreError
from benchlog.store import index, levels
from benchlog.store.committing import committed
from benchlog.store.folding import fold
from benchlog.store.ids import NANOSECOND, utc_moment, utc_text
from benchlog.store.lock import FileLock
from benchlog.store.migrations import SESSION
from benchlog.store.opening import open_file, plain_errors, reading
from benchlog.store.places import SESSIONS, lock_path, session_files
from benchlog.store.records import Ending, SessionLine, SessionState, State
from benchlog.store.taken import copy_taken

FOR_LEVELS = 1.0
"""Seconds that missing levels of detail of one file may take here; the rest is done when it is looked at."""


@dataclass(slots=True)
class SweepReport:
    """What a sweep did.

    Attributes:
        closed: runs whose recorder had died, as they stand now, with the reason.
        live: runs whose recorder lives; they were left alone.
        folded: how many files became plain ones.
        copied: how many part readings the library had lacked.
        problems: session files that could not be dealt with; they are still there as they were.
    """

    closed: list[SessionLine] = field(default_factory=list)
    live: list[SessionLine] = field(default_factory=list)
    folded: int = 0
    copied: int = 0
    problems: list[Fault] = field(default_factory=list)


def sweep(folder: Path, library: sqlite3.Connection) -> SweepReport:
    """Bring every session file of the library and its index up to date.

    `library` is the lock holder's connection, outside of any transaction. A file that cannot be
    read is listed as such and never touched.
    """
    report = SweepReport()
    cached = index.cached_lines(library, folder / SESSIONS)
    files = session_files(folder)
    for path in files:
        known = cached.pop(path.name, None)
        if known is None or not known.holds():
            take_in(path, library, report)
    if cached:
        index.drop_lines(library, cached)
    _clear_away(folder / SESSIONS, {lock_path(path) for path in files})
    return report


def take_in(path: Path, library: sqlite3.Connection, report: SweepReport) -> SessionLine:
    """Bring one session file and its line of the index up to date."""
    before = index.read_line(path)
    if before.state is State.UNREADABLE:
        report.problems.append(Fault(str(path), before.problem))
    elif before.state is not State.CLOSED:
        _close_and_fold(path, before, report)
    line = index.read_line(path)
    if before.state is State.LIVE and line.outcome == Ending.LOST:
        report.closed.append(line)
    with plain_errors(path), committed(library):
        if line.state in {State.CLOSED, State.NOT_FOLDED}:
            report.copied += _copied(path, library, report)
        index.put_line(library, line)
    return line


def _copied(path: Path, library: sqlite3.Connection, report: SweepReport) -> int:
    try:
        with reading(path, SESSION) as session:
            return copy_taken(library, session, path)
    except (StoreError, BadInput) as error:
        report.problems.extend(error.faults)
        return 0


def _close_and_fold(path: Path, before: SessionLine, report: SweepReport) -> None:
    """Close and fold a session unless its recorder lives; what goes wrong is reported."""
    try:
        lock = FileLock.take(lock_path(path), str(path))
    except Busy:
        report.live.append(before)
        return
    except StoreError as error:
        report.problems.extend(error.faults)
        return
    try:
        with contextlib.closing(open_file(path, SESSION, write=True)) as connection, plain_errors(path):
            # Read again under the lock: its recorder may have closed it in between.
            state = index.read_state(connection, path)
            if state.state is State.LIVE:
                _close_lost(connection, path, state)
            levels.work_out(connection, FOR_LEVELS)
            report.folded += fold(connection)
    except (StoreError, BadInput) as error:
        report.problems.extend(error.faults)
    finally:
        lock.release(remove=True)


def _close_lost(connection: sqlite3.Connection, path: Path, state: SessionState) -> None:
    """Close a session in the name of its dead recorder."""
    (sound,) = connection.execute("PRAGMA quick_check(1)").fetchone()
    if sound != "ok":
        raise Damaged(str(path), f"is damaged ({sound})", "keep it as it is and copy what can be read")
    (readings,) = connection.execute("SELECT count(*) FROM reading").fetchone()
    ended_t = _last_time(connection)
    connection.execute(
        "UPDATE session SET state = ?, outcome = ?, reason = ?, ended = ?, ended_t = ?, readings = ?",
        (
            State.NOT_FOLDED,
            Ending.LOST,
            _reason(connection),
            _ended(connection, state, ended_t),
            ended_t,
            readings,
        ),
    )


def _last_time(connection: sqlite3.Connection) -> int:
    """The newest plan time that anything in the session carries; 0 if it holds nothing."""
    (last,) = connection.execute(
        "SELECT max(coalesce((SELECT max((SELECT max(t) FROM reading WHERE trace = trace.id)) FROM trace), 0),"
        " coalesce((SELECT max(t) FROM event), 0), coalesce((SELECT max(t) FROM remark), 0),"
        " coalesce((SELECT max(t) FROM anchor), 0), coalesce((SELECT max(t) FROM taken), 0))"
    ).fetchone()
    return int(last)


def _ended(connection: sqlite3.Connection, state: SessionState, ended_t: int) -> str:
    """When that was by the day's clock, reckoned from the last anchor before it."""
    anchor = connection.execute("SELECT t, utc FROM anchor ORDER BY t DESC LIMIT 1").fetchone()
    t, utc = anchor or (0, state.head.started)
    return utc_text(utc_moment(utc) + timedelta(seconds=(ended_t - t) / NANOSECOND / state.head.rate))


def _reason(connection: sqlite3.Connection) -> str:
    """What is known of the end from what was kept last."""
    said = [f"{WATCH} ended without closing it"]
    reading_ = connection.execute(
        "SELECT trace.name, reading.t, reading.value, trace.unit, reading.outcome FROM trace JOIN reading"
        " ON reading.trace = trace.id AND reading.t = (SELECT max(t) FROM reading WHERE trace = trace.id)"
        " ORDER BY reading.t DESC LIMIT 1"
    ).fetchone()
    if reading_ is None:
        said.append("no reading was kept")
    else:
        name, t, value, unit, outcome = reading_
        shown = outcome if value is None else show(value, unit)
        said.append(f"the last reading kept was {name} at {_clock(t)}: {shown}")
    trip = _last_event(connection, "kind = 'trip'")
    last = _last_event(connection, "TRUE")
    if trip:
        said.append(f"it had tripped at {trip}")
    if last and last != trip:
        said.append(f"the last event was at {last}")
    return "; ".join(said)


def _last_event(connection: sqlite3.Connection, which: str) -> str:
    found = connection.execute(f"SELECT t, text FROM event WHERE {which} ORDER BY n DESC LIMIT 1").fetchone()  # noqa: S608
    return f"{_clock(found[0])}: {found[1]}" if found else ""


def _clock(t: int) -> str:
    """Plan time as a person reads it: `1:02:03.4`."""
    tenths = t // (NANOSECOND // 10)
    minutes, rest = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest // 10:02d}.{rest % 10}"


def _clear_away(sessions: Path, belonging: set[Path]) -> None:
    """Remove what recorders left behind that died while they made a file: locks and parts of none."""
    for path in (*sessions.glob("*.part"), *sessions.glob("*.db.lock")):
        whose = lock_path(path.with_suffix(".db")) if path.suffix == ".part" else path
        if path in belonging:
            continue
        try:
            lock = FileLock.take(whose, str(path))
        except StoreError:
            continue
        try:
            path.unlink(missing_ok=True)
        except OSError:
            continue
        finally:
            lock.release(remove=True)
