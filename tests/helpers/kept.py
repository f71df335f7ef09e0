"""Small sessions for tests of what is kept: a head, a few traces, readings of a few seconds."""

import sqlite3
from contextlib import closing
from pathlib import Path

from benchlog.store.append import SessionWriter
from benchlog.store.ids import new_id
from benchlog.store.records import EventRow, ReadingRow, SessionHead, TraceRow

STARTED = "2026-11-25T10:15:00.250Z"

TRACES = (
    TraceRow(1, "+B", "V", "volts_dc", "rail", "", "rail meter", critical=True),
    TraceRow(2, "offset L", "V", "volts_dc", "offset", "left", "offset meter"),
)


def head(session: str = "", started: str = STARTED, **more: object) -> SessionHead:
    """A head with a fresh id and texts worth keeping."""
    values: dict[str, object] = {
        "title": "first power-up",
        "plan": "name = 'slowly'\n# 10 µF, 4k7 Ω\n",
        "plan_name": "slowly",
        "bench": "name = 'by the window'\n",
        "profiles": {"scpi-multimeter": "a = 1\n", "handheld": "b = 2\n"},
        "program": "benchlog 0.0.0",
    } | more
    return SessionHead(session or new_id(), started, **values)  # type: ignore[arg-type]


def begin(folder: Path, **more: object) -> SessionWriter:
    """A live session with its traces declared."""
    writer = SessionWriter.create(folder, head(**more))  # type: ignore[arg-type]
    writer.declare(TRACES)
    return writer


def some_readings(count: int = 5, trace: int = 1, first: int = 1) -> list[ReadingRow]:
    """So many good readings, a tenth of a second apart, counting from `first`."""
    return [
        ReadingRow(trace, seq, seq * 100_000_000, 40.0 + seq / 8, "ok", f"+{40 + seq / 8:.3f}E0")
        for seq in range(first, first + count)
    ]


def tripped() -> EventRow:
    """The event of a trip."""
    return EventRow(520_000_000, "trip", "lamp above 60 % of mains", {"trace": "lamp", "value": 150.5})


def change(path: Path, *statements: str) -> None:
    """Change a file behind the program's back."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        for statement in statements:
            connection.execute(statement)


def first_layout(path: Path) -> None:
    """Make a run's file what it would be in format 1, whose levels of detail knew no silences."""
    change(
        path,
        "ALTER TABLE level DROP COLUMN silence",
        "DELETE FROM format WHERE version > 1",
        "PRAGMA user_version = 1",
    )
