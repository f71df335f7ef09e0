"""The sweep: lost runs are closed with their reason, read in and folded; what cannot be read is named."""

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from helpers.kept import STARTED, begin, change, head, some_readings, tripped

from benchlog.errors import Damaged, TooNew
from benchlog.store import folding, query
from benchlog.store.append import SessionWriter
from benchlog.store.ids import new_id
from benchlog.store.index import stamp
from benchlog.store.library import Library
from benchlog.store.lock import FileLock
from benchlog.store.places import lock_path
from benchlog.store.records import (
    AnchorRow,
    Ending,
    EventRow,
    ReadingRow,
    RemarkRow,
    SessionLine,
    State,
)


def lost(folder: Path, **rows: list[object]) -> Path:
    """A session whose recorder ended without closing it."""
    writer = begin(folder / "sessions")
    writer.append(**rows)  # type: ignore[arg-type]
    writer.abandon()
    return writer.path


def swept(folder: Path) -> SessionLine:
    with Library.open(folder) as library:
        (line,) = library.swept.closed
        assert library.swept.problems == []
    return line


class TestALostRun:
    """What is known of the end comes from what was kept last."""

    def test_with_readings_and_events(self, tmp_path: Path) -> None:
        stage = EventRow(400_000_000, "stage", "2 of 5: 20 %")
        path = lost(tmp_path, readings=[*some_readings(5)], events=[stage])
        line = swept(tmp_path)
        assert (line.state, line.outcome, line.ended_t, line.readings) == (
            State.CLOSED,
            Ending.LOST,
            500_000_000,
            5,
        )
        assert line.reason == (
            "benchlog's watch ended without closing it; the last reading kept was +B at 0:00:00.5: 40.62 V;"
            " the last event was at 0:00:00.4: 2 of 5: 20 %"
        )
        assert line.ended == "2026-11-25T10:15:00.750Z"
        assert query.state(path).reason == line.reason

    def test_after_a_trip(self, tmp_path: Path) -> None:
        later = EventRow(3_725_400_000_000, "cut", "OFF, verified")
        lost(tmp_path, events=[tripped(), later])
        assert swept(tmp_path).reason == (
            "benchlog's watch ended without closing it; no reading was kept;"
            " it had tripped at 0:00:00.5: lamp above 60 % of mains;"
            " the last event was at 1:02:05.4: OFF, verified"
        )

    def test_whose_last_event_is_the_trip(self, tmp_path: Path) -> None:
        lost(tmp_path, events=[tripped()])
        assert swept(tmp_path).reason.count("lamp above 60 % of mains") == 1

    def test_whose_last_reading_has_no_number(self, tmp_path: Path) -> None:
        missing = ReadingRow(1, 6, 600_000_000, None, "missing")
        lost(tmp_path, readings=[*some_readings(5), missing])
        assert "the last reading kept was +B at 0:00:00.6: missing" in swept(tmp_path).reason

    def test_that_holds_nothing_at_all(self, tmp_path: Path) -> None:
        SessionWriter.create(tmp_path / "sessions", head()).abandon()
        line = swept(tmp_path)
        assert (line.ended_t, line.readings, line.ended) == (0, 0, STARTED)

    def test_ended_by_its_last_anchor_and_the_rate_of_its_time(self, tmp_path: Path) -> None:
        writer = SessionWriter.create(tmp_path / "sessions", head(rate=10.0))
        anchors = [AnchorRow(0, 5, STARTED), AnchorRow(10_000_000_000, 6, "2026-11-25T11:00:00.000Z")]
        writer.append(anchors=anchors, remarks=[RemarkRow(new_id(), 30_000_000_000, "smells warm")])
        writer.abandon()
        assert swept(tmp_path).ended == "2026-11-25T11:00:02.000Z"


def test_what_was_closed_is_not_swept_again(tmp_path: Path) -> None:
    lost(tmp_path, readings=[*some_readings(5)])
    swept(tmp_path)
    with Library.open(tmp_path) as library:
        assert (library.swept.closed, library.swept.folded) == ([], 0)


def test_a_properly_closed_run_is_read_in_as_it_is(tmp_path: Path) -> None:
    writer = begin(tmp_path / "sessions")
    writer.append(readings=some_readings(5))
    writer.close("completed", "all stages reached", 500_000_000)
    before = writer.path.read_bytes()
    with Library.open(tmp_path) as library:
        assert library.swept.closed == []
    (line,) = query.sessions(tmp_path)
    assert (line.outcome, line.reason, line.readings) == ("completed", "all stages reached", 5)
    assert writer.path.read_bytes() == before


