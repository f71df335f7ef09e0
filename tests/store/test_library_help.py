"""The page on what a library holds: each of its questions is put to a real library, and every table is named."""

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from helpers.kept import TRACES, head

from benchlog import resources
from benchlog.domain.kind import Kind
from benchlog.domain.reading import Function, Outcome
from benchlog.domain.standing import Rule
from benchlog.domain.unit import BoardEntry, PartEntry, PartReading, UnitFile
from benchlog.domain.verdict import Judgement, Verdict
from benchlog.store import edit, query_unit, schema_library, schema_session
from benchlog.store.append import SessionWriter
from benchlog.store.ids import new_id
from benchlog.store.library import Library
from benchlog.store.records import EventRow, ReadingRow

S = 1_000_000_000
PAGE = resources.path("help", "library.md").read_text("utf-8")
BLOCKS = re.findall(r"```sql (library|run|each run)\n(.*?)```", PAGE, re.DOTALL)


def kept(held: Library, unit: str, day: int, offset: float) -> SessionWriter:
    writer = SessionWriter.create(held.sessions, head(unit=unit, started=f"2026-11-{day:02}T10:00:00.000Z"))
    writer.declare(TRACES)
    writer.append(
        readings=[
            ReadingRow(1, 1, S, 40.0, "ok"),
            ReadingRow(1, 2, 2 * S, 44.0, "ok"),
            ReadingRow(1, 3, 5 * S, 3.0, "ok"),
            ReadingRow(2, 1, S, -offset, "ok"),
            ReadingRow(2, 2, 2 * S, None, "overload"),
        ],
        events=[
            EventRow(3 * S, "off", "all stages done"),
            EventRow(4 * S, "closed", "", {"off": "verified off"}),
        ],
    )
    writer.close("completed", "all stages done", 6 * S)
    edit.remark_late(held, writer.path, "a late one", 3 * S)
    return writer


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A library with two runs of the unit the page asks about, and a part taken in the second."""
    with Library.open(tmp_path / "library") as held:
        part = PartEntry(designator="R101", kind=Kind.RESISTOR, marking="4k7 5%")
        file = UnitFile(name="Hall amplifier", board=(BoardEntry(name="left", part=(part,)),))
        unit = edit.create_unit(held, file)
        kept(held, unit.id, 1, 0.012)
        second = kept(held, unit.id, 2, 0.020)
        kept(held, "", 3, 0.5)
        (line,) = query_unit.parts(held.folder, unit.id)
        session = edit.put_session_in_index(held, second.path).id
        for value, taken in ((4700.0, "2026-11-02T10:00:01Z"), (4680.0, "2026-11-02T10:00:02Z")):
            reading = PartReading(
                id=new_id(),
                designator="R101",
                function=Function.OHMS,
                outcome=Outcome.OK,
                value=value,
                unit="ohm",
                raw="",
                taken=taken,
                fitted=line.fitted.id,
                session=session,
            )
            edit.keep_reading(held, reading, Judgement(Verdict.WITHIN, "close enough", Rule.BENCH), "4k7 5%")
    return tmp_path / "library"


def answers(folder: Path) -> list[list[tuple[object, ...]]]:
    """What each question of the page is answered with, in its order; runs are asked on the second file."""
    (_, second, _) = sorted((folder / "sessions").glob("*.db"))
    found = []
    for where, question in BLOCKS:
        file = second if where == "run" else folder / "library.db"
        with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True)) as connection:
            rows = connection.execute(question).fetchall()
        found.append(asked_of_each(row[0] for row in rows) if where == "each run" else rows)
    return found


def asked_of_each(scripts: Iterator[str]) -> list[tuple[object, ...]]:
    """What a second sqlite3 answers to the questions that the first one wrote."""
    rows = []
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        for script in scripts:
            for statement in script.split(";"):
                rows += connection.execute(statement).fetchall()
    return rows


def test_each_question_is_answered(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    runs, parts, taken, numbers, before, told, offsets = answers(folder)
    assert [(row[1:]) for row in runs] == [("slowly", "completed", "verified off")] * 2
    assert parts == [("left", "R101", "", 4680.0, "ohm", "within", "2026-11-02T10:00:02Z")]
    assert [row[0] for row in taken] == ["2026-11-02T10:00:00.000Z"]
    assert numbers == [("+B", 3, 3.0, 44.0, "V"), ("offset L", 2, -0.02, -0.02, "V")]
    assert before == [("+B", 44.0, "V"), ("offset L", -0.02, "V")]
    assert [row[1] for row in told] == ["off", "note, written later", "closed"]
    assert offsets == [
        ("2026-11-01T10:00:00.000Z", "offset L", 0.012),
        ("2026-11-02T10:00:00.000Z", "offset L", 0.02),
    ]


@pytest.mark.parametrize("tables", [schema_library.TABLES, schema_session.TABLES])
def test_every_table_is_named(tables: tuple[str, ...]) -> None:
    names = [found[1] for text in tables if (found := re.match(r"\s*CREATE TABLE (\w+)", text))]
    assert [name for name in names if f"`{name}`" not in PAGE] == []
