"""The list of sessions: what a session file says of itself, and the cache of it in the library."""

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from benchlog.errors import BadInput, Damaged, StoreError
from benchlog.store.migrations import SESSION
from benchlog.store.opening import plain_errors, reading
from benchlog.store.records import SessionHead, SessionLine, SessionState, State

_HEAD = (
    "id, started, title, unit, visit, plan, plan_name, bench, rate, program, state, outcome, reason, ended,"
    " ended_t, readings"
)
_LINE = (
    "id, started, title, unit, visit, plan_name, state, outcome, reason, ended, ended_t, readings, rate,"
    " program, problem"
)


@dataclass(frozen=True, slots=True)
class Cached:
    """A line of the index and the file's size and time at which it was true."""

    line: SessionLine
    size: int
    changed: int

    def holds(self) -> bool:
        """Whether the session is closed and its file has not been touched since."""
        return self.line.state is State.CLOSED and (self.size, self.changed) == stamp(self.line.file)


def stamp(path: Path) -> tuple[int, int]:
    """Size in bytes and time of change in nanoseconds of a file; zeros for one that is gone."""
    with plain_errors(path):
        try:
            status = path.stat()
        except FileNotFoundError:
            return 0, 0
    return status.st_size, status.st_mtime_ns


def read_state(connection: sqlite3.Connection, path: Path) -> SessionState:
    """What the open session file says of itself; `Damaged` where its head is gone or makes no sense."""
    row = connection.execute(f"SELECT {_HEAD} FROM session").fetchone()  # noqa: S608
    if row is None or row[10] not in tuple(State):
        raise Damaged(str(path), "has no readable head", "keep it as it is and copy what can be read")
    id_, started, title, unit, visit, plan, plan_name, bench, rate, program = row[:10]
    state, outcome, reason, ended, ended_t, readings = row[10:]
    profiles = dict(connection.execute("SELECT name, text FROM profile ORDER BY name").fetchall())
    head = SessionHead(id_, started, title, unit, visit, plan, plan_name, bench, profiles, rate, program)
    if readings is None:
        readings = _counted_by_number(connection)
    return SessionState(head, State(state), outcome, reason, ended, ended_t, readings)


def _counted_by_number(connection: sqlite3.Connection) -> int:
    """How many readings a live session holds by their sequence numbers, without reading them all."""
    (count,) = connection.execute(
        "SELECT coalesce(sum((SELECT seq FROM reading WHERE trace = trace.id ORDER BY t DESC LIMIT 1)"
        " - (SELECT seq FROM reading WHERE trace = trace.id ORDER BY t LIMIT 1) + 1), 0) FROM trace"
    ).fetchone()
    return int(count)


def read_line(path: Path) -> SessionLine:
    """The line of a session file as it is now; an unreadable one says why."""
    try:
        with reading(path, SESSION) as connection:
            state = read_state(connection, path)
    except (StoreError, BadInput) as error:
        problem = f"{error.problem}; {error.fix}" if error.fix else error.problem
        return SessionLine(id="", file=path, problem=problem)
    return line_of(path, state)


def line_of(path: Path, state: SessionState) -> SessionLine:
    """The line of a session whose head was read."""
    head = state.head
    return SessionLine(
        id=head.id,
        file=path,
        started=head.started,
        title=head.title,
        unit=head.unit,
        visit=head.visit,
        plan_name=head.plan_name,
        state=state.state,
        outcome=state.outcome,
        reason=state.reason,
        ended=state.ended,
        ended_t=state.ended_t,
        readings=state.readings,
        rate=head.rate,
        program=head.program,
    )


def cached_lines(connection: sqlite3.Connection, folder: Path) -> dict[str, Cached]:
    """The index as it stands, by file name; `folder` is where the session files lie."""
    found = {}
    for file, size, changed, *line in connection.execute(f"SELECT file, size, changed, {_LINE} FROM session"):  # noqa: S608
        if line[6] in tuple(State):  # else it is as good as not there
            line[6] = State(line[6])
            found[file] = Cached(SessionLine(line[0], folder / file, *line[1:]), size, changed)
    return found


def put_line(connection: sqlite3.Connection, line: SessionLine) -> None:
    """Write a line to the index, in the place of what was known of that file."""
    size, changed = stamp(line.file)
    connection.execute(
        f"INSERT OR REPLACE INTO session (file, size, changed, {_LINE})"  # noqa: S608
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            line.file.name,
            size,
            changed,
            line.id,
            line.started,
            line.title,
            line.unit,
            line.visit,
            line.plan_name,
            line.state,
            line.outcome,
            line.reason,
            line.ended,
            line.ended_t,
            line.readings,
            line.rate,
            line.program,
            line.problem,
        ),
    )


def drop_lines(connection: sqlite3.Connection, files: Iterable[str]) -> None:
    """Take files out of the index that are no longer there."""
    connection.executemany("DELETE FROM session WHERE file = ?", [(file,) for file in files])
