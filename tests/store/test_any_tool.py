"""Our files are plain: a tool that knows nothing of benchlog lists, reads and explains them."""

from pathlib import Path

import sqlite_utils

from benchlog.store.append import SessionWriter
from benchlog.store.library import Library
from benchlog.store.records import ReadingRow, SessionHead, TraceRow


def test_a_closed_session_is_read_by_any_sqlite_tool(tmp_path: Path) -> None:
    head = SessionHead(id="s1", started="2026-11-25T10:15:00.000Z", plan_name="first power-up")
    writer = SessionWriter.create(tmp_path, head)
    writer.declare([TraceRow(1, "+B", "V", "volts_dc", critical=True)])
    writer.append(readings=[ReadingRow(1, 1, 10, 44.1, "ok", "+4.41000000E+01")])
    writer.close("completed", "all stages done", 20)
    opened = sqlite_utils.Database(writer.path)
    try:
        rows = list(
            opened.query("SELECT name, unit, t, value FROM reading JOIN trace ON trace.id = reading.trace")
        )
        assert rows == [{"name": "+B", "unit": "V", "t": 10, "value": 44.1}]
        assert "--" in opened.table("reading").schema
    finally:
        opened.close()


def test_a_library_lists_its_tables_with_what_each_is_for(tmp_path: Path) -> None:
    Library.open(tmp_path).close()
    opened = sqlite_utils.Database(tmp_path / "library.db")
    try:
        names = opened.table_names()
        assert {"unit", "visit", "part", "fitted", "reading"} <= set(names)
        assert all("--" in opened.table(name).schema for name in names if not name.startswith("sqlite_"))
    finally:
        opened.close()
