"""Durable storing of readings, batch by batch, against plain sqlite3 on the same table."""

import contextlib
import sqlite3
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from benchlog.store.append import SessionWriter
from benchlog.store.ids import new_id, utc_now
from benchlog.store.records import ReadingRow, SessionHead, TraceRow
from benchlog.store.schema_session import TABLES
from measure.table import Line, median, times_at_least
from measure.terms import Terms
from measure.turns import in_turns

BATCH = 600
TRACES = 6
GOAL = 0.7
STEP = 10_000_000
"""Plan nanoseconds between two readings of a trace."""


def durably(terms: Terms) -> Iterator[Line]:
    """Rounds of many batches, ours and the bare ones in turns; rows a second, medians."""
    batches = terms.many(300, 60)
    ours, bare = in_turns(
        terms.many(9, 5),
        lambda n: _ours(terms.folder / f"ours {n}", batches),
        lambda n: _bare(terms.folder / f"bare {n}", batches),
    )
    what = f"durable storing, {batches} batches of {BATCH}"
    yield times_at_least(what, "rows/s", median(ours), "/s", median(bare), GOAL)


def _rows(n: int) -> list[ReadingRow]:
    """The n-th batch: six traces in turn, as a bench gives them."""
    rows = []
    for i in range(n * BATCH // TRACES, (n + 1) * BATCH // TRACES):
        value = 1.0 + i % 100 * 1e-3
        raw = f"{value:+.8E}"
        rows += [
            ReadingRow(trace, i + 1, i * STEP + trace, value, "ok", raw) for trace in range(1, TRACES + 1)
        ]
    return rows


def _ours(folder: Path, batches: int) -> float:
    """Rows a second through the session's writer."""
    writer = SessionWriter.create(folder, SessionHead(id=new_id(), started=utc_now()))
    writer.declare(TraceRow(n, f"trace {n}", "V", "volts_dc") for n in range(1, TRACES + 1))
    try:
        return _timed(batches, lambda rows: writer.append(readings=rows))
    finally:
        writer.abandon()


def _bare(folder: Path, batches: int) -> float:
    """Rows a second through sqlite3 alone: the same table, the same journal, the same flush."""
    folder.mkdir(parents=True)
    connection = sqlite3.connect(folder / "bare.db", isolation_level=None)
    with contextlib.closing(connection):
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute(next(table for table in TABLES if "CREATE TABLE reading" in table))

        def append(rows: list[ReadingRow]) -> None:
            connection.execute("BEGIN IMMEDIATE")
            connection.executemany(
                "INSERT INTO reading (trace, seq, t, value, outcome, raw) VALUES (?, ?, ?, ?, ?, ?)", rows
            )
            connection.execute("COMMIT")

        return _timed(batches, append)


def _timed(batches: int, append: Callable[[list[ReadingRow]], None]) -> float:
    """Rows a second; making the rows does not count."""
    taken = 0.0
    for n in range(batches):
        rows = _rows(n)
        begun = time.perf_counter()
        append(rows)
        taken += time.perf_counter() - begun
    return batches * BATCH / taken
