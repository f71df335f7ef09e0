"""What is asked of sessions: the list of them, and a live or closed one's readings and events.

Every call opens the file read-only, selects and closes it: an idle reader would keep its recorder
from folding it.
"""

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from benchlog.errors import BadInput
from benchlog.store import index
from benchlog.store.migrations import LIBRARY, SESSION
from benchlog.store.opening import plain_words, reading
from benchlog.store.places import LIBRARY_FILE, SESSIONS, session_files
from benchlog.store.records import (
    OUTCOMES,
    AnchorRow,
    EventRow,
    ReadingRow,
    RemarkRow,
    SessionLine,
    SessionState,
    TakenRow,
    TraceRow,
)

_CHUNK = 4096
_LARGEST = (1 << 63) - 1
_Columns = tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], npt.NDArray[np.float64], npt.NDArray[np.uint8]]
_NUMBER = np.dtype([("t", np.int64), ("value", np.float64)])
_CODES = {str(outcome): code for code, outcome in enumerate(OUTCOMES)}


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Readings of one trace as columns, oldest first.

    Attributes:
        seq: sequence numbers.
        t: plan nanoseconds since the start.
        value: in the trace's unit, NaN where a reading carries no number.
        outcome: how each ended, as an index into `records.OUTCOMES`.
    """

    seq: npt.NDArray[np.int64]
    t: npt.NDArray[np.int64]
    value: npt.NDArray[np.float64]
    outcome: npt.NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.t)


# --- the list ------------------------------------------------------------------------------------


def sessions(library: Path) -> tuple[SessionLine, ...]:
    """Every session of a library, newest first; live ones as they stand now. Needs no lock."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        cached = index.cached_lines(connection, library / SESSIONS)
    lines = []
    for path in session_files(library):
        known = cached.get(path.name)
        lines.append(known.line if known is not None and known.holds() else index.read_line(path))
    return tuple(sorted(lines, key=lambda one: (one.started, one.file.name), reverse=True))


def find_session(library: Path, wanted: str) -> Path:
    """The file of the session meant by an id, the start or end of one, or a file name.

    `BadInput` if there is none, or several.
    """
    lines = sessions(library)
    named = wanted.strip().casefold()
    found = [
        line for line in lines if named in {line.id, line.file.name.casefold(), line.file.stem.casefold()}
    ]
    if not found and named:
        found = [
            line
            for line in lines
            if line.id.startswith(named)
            or line.file.stem.casefold().startswith(named)
            or line.id.endswith(named)
        ]
    if not found:
        raise BadInput(wanted, "is no run in this library", "list them with: benchlog sessions")
    if len(found) > 1:
        names = ", ".join(line.file.stem for line in found[:5])
        raise BadInput(wanted, f"could be {len(found)} runs ({names})", "give more of the name")
    return found[0].file


# --- one session ---------------------------------------------------------------------------------


def state(path: Path) -> SessionState:
    """The head of a session and where it stands."""
    with reading(path, SESSION) as connection:
        return index.read_state(connection, path)


def traces(path: Path) -> tuple[TraceRow, ...]:
    """The traces of a session, in the order of their numbers."""
    with reading(path, SESSION) as connection:
        return _traces(connection)


def readings(
    path: Path,
    trace: int,
    *,
    after_seq: int | None = None,
    from_t: int | None = None,
    to_t: int | None = None,
    limit: int | None = None,
) -> Series:
    """Readings of one trace as columns, oldest first; `limit` keeps the newest so many."""
    found = [_columns(())]
    with plain_words(path), reading(path, SESSION) as connection:
        for chunk in _newest_first(
            connection,
            "seq, t, value, outcome",
            trace,
            after_seq=after_seq,
            from_t=from_t,
            to_t=to_t,
            limit=limit,
        ):
            found.append(_columns(chunk))  # noqa: PERF401
    return Series(*(np.concatenate(parts)[::-1] for parts in zip(*found, strict=True)))


def _columns(chunk: Sequence[tuple[Any, ...]]) -> _Columns:
    """Some rows as columns; a chunk small enough to stay near the processor is twice as fast as the whole."""
    seq, t, value, outcome = zip(*chunk, strict=True) if chunk else ((),) * 4
    return (
        np.array(seq, dtype=np.int64),
        np.array(t, dtype=np.int64),
        np.array(value, dtype=np.float64),
        np.array([_CODES[word] for word in outcome], dtype=np.uint8),
    )


