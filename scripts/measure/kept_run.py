"""Makes a closed session with very many readings by direct inserts, levels of detail and all."""

import contextlib
import sqlite3
from pathlib import Path

from benchlog.store import levels
from benchlog.store.append import SessionWriter
from benchlog.store.ids import new_id, utc_now
from benchlog.store.records import SessionHead, TraceRow
from measure.live import plan_text

TRACES = 6
SPIKE = 9.0
"""One reading of the first trace, in the middle; all others lie within 0.1 of the trace's number and one."""
SECOND = 1_000_000_000

_FILL = """
WITH RECURSIVE k(n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM k WHERE n + 1 < :count)
INSERT INTO reading (trace, t, seq, value, outcome, raw)
SELECT :trace, n * :step + :trace, n + 1,
       CASE WHEN :trace = 1 AND n = :count / 2 THEN :spike ELSE :trace + (n * 7919 + :trace * 10007) % 100003 / 1e6 END,
       'ok', '' FROM k
"""


def make(folder: Path, readings: int, rate: float) -> Path:
    """A session of so many readings in all, six traces at so many a second each."""
    head = SessionHead(id=new_id(), started=utc_now(), plan=plan_text(TRACES, "supply"), plan_name="measured")
    writer = SessionWriter.create(folder, head)
    writer.declare(
        TraceRow(n, f"meter {n - 1}", "V", "volts_dc", "rail", meter=f"meter {n - 1}")
        for n in range(1, TRACES + 1)
    )
    count, step = readings // TRACES, round(SECOND / rate)
    writer.close("completed", "", count * step)
    with contextlib.closing(sqlite3.connect(writer.path, isolation_level=None)) as connection:
        connection.execute("PRAGMA synchronous = OFF")
        connection.execute("BEGIN")
        for trace in range(1, TRACES + 1):
            given = {"trace": trace, "count": count, "step": step, "spike": SPIKE}
            connection.execute(_FILL, given)
        connection.execute("UPDATE session SET readings = ?", (count * TRACES,))
        connection.execute("COMMIT")
        levels.work_out(connection)
    return writer.path
