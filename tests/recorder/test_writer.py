"""Whatever the disk does, nobody waits for it, nothing is lost, and nothing is called stored before it is."""

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from helpers.full_disk import disk_full, needs_limits
from helpers.kept import begin, some_readings, tripped
from helpers.until import until

from benchlog.errors import Full, StoreError
from benchlog.recorder import writer as writing
from benchlog.recorder.messages import Stored
from benchlog.recorder.writer import Writer
from benchlog.store import query
from benchlog.store.append import SessionWriter
from benchlog.store.ids import new_id
from benchlog.store.records import AnchorRow, EventRow, ReadingRow, RemarkRow, State, TakenRow

NAMES = {1: "+B", 2: "offset L"}


class Refusing:
    """A session whose disk refuses while it is told to; what it accepts goes to a real one."""

    def __init__(self, session: SessionWriter) -> None:
        self._session = session
        self.refuses = False
        self.tries = 0
        self.largest = 0

    @property
    def path(self) -> Path:
        return self._session.path

    def append(self, **rows: Any) -> None:
        """Keep the rows, or say that there is no room."""
        self.tries += 1
        self.largest = max(self.largest, *(len(some) for some in rows.values()))
        if self.refuses:
            raise Full(str(self.path), "no room is left", "make room")
        self._session.append(**rows)

    def close(self, outcome: str, reason: str, t: int) -> bool:
        """Close the real one."""
        return self._session.close(outcome, reason, t)