def rows(
    path: Path,
    trace: int,
    *,
    after_seq: int | None = None,
    from_t: int | None = None,
    to_t: int | None = None,
    limit: int | None = None,
) -> list[ReadingRow]:
    """The same as rows, with the replies as they came."""
    found: list[tuple[Any, ...]] = []
    with reading(path, SESSION) as connection:
        for chunk in _newest_first(
            connection,
            "seq, t, value, outcome, raw",
            trace,
            after_seq=after_seq,
            from_t=from_t,
            to_t=to_t,
            limit=limit,
        ):
            found += chunk
    return [ReadingRow(trace, *row) for row in reversed(found)]


def _newest_first(
    connection: sqlite3.Connection,
    columns: str,
    trace: int,
    *,
    after_seq: int | None,
    from_t: int | None,
    to_t: int | None,
    limit: int | None,
) -> Iterator[list[tuple[Any, ...]]]:
    """Readings in chunks, the newest first; the first of `columns` is `seq`."""
    cursor = connection.execute(
        f"SELECT {columns} FROM reading WHERE trace = ? AND t >= ? AND t <= ? ORDER BY t DESC LIMIT ?",  # noqa: S608
        (
            trace,
            -_LARGEST if from_t is None else from_t,
            _LARGEST if to_t is None else to_t,
            -1 if limit is None else limit,
        ),
    )
    while chunk := cursor.fetchmany(_CHUNK):
        if after_seq is not None and chunk[-1][0] <= after_seq:
            # Sequence numbers grow with time, so reading backwards ends where the caller has been.
            yield [row for row in chunk if row[0] > after_seq]
            return
        yield chunk


def numbers(
    path: Path, trace: int, from_t: int | None, to_t: int | None
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.float64], dict[int, str]]:
    """Plan times and numbers of one trace, oldest first, infinite without a number; by time why there is none."""
    within = (trace, -_LARGEST if from_t is None else from_t, _LARGEST if to_t is None else to_t)
    with reading(path, SESSION) as connection:
        cursor = connection.execute(
            "SELECT t, ifnull(value, 9e999) FROM reading WHERE trace = ? AND t >= ? AND t <= ? ORDER BY t",
            within,
        )
        rows = np.fromiter(cursor, dtype=_NUMBER)
        found = connection.execute(
            "SELECT t, outcome FROM reading WHERE trace = ? AND t >= ? AND t <= ? AND value IS NULL", within
        )
        return np.ascontiguousarray(rows["t"]), np.ascontiguousarray(rows["value"]), dict(found.fetchall())


def nth_time(path: Path, traces: Iterable[int], from_t: int | None, nth: int) -> int | None:
    """The first plan time by which one of these traces has so many readings from `from_t` on; None where none has."""
    start = -_LARGEST if from_t is None else from_t
    with reading(path, SESSION) as connection:
        found = [
            connection.execute(
                "SELECT t FROM reading WHERE trace = ? AND t >= ? ORDER BY t LIMIT 1 OFFSET ?",
                (trace, start, nth - 1),
            ).fetchone()
            for trace in traces
        ]
    return min((row[0] for row in found if row is not None), default=None)


def events(path: Path, *kinds: str, after: int | None = None) -> tuple[EventRow, ...]:
    """Events in the order they were kept; only of these kinds and later than plan time `after` if given."""
    with reading(path, SESSION) as connection:
        found = connection.execute("SELECT t, kind, text, data FROM event ORDER BY n").fetchall()
    with plain_words(path):
        return tuple(
            EventRow(t, kind, text, json.loads(data))
            for t, kind, text, data in found
            if (not kinds or kind in kinds) and (after is None or t > after)
        )


def remarks(path: Path) -> tuple[RemarkRow, ...]:
    """The operator's notes by the time they are about."""
    with reading(path, SESSION) as connection:
        found = connection.execute("SELECT id, t, text, late FROM remark ORDER BY t, rowid").fetchall()
    return tuple(RemarkRow(id_, t, text, bool(late)) for id_, t, text, late in found)


def anchors(path: Path) -> tuple[AnchorRow, ...]:
    """Moments in the session's three clocks, in the order they were kept."""
    with reading(path, SESSION) as connection:
        found = connection.execute("SELECT t, wire_ns, utc FROM anchor ORDER BY n").fetchall()
    return tuple(AnchorRow(*row) for row in found)


def taken(path: Path) -> tuple[TakenRow, ...]:
    """Part readings taken inside the session, by time."""
    with reading(path, SESSION) as connection:
        found = connection.execute("SELECT id, t, body FROM taken ORDER BY t, rowid").fetchall()
    with plain_words(path):
        return tuple(TakenRow(id_, t, json.loads(body)) for id_, t, body in found)


def _traces(connection: sqlite3.Connection) -> tuple[TraceRow, ...]:
    found = connection.execute(
        "SELECT id, name, unit, function, role, side, meter, critical FROM trace ORDER BY id"
    ).fetchall()
    return tuple(TraceRow(*row)._replace(critical=bool(row[-1])) for row in found)