def test_a_run_not_folded_for_a_reader_is_folded_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(folding, "PATIENCE", 0.02)
    writer = begin(tmp_path / "sessions")
    writer.append(readings=some_readings(5))
    with closing(sqlite3.connect(writer.path)) as reader:
        reader.execute("SELECT count(*) FROM reading").fetchone()
        assert not writer.close("completed", "", 500_000_000)
        with Library.open(tmp_path) as library:  # the reader is still there
            assert library.swept.folded == 0
            assert library.swept.problems == []
        (line,) = query.sessions(tmp_path)
        assert (line.state, line.outcome) == (State.NOT_FOLDED, "completed")
    with Library.open(tmp_path) as library:
        assert library.swept.folded == 1
        assert library.swept.closed == []
    (line,) = query.sessions(tmp_path)
    assert line.state is State.CLOSED
    assert len(query.rows(line.file, 1)) == 5


def test_a_run_marked_not_folded_that_was_folded_in_truth(tmp_path: Path) -> None:
    writer = begin(tmp_path / "sessions")
    writer.close("completed", "", 0)
    change(writer.path, "UPDATE session SET state = 'closed, not folded'")
    with Library.open(tmp_path) as library:
        assert library.swept.folded == 1
    assert query.state(writer.path).state is State.CLOSED


def test_a_run_whose_recorder_died_before_the_log_was_begun(tmp_path: Path) -> None:
    path = lost(tmp_path)
    change(path, "PRAGMA journal_mode = DELETE")
    assert swept(tmp_path).outcome == Ending.LOST


def test_a_live_run_is_left_alone_until_its_recorder_is_gone(tmp_path: Path) -> None:
    writer = begin(tmp_path / "sessions")
    writer.append(readings=some_readings(3))
    with Library.open(tmp_path) as library:
        assert [line.id for line in library.swept.live] == [query.state(writer.path).head.id]
        writer.append(readings=some_readings(3, first=4))
        writer.close("completed", "", 0)
        report = library.sweep()
        assert (report.live, report.closed) == ([], [])
        (line,) = query.sessions(tmp_path)
        assert (line.state, line.outcome, line.readings) == (State.CLOSED, "completed", 6)


class TestFilesThatCannotBeRead:
    """They are named and listed, never touched, and never keep the library shut."""

    def test_a_file_of_another_kind_a_newer_one_and_a_broken_one(self, tmp_path: Path) -> None:
        newer, broken = lost(tmp_path, readings=[*some_readings(400)]), lost(tmp_path)
        good = lost(tmp_path)
        change(
            newer,
            "INSERT INTO format VALUES (9, 'later', 'benchlog 7.0', '2030')",
            "PRAGMA user_version = 9",
            "PRAGMA journal_mode = DELETE",
        )
        change(broken, "PRAGMA journal_mode = DELETE")
        broken.write_bytes(broken.read_bytes()[:5000])
        alien = tmp_path / "sessions" / "notes.db"
        alien.write_text("these are my notes")
        before = [path.read_bytes() for path in (newer, broken, alien)]
        with Library.open(tmp_path) as library:
            problems = {Path(fault.place).name: fault.problem for fault in library.swept.problems}
            assert [line.file for line in library.swept.closed] == [good]
        assert set(problems) == {newer.name, broken.name, alien.name}
        assert "was written by benchlog 7.0 in format 9" in problems[newer.name]
        assert [path.read_bytes() for path in (newer, broken, alien)] == before
        states = {line.file: line.state for line in query.sessions(tmp_path)}
        assert states[good] is State.CLOSED
        assert {states[path] for path in (newer, broken, alien)} == {State.UNREADABLE}
        with pytest.raises(TooNew):
            query.traces(newer)

    def test_one_damaged_within_is_not_closed(self, tmp_path: Path) -> None:
        path = lost(tmp_path, readings=[*some_readings(3000)])
        change(path, "PRAGMA journal_mode = DELETE")
        data = bytearray(path.read_bytes())
        page = len(data) // 4096 // 2  # amid the readings, where neither the first nor the last is
        data[page * 4096 : page * 4096 + 64] = b"\xff" * 64
        path.write_bytes(data)
        with Library.open(tmp_path) as library:
            assert [Path(fault.place) for fault in library.swept.problems] == [path]
            assert library.swept.closed == []
        assert query.state(path).state is State.LIVE
        assert len(query.rows(path, 1, limit=10)) == 10  # what lies elsewhere can still be had
        with pytest.raises(Damaged):
            query.rows(path, 1)

    @pytest.mark.parametrize(
        "statement",
        ["DELETE FROM session", "UPDATE session SET state = 'asleep'"],
        ids=["no head", "no state"],
    )
    def test_one_without_a_sensible_head(self, tmp_path: Path, statement: str) -> None:
        path = lost(tmp_path)
        change(path, "PRAGMA ignore_check_constraints = ON", statement)
        with Library.open(tmp_path) as library:
            (problem,) = library.swept.problems
        assert "has no readable head" in problem.problem
        (line,) = query.sessions(tmp_path)
        assert line.problem.startswith("has no readable head")

    def test_one_whose_lock_cannot_be_had(self, tmp_path: Path) -> None:
        path = lost(tmp_path)
        lock_path(path).mkdir()
        with Library.open(tmp_path) as library:
            assert len(library.swept.problems) == 1
        assert query.state(path).state is State.LIVE