class Kept:
    """A writer over a session in a folder, and all it says."""

    def __init__(self, folder: Path) -> None:
        self.disk = Refusing(begin(folder))
        self.stored: list[Stored] = []
        self.ahead: list[str] = []
        self.faults: list[StoreError] = []
        self.writer = Writer(self.disk, NAMES, self._was_stored, self.faults.append)  # type: ignore[arg-type]

    @property
    def path(self) -> Path:
        return self.disk.path

    def _was_stored(self, stored: Stored) -> None:
        """Look into the file at the very moment at which it is said to hold so much."""
        self.stored.append(stored)
        for trace, name in NAMES.items():
            last = query.rows(self.path, trace, limit=1)
            there = last[0].seq if last else 0
            if there < stored.traces.get(name, 0):
                self.ahead.append(f"{name} {there} of {stored.traces[name]}")

    def read(self, count: int, first: int = 1, trace: int = 1) -> list[ReadingRow]:
        """Give the writer so many readings; they are what the file should hold."""
        rows = some_readings(count, trace, first)
        for row in rows:
            self.writer.add_reading(row)
        return rows

    def seqs(self, trace: int = 1) -> list[int]:
        """The sequence numbers in the file, in its order."""
        return [row.seq for row in query.rows(self.path, trace)]


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    made = Kept(tmp_path)
    yield made
    made.disk.refuses = False
    if query.state(made.path).state is State.LIVE:
        made.writer.close("completed", "", 0)
    assert made.ahead == []


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Try a disk that refused again without delay."""
    monkeypatch.setattr(writing, "RETRY_SECONDS", 0.01)
    monkeypatch.setattr(writing, "COMMIT_SECONDS", 0.01)


# --- a disk that works ----------------------------------------------------------------------------


def test_readings_reach_the_file_by_themselves_and_are_told_up_to_their_last(kept: Kept) -> None:
    rows = kept.read(40)
    kept.read(3, trace=2)
    until(lambda: kept.seqs(1) == list(range(1, 41)) and kept.seqs(2) == [1, 2, 3], "all rows")
    assert query.rows(kept.path, 1) == rows
    until(lambda: {n: s for m in kept.stored for n, s in m.traces.items()} == {"+B": 40, "offset L": 3})
    assert max(message.t for message in kept.stored) == rows[-1].t


def test_an_event_a_remark_and_a_part_reading_wake_the_writer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writing, "COMMIT_SECONDS", 3600.0)
    kept = Kept(tmp_path)
    kept.writer.add_event(tripped())
    until(lambda: query.events(kept.path) == (tripped(),), "the event")
    note = RemarkRow(new_id(), 7, "hum")
    kept.writer.add_remark(note)
    until(lambda: query.remarks(kept.path) == (note,), "the remark")
    taken = TakenRow(new_id(), 8, {"designator": "R101", "value": 4680.0})
    kept.writer.add_taken(taken)
    until(lambda: query.taken(kept.path) == (taken,), "the part reading")
    kept.writer.close("completed", "", 0)


def test_an_anchor_goes_along_with_the_next_commit(kept: Kept) -> None:
    anchor = AnchorRow(5, 17, "2026-11-25T10:15:00.250Z")
    kept.writer.add_anchor(anchor)
    until(lambda: query.anchors(kept.path) == (anchor,), "the anchor")
    assert all(message.traces == {} for message in kept.stored)


def test_many_threads_write_at_once_and_each_trace_keeps_its_order(kept: Kept) -> None:
    def read(trace: int) -> None:
        for row in some_readings(3000, trace):
            kept.writer.add_reading(row)

    threads = [threading.Thread(target=read, args=(trace,)) for trace in NAMES]
    for thread in threads:
        thread.start()
    for number in range(20):
        kept.writer.add_event(EventRow(number, "note", str(number)))
    for thread in threads:
        thread.join()
    assert kept.writer.close("completed", "", 0)
    assert kept.seqs(1) == kept.seqs(2) == list(range(1, 3001))
    assert [event.text for event in query.events(kept.path)] == [str(number) for number in range(20)]


def test_closing_writes_what_still_waits_and_folds_the_file(kept: Kept) -> None:
    kept.read(500)
    kept.writer.add_event(tripped())
    assert kept.writer.close("tripped", "lamp above 60 % of mains", 77)
    state = query.state(kept.path)
    assert (state.state, state.outcome, state.ended_t) == (State.CLOSED, "tripped", 77)
    assert kept.seqs() == list(range(1, 501))
    assert query.events(kept.path) == (tripped(),)


def test_nothing_is_written_where_nothing_waits(kept: Kept, impatient: None) -> None:
    kept.read(1)
    until(lambda: kept.stored, "the first commit")
    tries = kept.disk.tries
    kept.writer.close("completed", "", 0)
    assert kept.disk.tries == tries


# --- a disk that refuses --------------------------------------------------------------------------


def test_while_the_disk_refuses_nothing_is_lost_and_the_order_is_kept(kept: Kept, impatient: None) -> None:
    kept.read(10)
    until(lambda: kept.seqs() == list(range(1, 11)), "the first readings")
    kept.disk.refuses = True
    said = len(kept.stored)
    kept.read(200, first=11)
    kept.writer.add_event(tripped())
    tries = kept.disk.tries
    until(lambda: kept.disk.tries > tries + 3, "the next tries")
    kept.read(100, first=211)
    kept.writer.add_remark(RemarkRow(new_id(), 7, "hum"))
    assert len(kept.stored) == said
    assert kept.seqs() == list(range(1, 11))
    kept.disk.refuses = False
    until(lambda: kept.seqs() == list(range(1, 311)), "everything in order")
    until(lambda: kept.stored[-1].traces.get("+B") == 310, "the last of it told")
    assert query.events(kept.path) == (tripped(),)
    assert [remark.text for remark in query.remarks(kept.path)] == ["hum"]


def test_a_person_is_told_once_for_each_time_the_disk_refuses(kept: Kept, impatient: None) -> None:
    for episode in (1, 2):
        kept.disk.refuses = True
        tries = kept.disk.tries
        kept.writer.add_event(tripped())
        until(lambda before=tries: kept.disk.tries > before + 3, "several tries")  # type: ignore[misc]
        kept.disk.refuses = False
        until(lambda wanted=episode: len(query.events(kept.path)) == wanted, "the event")  # type: ignore[misc]
        assert [type(fault) for fault in kept.faults] == episode * [Full]


def test_a_backlog_is_written_in_bites(kept: Kept, impatient: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(writing, "MOST_ROWS", 50)
    kept.disk.refuses = True
    kept.read(1234)
    until(lambda: kept.faults, "the refusal")
    kept.disk.refuses = False
    until(lambda: kept.seqs() == list(range(1, 1235)), "the whole backlog")
    assert kept.disk.largest == 50


def test_closing_on_a_full_disk_says_so_and_can_be_done_again(kept: Kept) -> None:
    kept.disk.refuses = True
    kept.read(30)
    with pytest.raises(Full, match="no room is left"):
        kept.writer.close("tripped", "lamp", 5)
    kept.disk.refuses = False
    assert kept.writer.close("tripped", "lamp", 5)
    assert kept.seqs() == list(range(1, 31))
    assert query.state(kept.path).outcome == "tripped"


@needs_limits
def test_a_really_full_disk_costs_no_reading(kept: Kept, impatient: None) -> None:
    kept.read(40)
    until(lambda: kept.seqs() == list(range(1, 41)), "the first readings")
    with disk_full():
        rows = kept.read(3000, first=41)
        kept.writer.add_event(tripped())
        until(lambda: kept.faults, "the refusal")
        tries = kept.disk.tries
        until(lambda: kept.disk.tries > tries + 2, "more tries")
    assert isinstance(kept.faults[0], Full)
    until(lambda: kept.seqs() == list(range(1, 3041)), "everything once there is room")
    assert query.rows(kept.path, 1)[40:] == rows
    assert query.events(kept.path) == (tripped(),)


def test_a_file_that_may_not_grow_any_more_costs_no_reading(kept: Kept, impatient: None) -> None:
    session = kept.disk._session
    ((pages,),) = session._connection.execute("PRAGMA page_count")
    session._connection.execute(f"PRAGMA max_page_count = {pages + 1}")
    rows = kept.read(3000)
    until(lambda: kept.faults, "the refusal")
    assert isinstance(kept.faults[0], Full)
    kept.read(10, first=3001)
    session._connection.execute("PRAGMA max_page_count = 1000000")
    until(lambda: kept.seqs() == list(range(1, 3011)), "everything once there is room")
    assert query.rows(kept.path, 1)[:3000] == rows
