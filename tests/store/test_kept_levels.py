"""Levels of detail in a session file: written with the readings they sum up, worked out where they are missing."""

import math
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from helpers.kept import begin, change, first_layout, some_readings

from benchlog.errors import Busy, Full
from benchlog.store import late_levels, levels, query
from benchlog.store.append import SessionWriter
from benchlog.store.library import Library
from benchlog.store.records import ReadingRow

EVERY = "SELECT * FROM level ORDER BY trace, level, first_t"


def kept(path: Path, statement: str = EVERY) -> list[tuple[float | None, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(statement).fetchall()


def readings(count: int, trace: int = 1) -> list[ReadingRow]:
    """Numbers that jump about, every seventh missing, every eleventh beyond the range."""
    rows = []
    for seq in range(1, count + 1):
        outcome = "missing" if seq % 7 == 0 else "overload" if seq % 11 == 0 else "ok"
        value = math.sin(seq * 1.7) if outcome == "ok" else None
        rows.append(ReadingRow(trace, seq, seq * 1000 + trace, value, outcome))
    return rows


def written(folder: Path, count: int, batch: int) -> SessionWriter:
    writer = begin(folder)
    rows = sorted([*readings(count), *readings(count // 3, 2)], key=lambda row: row.t)
    for at in range(0, len(rows), batch):
        writer.append(readings=rows[at : at + batch])
    return writer


def test_a_bucket_is_in_the_file_as_soon_as_it_is_full(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    writer.append(readings=some_readings(7))
    assert kept(writer.path) == []
    writer.append(readings=some_readings(1, first=8))
    tenth = 100_000_000
    assert kept(writer.path) == [
        (1, 1, 0, tenth, 8 * tenth, 8, 8, 0, 40.125, tenth, 41.0, 8 * tenth, 324.5, tenth)
    ]
    writer.abandon()


def test_the_file_itself_agrees_with_its_levels(tmp_path: Path) -> None:
    writer = written(tmp_path, 1500, 37)
    writer.close("completed", "", 0)
    found = kept(
        writer.path,
        "SELECT level.level, count(reading.t) = rows, count(value) = n, total(outcome = 'overload') = overloads,"
        " min(value) = low, max(value) = high, abs(total(value) - sum) < 1e-9, min(reading.t) = first_t,"
        " max(reading.t) = last_t, (SELECT value FROM reading AS one WHERE one.trace = level.trace AND one.t = low_t)"
        " = low, (SELECT value FROM reading AS one WHERE one.trace = level.trace AND one.t = high_t) = high,"
        " (SELECT max(apart) FROM (SELECT one.t - lag(one.t) OVER (ORDER BY one.t) AS apart FROM reading AS one"
        " WHERE one.trace = level.trace AND one.t BETWEEN first_t AND last_t)) = silence"
        " FROM level JOIN reading ON reading.trace = level.trace AND reading.t BETWEEN first_t AND last_t"
        " GROUP BY level.trace, level.level, bucket",
    )
    assert {row[1:] for row in found} == {(1,) * 11}
    assert [sum(1 for row in found if row[0] == level) for level in (1, 2, 3, 4)] == [187 + 62, 23 + 7, 2, 0]


@pytest.mark.parametrize("batch", [1, 8, 25, 2000])
def test_batches_of_any_size_make_the_same_levels(tmp_path: Path, batch: int) -> None:
    one, other = written(tmp_path / "a", 300, batch), written(tmp_path / "b", 300, 64)
    one.close("completed", "", 0)
    other.close("completed", "", 0)
    assert kept(one.path) == kept(other.path) != []


def test_a_batch_that_could_not_be_kept_is_in_no_level_and_comes_once(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    writer.append(readings=readings(5))
    pages = writer._connection.execute("PRAGMA page_count").fetchone()[0]
    writer._connection.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(Full):
        writer.append(readings=readings(3000)[5:])
    assert kept(writer.path) == []
    writer._connection.execute("PRAGMA max_page_count = 1000000")
    writer.append(readings=readings(3000)[5:])
    writer.close("completed", "", 0)
    levels_written = kept(writer.path)
    change(writer.path, "DELETE FROM level")
    with closing(sqlite3.connect(writer.path, isolation_level=None)) as connection:
        assert levels.work_out(connection)
    assert kept(writer.path) == levels_written


@pytest.mark.parametrize(
    "lost",
    ["1", "level = 1 AND bucket >= 20 OR level = 2 AND bucket >= 2 OR level > 2", "trace = 2"],
)
def test_what_is_missing_is_worked_out_to_the_same(
    tmp_path: Path, lost: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(levels, "CHUNK", 100)
    writer = written(tmp_path, 1500, 600)
    writer.close("completed", "", 0)
    before = kept(writer.path)
    change(writer.path, f"DELETE FROM level WHERE {lost}")  # noqa: S608
    with closing(sqlite3.connect(writer.path, isolation_level=None)) as connection:
        shares = [levels.share(connection)]
        while not levels.work_out(connection, 0.0):
            shares.append(levels.share(connection))
        assert shares == sorted(shares)
        assert levels.share(connection) == 1.0
    assert kept(writer.path) == before


def test_a_lost_run_of_before_has_its_levels_after_the_sweep(tmp_path: Path) -> None:
    writer = written(tmp_path / "sessions", 300, 64)
    before = kept(writer.path)
    writer._connection.execute("DELETE FROM level")
    writer.abandon()
    with Library.open(tmp_path):
        pass
    assert kept(writer.path) == before


def test_a_closed_run_of_before_gets_its_levels_by_and_by_and_stands_in_the_list(tmp_path: Path) -> None:
    writer = written(tmp_path / "sessions", 300, 64)
    writer.close("completed", "", 0)
    before = kept(writer.path)
    change(writer.path, "DELETE FROM level")
    with Library.open(tmp_path) as library:
        assert kept(writer.path) == []
        assert late_levels.share(writer.path) == 0.0
        assert late_levels.work_out(library, writer.path, 0.0) == 0.5
        assert late_levels.share(writer.path) == 0.5
        assert late_levels.work_out(library, writer.path, 60.0) == 1.0
        again = library.sweep()
        assert (again.closed, again.problems) == ([], [])
    assert kept(writer.path) == before
    (line,) = query.sessions(tmp_path)
    assert (line.outcome, line.readings) == ("completed", 400)


def test_levels_of_the_first_layout_know_no_silences_and_are_worked_out_anew(tmp_path: Path) -> None:
    writer = written(tmp_path / "sessions", 300, 64)
    writer.close("completed", "", 0)
    before = kept(writer.path)
    first_layout(writer.path)
    assert late_levels.share(writer.path) == 0.0
    with Library.open(tmp_path) as library:
        assert late_levels.work_out(library, writer.path, 60.0) == 1.0
    assert kept(writer.path) == before


def test_levels_of_a_live_run_are_its_recorders_alone(tmp_path: Path) -> None:
    writer = written(tmp_path / "sessions", 30, 64)
    with Library.open(tmp_path) as library, pytest.raises(Busy):
        late_levels.work_out(library, writer.path, 60.0)
    writer.abandon()
