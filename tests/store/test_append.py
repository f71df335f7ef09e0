"""A live session file: what was appended comes out again, whole batches or nothing, folded at the end."""

import sqlite3
import threading
from pathlib import Path

import numpy as np
import pytest
from helpers.kept import STARTED, TRACES, begin, head, some_readings, tripped
from helpers.until import until
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.reading import Outcome
from benchlog.errors import Busy, Full
from benchlog.store import folding, query
from benchlog.store.append import SessionWriter
from benchlog.store.ids import new_id
from benchlog.store.places import lock_path
from benchlog.store.records import (
    OUTCOMES,
    AnchorRow,
    EventRow,
    ReadingRow,
    RemarkRow,
    State,
    TakenRow,
    TraceRow,
)

NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
RAW = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20)


@st.composite
def batches(draw: st.DrawFn) -> list[list[ReadingRow]]:
    """Batches of readings of three traces: counted up, stamped in any order, of every outcome."""
    seq = {1: 0, 2: 0, 3: 0}
    made = []
    for _ in range(draw(st.integers(0, 4))):
        batch = []
        for _ in range(draw(st.integers(0, 12))):
            trace = draw(st.sampled_from(sorted(seq)))
            seq[trace] += draw(st.integers(1, 3))
            outcome = draw(st.sampled_from(OUTCOMES))
            value = draw(NUMBERS) if outcome is Outcome.OK else None
            batch.append(
                ReadingRow(trace, seq[trace], draw(st.integers(-5, 20)), value, str(outcome), draw(RAW))
            )
        made.append(batch)
    return made


@given(batches())
def test_every_reading_comes_out_as_it_went_in(
    tmp_path_factory: pytest.TempPathFactory, made: list[list[ReadingRow]]
) -> None:
    writer = SessionWriter.create(tmp_path_factory.mktemp("run"), head())
    writer.declare(TraceRow(number, str(number), "V", "volts_dc") for number in (1, 2, 3))
    for batch in made:
        writer.append(readings=batch)
    assert writer.close("completed", "", 0)
    for trace in (1, 2, 3):
        given_rows = [row for batch in made for row in batch if row.trace == trace]
        kept = query.rows(writer.path, trace)
        assert [row._replace(t=0) for row in kept] == [row._replace(t=0) for row in given_rows]
        expected: list[int] = []
        for row in given_rows:
            expected.append(max(row.t, expected[-1] + 1) if expected else row.t)
        assert [row.t for row in kept] == expected
        columns = query.readings(writer.path, trace)
        assert columns.t.tolist() == expected
        assert columns.seq.tolist() == [row.seq for row in given_rows]
        assert [OUTCOMES[code] for code in columns.outcome] == [row.outcome for row in given_rows]
        values = [row.value if row.value is not None else np.nan for row in given_rows]
        np.testing.assert_array_equal(columns.value, values)