class TestTheIndex:
    """A cache: whatever becomes of it, the files are the truth."""

    def test_it_is_made_anew_when_lost(self, tmp_path: Path) -> None:
        for _ in range(3):
            lost(tmp_path, readings=[*some_readings(2)])
        Library.open(tmp_path).close()
        before = query.sessions(tmp_path)
        change(tmp_path / "library.db", "DELETE FROM session")
        Library.open(tmp_path).close()
        assert query.sessions(tmp_path) == before
        (tmp_path / "library.db").unlink()
        Library.open(tmp_path).close()
        assert query.sessions(tmp_path) == before

    def test_a_file_that_is_gone_leaves_it(self, tmp_path: Path) -> None:
        path = lost(tmp_path)
        Library.open(tmp_path).close()
        path.unlink()
        assert query.sessions(tmp_path) == ()
        with Library.open(tmp_path) as library:
            assert library.connection.execute("SELECT count(*) FROM session").fetchone() == (0,)

    def test_a_line_that_makes_no_sense_is_as_good_as_none(self, tmp_path: Path) -> None:
        lost(tmp_path)
        Library.open(tmp_path).close()
        before = query.sessions(tmp_path)
        change(tmp_path / "library.db", "UPDATE session SET state = 'asleep', title = 'nonsense'")
        assert query.sessions(tmp_path) == before
        Library.open(tmp_path).close()
        assert query.sessions(tmp_path) == before

    def test_a_file_that_goes_while_it_is_looked_at(self, tmp_path: Path) -> None:
        assert stamp(tmp_path / "gone.db") == (0, 0)

    def test_a_file_brought_from_elsewhere_is_found(self, tmp_path: Path) -> None:
        path = lost(tmp_path / "one")
        Library.open(tmp_path / "one").close()
        Library.open(tmp_path / "two").close()
        copy = tmp_path / "two" / "sessions" / path.name
        shutil.copy(path, copy)
        assert [line.file for line in query.sessions(tmp_path / "two")] == [copy]
        with Library.open(tmp_path / "two") as library:
            assert library.swept.problems == []
        assert [line.file for line in query.sessions(tmp_path / "two")] == [copy]

    def test_a_closed_file_that_was_changed_is_read_again(self, tmp_path: Path) -> None:
        path = lost(tmp_path)
        Library.open(tmp_path).close()
        change(path, "UPDATE session SET title = 'changed by hand, and longer than before'", "VACUUM")
        assert query.sessions(tmp_path)[0].title == "changed by hand, and longer than before"


def test_what_recorders_left_behind_is_cleared_away(tmp_path: Path) -> None:
    sessions = tmp_path / "sessions"
    path = lost(tmp_path)
    gone = [sessions / "20260101T000000Z-00000000.part", sessions / "20260101T000000Z-11111111.db.lock"]
    held = sessions / "20260101T000000Z-22222222.part"
    for each in (*gone, held):
        each.write_text("half")
    making = FileLock.take(lock_path(held.with_suffix(".db")), "a session in the making")
    blocked = sessions / "20260101T000000Z-33333333.part"
    blocked.mkdir()
    with Library.open(tmp_path) as library:
        assert library.swept.problems == []
    assert not any(each.exists() for each in gone)
    assert held.exists()
    assert blocked.exists()
    making.release()
    assert {each.name for each in sessions.iterdir()} >= {path.name}


def test_the_numbers_of_an_event_come_back(tmp_path: Path) -> None:
    path = lost(tmp_path, events=[tripped()])
    with closing(sqlite3.connect(path)) as connection:
        (data,) = connection.execute("SELECT data FROM event").fetchone()
    assert json.loads(data) == {"trace": "lamp", "value": 150.5}
