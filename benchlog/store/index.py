"""The list of sessions: what a session file says of itself, and the cache of it in the library."""

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from benchlog.domain.sought import ABOUT_WORDS
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
    " program, problem, words, off, told_off"
)
_MARKS = ", ".join("?" * (3 + len(_LINE.split(","))))


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
            line = line_of(path, state)
            off, told_off = _off_at_close(connection)
            return replace(line, words=_words(connection, state), off=off, told_off=told_off)
    except (StoreError, BadInput) as error:
        problem = f"{error.problem}; {error.fix}" if error.fix else error.problem
        return SessionLine(id="", file=path, problem=problem)


def words_of(*texts: str) -> str:
    """Every word of some texts once, small, each with a space before it, in the order of the alphabet."""
    found = {word.strip(ABOUT_WORDS) for text in texts for word in text.casefold().split()}
    return "".join(f" {word}" for word in sorted(found) if word)


def _words(connection: sqlite3.Connection, state: SessionState) -> str:
    """The words of what was written in a run and of what happened; a note that was taken back says nothing."""
    events = connection.execute("SELECT DISTINCT text FROM event").fetchall()
    notes = connection.execute(
        "SELECT text FROM remark WHERE id NOT IN (SELECT target FROM withdrawn WHERE target IS NOT NULL)"
    ).fetchall()
    return words_of(state.head.title, state.reason, *(text for (text,) in (*events, *notes)))


def _off_at_close(connection: sqlite3.Connection) -> tuple[str, bool]:
    """How the off-switch stood at the close, and whether a person said that it is off."""
    row = connection.execute(
        "SELECT data FROM event WHERE kind = 'closed' ORDER BY n DESC LIMIT 1"
    ).fetchone()
    try:
        data = json.loads(row[0]) if row is not None else {}
    except ValueError:
        data = {}
    return (str(data.get("off", "")), bool(data.get("told_off"))) if isinstance(data, dict) else ("", False)


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
            line[6], line[-1] = State(line[6]), bool(line[-1])
            found[file] = Cached(SessionLine(line[0], folder / file, *line[1:]), size, changed)
    return found


def put_line(connection: sqlite3.Connection, line: SessionLine) -> None:
    """Write a line to the index, in the place of what was known of that file."""
    size, changed = stamp(line.file)
    values = (getattr(line, name.strip()) for name in _LINE.split(","))
    connection.execute(
        f"INSERT OR REPLACE INTO session (file, size, changed, {_LINE}) VALUES ({_MARKS})",  # noqa: S608
        (line.file.name, size, changed, *values),
    )


def drop_lines(connection: sqlite3.Connection, files: Iterable[str]) -> None:
    """Take files out of the index that are no longer there."""
    connection.executemany("DELETE FROM session WHERE file = ?", [(file,) for file in files])