@pytest.mark.parametrize("count", [49, 50, 51, 100, 149, 600])
def test_a_batch_of_any_size_is_kept_to_its_last_reading(tmp_path: Path, count: int) -> None:
    writer = begin(tmp_path)
    given_rows = [ReadingRow(1 + n % 2, n // 2, 10 * n, n / 7, "ok", str(n)) for n in range(count)]
    writer.append(readings=given_rows)
    assert writer.close("completed", "", 0)
    kept = [*query.rows(writer.path, 1), *query.rows(writer.path, 2)]
    assert sorted(kept, key=lambda row: row.t) == given_rows


def test_two_readings_with_one_stamp_stand_a_nanosecond_apart_also_across_batches(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    writer.append(readings=[ReadingRow(1, 1, 7, 1.0, "ok"), ReadingRow(1, 2, 7, 2.0, "ok")])
    writer.append(readings=[ReadingRow(1, 3, 7, 3.0, "ok"), ReadingRow(2, 1, 7, 4.0, "ok")])
    assert [row.t for row in query.rows(writer.path, 1)] == [7, 8, 9]
    assert [row.t for row in query.rows(writer.path, 2)] == [7]
    writer.abandon()


def test_the_head_is_kept_with_the_full_texts(tmp_path: Path) -> None:
    given_head = head(unit=new_id(), visit=new_id(), rate=10.0)
    writer = SessionWriter.create(tmp_path / "sessions", given_head)
    state = query.state(writer.path)
    assert state.head == given_head
    assert (state.state, state.outcome, state.reason, state.ended) == (State.LIVE, "", "", "")
    assert writer.path.name == f"20261125T101500Z-{given_head.id[-8:]}.db"
    writer.abandon()


def test_traces_can_be_corrected_and_added_while_live(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    writer.append(readings=some_readings(3))
    corrected = TRACES[0]._replace(meter="another meter", critical=False)
    added = TraceRow(9, "sink L", "degC", "temperature")
    writer.declare([corrected, added])
    writer.append(readings=[ReadingRow(9, 1, 5, 25.0, "ok")])
    assert query.traces(writer.path) == (corrected, TRACES[1], added)
    assert len(query.rows(writer.path, 1)) == 3
    writer.abandon()


def test_everything_else_that_happens_is_kept_too(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    events = (EventRow(3, "stage", "1 of 5: 10 %", {"index": 1}), tripped())
    remarks = (RemarkRow(new_id(), 4, "hum is louder\non the left"),)
    anchors = (AnchorRow(0, 123_456_789_012, STARTED),)
    taken = (TakenRow(new_id(), 5, {"designator": "R101", "value": 4680.0, "outcome": "ok"}),)
    writer.append(events=events, remarks=remarks, anchors=anchors, taken=taken)
    # Repeated, as a recorder does that was not answered: known by id.
    writer.append(remarks=remarks, taken=taken)
    assert query.events(writer.path) == events
    assert query.events(writer.path, "trip") == events[1:]
    assert query.events(writer.path, after=3) == events[1:]
    assert query.remarks(writer.path) == remarks
    assert query.anchors(writer.path) == anchors
    assert query.taken(writer.path) == taken
    writer.abandon()


def test_a_live_session_is_logged_with_full_syncs_and_read_by_others_at_once(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    (journal,) = writer._connection.execute("PRAGMA journal_mode").fetchone()
    (sync,) = writer._connection.execute("PRAGMA synchronous").fetchone()
    assert (journal, sync) == ("wal", 2)
    for first in (1, 4, 7):
        writer.append(readings=some_readings(3, first=first))
        assert len(query.rows(writer.path, 1)) == first + 2
    assert query.state(writer.path).readings == 9
    writer.abandon()


def test_a_closed_session_is_one_plain_file(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    writer.append(readings=some_readings(5), events=[tripped()])
    assert writer.close("tripped", "lamp above 60 % of mains", 900_000_000)
    assert [path.name for path in tmp_path.iterdir()] == [writer.path.name]
    assert writer.path.read_bytes()[18:20] == b"\x01\x01"  # no log beside it, says the file's header
    state = query.state(writer.path)
    assert (state.state, state.outcome, state.reason) == (
        State.CLOSED,
        "tripped",
        "lamp above 60 % of mains",
    )
    assert (state.ended_t, state.readings) == (900_000_000, 5)
    assert state.ended


def test_a_reader_in_the_way_leaves_it_complete_but_not_folded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(folding, "PATIENCE", 0.05)
    writer = begin(tmp_path)
    writer.append(readings=some_readings(5))
    reader = sqlite3.connect(writer.path)
    reader.execute("SELECT count(*) FROM reading").fetchone()
    assert not writer.close("completed", "", 500_000_000)
    assert query.state(writer.path).state is State.NOT_FOLDED
    assert len(query.rows(writer.path, 1)) == 5
    assert not lock_path(writer.path).exists()
    reader.close()


def test_a_reader_that_leaves_in_time_does_not_keep_it_from_being_folded(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    writer.append(readings=some_readings(5))
    reader = sqlite3.connect(writer.path, check_same_thread=False)
    reader.execute("SELECT count(*) FROM reading").fetchone()
    leaving = threading.Timer(0.1, reader.close)
    leaving.start()
    assert writer.close("completed", "", 500_000_000)
    leaving.join()


@pytest.mark.parametrize("gap", [0.01, 0.0], ids=["with a gap between looks", "back to back"])
def test_readers_that_come_and_go_meet_no_error_and_do_not_hinder_folding(tmp_path: Path, gap: float) -> None:
    """Three that ask without a breath may keep it from being folded; ten times a window's pace may not."""
    writer = begin(tmp_path)
    done = threading.Event()
    looks: list[int] = []
    faults: list[BaseException] = []

    def look() -> None:
        try:
            while not done.wait(gap):
                kept = query.rows(writer.path, 1)
                assert kept == some_readings(len(kept))
                looks.append(query.state(writer.path).readings)
        except BaseException as error:  # noqa: BLE001 - carried over to the test's own thread
            faults.append(error)

    lookers = [threading.Thread(target=look) for _ in range(3)]
    for looker in lookers:
        looker.start()
    for first in range(1, 1001, 20):
        writer.append(readings=some_readings(20, first=first))
    until(lambda: looks or faults, "the first look")
    folded = writer.close("completed", "", 0)
    seen = len(looks)
    until(lambda: len(looks) > seen + 3 or faults, "a look at the closed session")
    done.set()
    for looker in lookers:
        looker.join()
    assert faults == []
    assert looks[-1] == 1000
    assert folded or not gap
    assert query.state(writer.path).state is (State.CLOSED if folded else State.NOT_FOLDED)


def test_a_batch_that_cannot_be_kept_leaves_nothing_and_may_come_again(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    writer.append(readings=some_readings(2))
    batch = some_readings(2000, first=3)
    pages = writer._connection.execute("PRAGMA page_count").fetchone()[0]
    writer._connection.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(Full):
        writer.append(readings=batch, events=[tripped()])
    assert len(query.rows(writer.path, 1)) == 2
    assert query.events(writer.path) == ()
    writer._connection.execute("PRAGMA max_page_count = 1000000")
    writer.append(readings=batch, events=[tripped()])
    assert [row.t for row in query.rows(writer.path, 1)] == [row.t for row in some_readings(2002)]
    writer.close("completed", "", 0)
    assert query.state(writer.path).readings == 2002


@pytest.mark.parametrize(
    "row",
    [
        ReadingRow(1, 1, 0, None, "ok"),
        ReadingRow(1, 1, 0, float("nan"), "ok"),
        ReadingRow(1, 1, 0, 9.9e37, "overload"),
    ],
    ids=["lost", "not a number", "overload with a number"],
)
def test_a_reading_whose_number_and_outcome_disagree_is_a_bug(tmp_path: Path, row: ReadingRow) -> None:
    writer = begin(tmp_path)
    with pytest.raises(sqlite3.IntegrityError):
        writer.append(readings=[row])
    writer.append(readings=some_readings(1))
    assert len(query.rows(writer.path, 1)) == 1
    writer.abandon()


def test_a_reading_of_an_undeclared_trace_is_a_bug(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    with pytest.raises(KeyError):
        writer.append(readings=[ReadingRow(77, 1, 0, 1.0, "ok")])
    writer.abandon()


def test_one_id_makes_one_session(tmp_path: Path) -> None:
    given_head = head()
    writer = SessionWriter.create(tmp_path, given_head)
    with pytest.raises(Busy):
        SessionWriter.create(tmp_path, given_head)
    writer.append(events=[tripped()])
    writer.close("completed", "", 0)
    with pytest.raises(Busy, match="of this id already"):
        SessionWriter.create(tmp_path, given_head)
    assert query.events(writer.path) == (tripped(),)


def test_a_session_can_change_threads(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    other = threading.Thread(target=writer.append, kwargs={"readings": some_readings(4)})
    other.start()
    other.join()
    assert writer.close("completed", "", 0)
    assert len(query.rows(writer.path, 1)) == 4


def test_a_disk_that_cannot_hold_a_log_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def without_shared_memory(*_: object, **__: object) -> sqlite3.Connection:
        return sqlite3.connect(":memory:", isolation_level=None)

    monkeypatch.setattr("benchlog.store.append.open_file", without_shared_memory)
    with pytest.raises(Full, match=r"gives no shared memory \(a network folder\?\); choose a folder on this"):
        SessionWriter.create(tmp_path, head())
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_made_is_said_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(Full, match="cannot be read or written here"):
        SessionWriter.create(tmp_path / "file" / "sessions", head())
