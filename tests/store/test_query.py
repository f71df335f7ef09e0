"""What is asked of sessions, live and closed: slices of readings, the list, one by its name."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
from helpers.kept import TRACES, begin, some_readings, tripped

from benchlog.errors import BadInput, Damaged
from benchlog.store import query
from benchlog.store.append import SessionWriter
from benchlog.store.ids import new_id
from benchlog.store.library import Library
from benchlog.store.records import OUTCOMES, ReadingRow, State, TakenRow


@pytest.fixture(params=["live", "closed"])
def path(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Path]:
    """A session of a hundred readings of one trace, none of the other."""
    writer = begin(tmp_path)
    writer.append(readings=some_readings(100))
    if request.param == "closed":
        writer.close("completed", "", 0)
    yield writer.path
    writer.abandon()


def test_all_readings_of_a_trace(path: Path) -> None:
    found = query.readings(path, 1)
    assert len(found) == 100
    assert found.seq.tolist() == list(range(1, 101))
    assert found.value.dtype == np.float64
    assert len(query.readings(path, 2)) == 0
    assert query.readings(path, 2).t.dtype == np.int64


def test_what_came_after_a_sequence_number(path: Path) -> None:
    assert query.readings(path, 1, after_seq=97).seq.tolist() == [98, 99, 100]
    assert len(query.readings(path, 1, after_seq=0)) == 100
    assert len(query.readings(path, 1, after_seq=100)) == 0


def test_a_span_of_time_and_the_newest_of_it(path: Path) -> None:
    second = 1_000_000_000
    assert query.readings(path, 1, from_t=second, to_t=2 * second).seq.tolist() == list(range(10, 21))
    assert query.readings(path, 1, to_t=second, limit=3).seq.tolist() == [8, 9, 10]
    assert query.rows(path, 1, from_t=99 * second // 10) == some_readings(2, first=99)
    assert query.readings(path, 1, from_t=second, to_t=0).t.tolist() == []


def test_traces_come_in_their_order(path: Path) -> None:
    assert query.traces(path) == TRACES
    assert query.traces(path)[0].critical is True


def test_outcomes_have_a_place_each() -> None:
    assert [str(outcome) for outcome in OUTCOMES] == [
        "ok",
        "overload",
        "not a number",
        "malformed",
        "late",
        "missing",
        "not live",
        "wrong function",
        "factor of 1000",
        "did not follow",
        "clip off?",
        "changing range",
        "same reply",
        "clip being moved",
    ]


@pytest.mark.parametrize(
    ("statement", "work"),
    [
        ("UPDATE event SET data = '{'", query.events),
        ("UPDATE taken SET body = 'four'", query.taken),
        ("UPDATE reading SET outcome = 'fine'", lambda path: query.readings(path, 1)),
    ],
    ids=["event", "taken", "reading"],
)
def test_what_we_cannot_have_written_is_damage(
    tmp_path: Path, statement: str, work: Callable[[Path], object]
) -> None:
    writer = begin(tmp_path)
    writer.append(
        readings=[ReadingRow(1, 1, 1, None, "missing")], events=[tripped()], taken=[TakenRow(new_id(), 1, {})]
    )
    writer.close("completed", "", 0)
    work(writer.path)
    with closing(sqlite3.connect(writer.path)) as other:
        other.execute(statement)
        other.commit()
    with pytest.raises(Damaged, match="is damaged"):
        work(writer.path)


class TestTheList:
    """Every session, newest first, as it stands now."""

    @pytest.fixture
    def library(self, tmp_path: Path) -> Path:
        Library.open(tmp_path).close()
        return tmp_path

    def run(self, library: Path, started: str, session: str = "") -> SessionWriter:
        return begin(library / "sessions", started=started, session=session or new_id())

    def test_it_is_newest_first_and_knows_live_ones(self, library: Path) -> None:
        old = self.run(library, "2026-01-01T10:00:00.000Z")
        old.close("completed", "", 0)
        live = self.run(library, "2026-03-01T10:00:00.000Z")
        between = self.run(library, "2026-02-01T10:00:00.000Z")
        between.abandon()
        live.append(readings=some_readings(7))
        lines = query.sessions(library)
        assert [line.file for line in lines] == [live.path, between.path, old.path]
        assert [line.state for line in lines] == [State.LIVE, State.LIVE, State.CLOSED]
        assert [line.readings for line in lines] == [7, 0, 0]
        live.append(readings=some_readings(2, first=8))
        assert query.sessions(library)[0].readings == 9
        live.abandon()

    def test_one_is_found_by_its_id_its_ends_or_its_file(self, library: Path) -> None:
        writer = self.run(library, "2026-01-01T10:00:00.000Z", "01890a5d-ac96-774b-bcce-b302099a8057")
        other = self.run(library, "2026-02-01T10:00:00.000Z", "01890a5d-ac96-774b-bcce-b302099a8058")
        for wanted in (
            "01890a5d-ac96-774b-bcce-b302099a8057",
            "099a8057",
            "20260101T100000Z",
            "20260101t1",
            "20260101T100000Z-099a8057",
            " 20260101T100000Z-099a8057.db ",
        ):
            assert query.find_session(library, wanted) == writer.path
        for unknown in ("20270101", "", "  "):
            with pytest.raises(BadInput, match="is no run in this library"):
                query.find_session(library, unknown)
        with pytest.raises(BadInput, match="could be 2 runs"):
            query.find_session(library, "01890a5d")
        writer.abandon()
        other.abandon()

    def test_a_folder_that_is_no_library(self, tmp_path: Path) -> None:
        with pytest.raises(BadInput, match="there is no library here"):
            query.sessions(tmp_path / "nowhere")
