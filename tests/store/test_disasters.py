"""Every way into the store against the same disasters: locked, no room, no right, truncated, newer, scrambled.

A new function of `append`, `edit`, `library`, `query` or `query_unit` belongs into the lists below;
a test counts them.
"""

import inspect
import random
import shutil
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from types import ModuleType

import pytest
from helpers.kept import TRACES, begin, head, some_readings, tripped
from helpers.library import WITHIN, Stock, board_copied, list_taken_in, part_reading, stocked, taken_body

from benchlog.domain.kind import Kind
from benchlog.domain.unit import PartEntry, RoundKind, UnitFile
from benchlog.errors import Busy, Damaged, Full, StoreError, TooNew
from benchlog.store import bin as deleted
from benchlog.store import edit, measured, opening, overview, query, query_unit, run_facts
from benchlog.store.append import SessionWriter
from benchlog.store.folding import fold
from benchlog.store.ids import new_id
from benchlog.store.library import Library
from benchlog.store.records import RemarkRow, TakenRow

if sys.platform != "win32":
    import resource


@dataclass
class Shelf:
    """A stocked library with a closed session, and one reading kept in it."""

    stock: Stock
    session: Path
    reading: str
    part: str
    fitted: str

    @property
    def library(self) -> Library:
        return self.stock.library

    @property
    def folder(self) -> Path:
        return self.stock.library.folder


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shelf made once; each test works on a copy."""
    folder = tmp_path_factory.mktemp("made") / "library"
    stock = stocked(folder)
    writer = SessionWriter.create(stock.library.sessions, head(visit=stock.visit.id))
    writer.declare(TRACES)
    writer.append(
        readings=some_readings(600),
        events=[tripped()],
        remarks=[RemarkRow(new_id(), 5, "hum")],
        taken=[TakenRow(new_id(), 6, taken_body())],
    )
    writer.close("completed", "", 60_000_000_000)
    edit.put_session_in_index(stock.library, writer.path)
    edit.open_item(stock.library, stock.visit.id, "link", "across F1")
    stock.library.close()
    return folder


@pytest.fixture
def shelf(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Shelf]:
    """A fresh copy of it, open, with little patience."""
    monkeypatch.setattr(opening, "BUSY_WAIT", 0.01)
    shutil.copytree(made, tmp_path / "library")
    library = Library.open(tmp_path / "library")
    (unit,) = query_unit.units(library.folder)
    visit = query_unit.visits(library.folder, unit.id)[0]
    round_ = query_unit.rounds(library.folder, visit.id)[0]
    (session,) = query.sessions(library.folder)
    (kept,) = query_unit.round_results(library.folder, round_.id)
    line = query_unit.parts(library.folder, unit.id)[0]
    stock = Stock(library, unit, visit, round_)
    yield Shelf(stock, session.file, kept.reading.id, line.part.id, line.fitted.id)
    library.close()


def said_and_void(s: Shelf) -> None:
    """Where nothing was said there is nothing to void."""
    with s.library.act("both"):
        edit.say_boards(s.library, s.stock.visit.id, True)
        edit.void_boards(s.library)


EDITS: dict[str, Callable[[Shelf], object]] = {
    "create_unit": lambda s: edit.create_unit(s.library, UnitFile(name="radio")),
    "add_board": lambda s: edit.add_board(s.library, s.stock.unit.id, "tuner"),
    "add_part": lambda s: edit.add_part(
        s.library,
        query_unit.boards(s.folder, s.stock.unit.id)[0].id,
        PartEntry(designator="R999", kind=Kind.RESISTOR),
    ),
    "add_parts": lambda s: edit.add_parts(
        s.library,
        query_unit.boards(s.folder, s.stock.unit.id)[0].id,
        [PartEntry(designator="R998", kind=Kind.RESISTOR)],
    ),
    "change_unit": lambda s: edit.change_unit(s.library, replace(s.stock.unit, serial="7")),
    "fit": lambda s: edit.fit(s.library, s.part, "4k7", "burnt"),
    "expect": lambda s: edit.expect(s.library, s.fitted, "100u 20%"),
    "open_visit": lambda s: edit.open_visit(s.library, s.stock.unit.id),
    "close_visit": lambda s: edit.close_visit(s.library, s.stock.visit.id),
    "start_round": lambda s: edit.start_round(s.library, s.stock.visit.id, RoundKind.AS_LEFT),
    "end_round": lambda s: edit.end_round(s.library, s.stock.round.id),
    "open_item": lambda s: edit.open_item(s.library, s.stock.visit.id, "lifted leg", "R1"),
    "close_item": lambda s: edit.close_item(
        s.library, query_unit.open_list(s.folder, s.stock.visit.id)[0].id
    ),
    "say_boards": lambda s: edit.say_boards(s.library, s.stock.visit.id, True),
    "void_boards": said_and_void,
    "keep_reading": lambda s: edit.keep_reading(s.library, part_reading(), WITHIN),
    "judge_reading": lambda s: edit.judge_reading(s.library, s.reading, WITHIN),
    "withdraw": lambda s: edit.withdraw(s.library, [s.reading], "slip"),
    "undo": lambda s: edit.undo(s.library),
    "put_session_in_index": lambda s: edit.put_session_in_index(s.library, s.session),
    "remark_late": lambda s: edit.remark_late(s.library, s.session, "late", 5),
}
RUN_ACTS: dict[str, Callable[[Shelf], object]] = {
    "take_in": lambda s: list_taken_in(s.stock),
    "copy_board": lambda s: board_copied(s.stock),
    "call_up": lambda s: measured.call_up(s.library, s.part, ["volts"]),
    "delete": lambda s: deleted.delete(s.library, [s.session]),
}
SESSION_QUERIES: dict[str, Callable[[Shelf], object]] = {
    "state": lambda s: query.state(s.session),
    "traces": lambda s: query.traces(s.session),
    "readings": lambda s: query.readings(s.session, 1),
    "rows": lambda s: query.rows(s.session, 1),
    "events": lambda s: query.events(s.session),
    "remarks": lambda s: query.remarks(s.session),
    "anchors": lambda s: query.anchors(s.session),
    "taken": lambda s: query.taken(s.session),
    "numbers": lambda s: query.numbers(s.session, 1, None, None),
    "nth_time": lambda s: query.nth_time(s.session, [1], None, 2),
}
LIST_QUERIES: dict[str, Callable[[Shelf], object]] = {
    "sessions": lambda s: query.sessions(s.folder),
    "find_session": lambda s: query.find_session(s.folder, s.session.name),
}
LIBRARY_QUERIES: dict[str, Callable[[Shelf], object]] = {
    "units": lambda s: query_unit.units(s.folder),
    "find_unit": lambda s: query_unit.find_unit(s.folder, s.stock.unit.name),
    "visits": lambda s: query_unit.visits(s.folder, s.stock.unit.id),
    "last_visit": lambda s: query_unit.last_visit(s.folder, s.stock.unit.id),
    "boards": lambda s: query_unit.boards(s.folder, s.stock.unit.id),
    "parts": lambda s: query_unit.parts(s.folder, s.stock.unit.id),
    "rounds": lambda s: query_unit.rounds(s.folder, s.stock.visit.id),
    "round_results": lambda s: query_unit.round_results(s.folder, s.stock.round.id),
    "readings_of": lambda s: query_unit.readings_of(s.folder, s.part),
    "visit_results": lambda s: query_unit.visit_results(s.folder, s.stock.visit.id),
    "still_open": lambda s: query_unit.still_open(s.folder, s.stock.unit.id),
    "unplaced": lambda s: query_unit.unplaced(s.folder, s.stock.visit.id),
    "has_reading": lambda s: query_unit.has_reading(s.folder, s.reading),
    "open_list": lambda s: query_unit.open_list(s.folder, s.stock.visit.id),
    "open_items": lambda s: query_unit.open_items(s.folder, s.stock.visit),
    "boards_state": lambda s: query_unit.boards_state(s.folder, s.stock.visit),
}
OVERVIEWS: dict[str, Callable[[Shelf], object]] = {
    "run_facts": lambda s: run_facts.run_facts(s.folder),
    "taken_in": lambda s: run_facts.taken_in(s.folder, "run"),
    "binned": lambda s: deleted.binned(s.folder),
    "unit_lines": lambda s: overview.unit_lines(s.folder),
    "board_lines": lambda s: overview.board_lines(s.folder, s.stock.unit.id),
    "undoable": lambda s: overview.undoable(s.folder),
}
WRITES: dict[str, Callable[[SessionWriter], object]] = {
    "declare": lambda w: w.declare([TRACES[0]._replace(meter="another meter")]),
    "append": lambda w: w.append(readings=some_readings(40, first=41), events=[tripped()]),
    "close": lambda w: w.close("completed", "", 0),
}


def of(table: dict[str, Callable[..., object]]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("work", table.values(), ids=table.keys())


def public(module: ModuleType) -> set[str]:
    functions = inspect.getmembers(module, inspect.isfunction)
    return {
        name for name, each in functions if each.__module__ == module.__name__ and not name.startswith("_")
    }


def test_nothing_was_forgotten() -> None:
    assert public(edit) == set(EDITS)
    assert public(query) == set(SESSION_QUERIES) | set(LIST_QUERIES)
    assert public(query_unit) == set(LIBRARY_QUERIES)
    assert public(overview) <= set(OVERVIEWS)
    writer = {name for name, _ in inspect.getmembers(SessionWriter, inspect.isfunction) if name[0] != "_"}
    assert writer == set(WRITES) | {"abandon"}


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Another program has the file for itself."""
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        yield


@contextmanager
def disk_full() -> Iterator[None]:
    """No file can grow, as on a full disk; what is there can be read."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def newer(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute("PRAGMA user_version = 99")
        other.commit()


needs_limits = pytest.mark.skipif(sys.platform == "win32", reason="file size limits are POSIX")


class TestLocked:
    """Another program has it: `Busy`, nothing changed, and all is well once it is gone."""

    @of(EDITS | RUN_ACTS)
    def test_edits(self, shelf: Shelf, work: Callable[[Shelf], object]) -> None:
        shelf.library.connection.execute("PRAGMA busy_timeout = 10")
        with locked(shelf.folder / "library.db"), pytest.raises(Busy, match="is in use"):
            work(shelf)
        work(shelf)

    @of(LIBRARY_QUERIES | LIST_QUERIES | OVERVIEWS)
    def test_queries_of_the_library(self, shelf: Shelf, work: Callable[[Shelf], object]) -> None:
        before = work(shelf)
        with locked(shelf.folder / "library.db"), pytest.raises(Busy, match="is in use"):
            work(shelf)
        assert work(shelf) == before

    @of(SESSION_QUERIES)
    def test_queries_of_a_session(self, shelf: Shelf, work: Callable[[Shelf], object]) -> None:
        with locked(shelf.session), pytest.raises(Busy, match="is in use"):
            work(shelf)
        work(shelf)

    @of(WRITES)
    def test_writing_a_session(self, tmp_path: Path, work: Callable[[SessionWriter], object]) -> None:
        writer = begin(tmp_path)
        writer.append(readings=some_readings(40))
        writer._connection.execute("PRAGMA busy_timeout = 10")
        with closing(sqlite3.connect(writer.path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            with pytest.raises(Busy, match="is in use"):
                work(writer)
        work(writer)
        assert query.rows(writer.path, 1, limit=40)[:1]
        writer.abandon()

    def test_opening(self, shelf: Shelf) -> None:
        shelf.library.close()
        with locked(shelf.folder / "library.db"), pytest.raises(Busy, match="is in use"):
            Library.open(shelf.folder)
        Library.open(shelf.folder).close()


@needs_limits
class TestNoRoom:
    """The disk is full: `Full`, nothing changed, and the same call works once there is room."""

    @of(EDITS | RUN_ACTS)
    def test_edits(self, shelf: Shelf, work: Callable[[Shelf], object]) -> None:
        dump = "\n".join(shelf.library.connection.iterdump())
        with disk_full(), pytest.raises(Full, match="cannot be read or written here"):
            work(shelf)
        assert "\n".join(shelf.library.connection.iterdump()) == dump
        work(shelf)

    @of(WRITES)
    def test_writing_a_session(self, tmp_path: Path, work: Callable[[SessionWriter], object]) -> None:
        writer = begin(tmp_path)
        writer.append(readings=some_readings(40))
        with disk_full(), pytest.raises(Full):
            work(writer)
        work(writer)
        writer.abandon()
        assert query.rows(writer.path, 1)[:40] == some_readings(40)

    def test_folding(self, tmp_path: Path) -> None:
        writer = begin(tmp_path)
        writer.append(readings=some_readings(40))
        with disk_full(), pytest.raises(sqlite3.OperationalError):
            fold(writer._connection)
        assert fold(writer._connection)
        writer.abandon()

    def test_beginning_a_session(self, tmp_path: Path) -> None:
        given = head()
        with disk_full(), pytest.raises(Full):
            SessionWriter.create(tmp_path, given)
        assert list(tmp_path.glob("*.db")) == []
        SessionWriter.create(tmp_path, given).abandon()

    def test_making_a_library(self, tmp_path: Path) -> None:
        with disk_full(), pytest.raises(Full):
            Library.open(tmp_path)
        Library.open(tmp_path).close()

    def test_backing_up(self, shelf: Shelf) -> None:
        with disk_full(), pytest.raises(Full):
            shelf.library.backup()
        shelf.library.backup()

    def test_a_lost_run_stays_as_it_is_until_there_is_room(self, shelf: Shelf) -> None:
        writer = begin(shelf.library.sessions)
        writer.append(readings=some_readings(40))
        writer.abandon()
        with disk_full(), pytest.raises(Full):
            shelf.library.sweep()
        report = shelf.library.sweep()
        assert [line.file for line in report.closed] == [writer.path]
        assert query.rows(writer.path, 1) == some_readings(40)

    @of(LIBRARY_QUERIES | LIST_QUERIES | OVERVIEWS | SESSION_QUERIES)
    def test_reading_goes_on(self, shelf: Shelf, work: Callable[[Shelf], object]) -> None:
        with disk_full():
            work(shelf)


class TestNoRight:
    """The file may only be read: `Full` for every edit."""

    @of(EDITS | RUN_ACTS)
    def test_edits(self, shelf: Shelf, work: Callable[[Shelf], object]) -> None:
        shelf.library.connection.execute("PRAGMA query_only = ON")
        with pytest.raises(Full, match="cannot be read or written here"):
            work(shelf)

    @of(WRITES)
    def test_writing_a_session(self, tmp_path: Path, work: Callable[[SessionWriter], object]) -> None:
        writer = begin(tmp_path)
        writer._connection.execute("PRAGMA query_only = ON")
        with pytest.raises(Full, match="cannot be read or written here"):
            work(writer)
        writer.abandon()


class TestNewer:
    """Written by a newer program: refused by everything that opens it."""

    @of(SESSION_QUERIES)
    def test_queries_of_a_session(self, shelf: Shelf, work: Callable[[Shelf], object]) -> None:
        newer(shelf.session)
        with pytest.raises(TooNew):
            work(shelf)

    @of(LIBRARY_QUERIES | LIST_QUERIES | OVERVIEWS)
    def test_queries_of_the_library(self, shelf: Shelf, work: Callable[[Shelf], object]) -> None:
        newer(shelf.folder / "library.db")
        with pytest.raises(TooNew):
            work(shelf)

    def test_remarking(self, shelf: Shelf) -> None:
        newer(shelf.session)
        with pytest.raises(TooNew):
            EDITS["remark_late"](shelf)


CUTS = [0, 1, 99, 100, 512, 4095, 4096, 4097, 8192, 20000]


@pytest.mark.parametrize("size", CUTS)
class TestTruncated:
    """Cut off anywhere: a sentence or the truth, never another error, and the file is left as it is."""

    def test_a_session(self, shelf: Shelf, size: int) -> None:
        data = shelf.session.read_bytes()[:size]
        shelf.session.write_bytes(data)
        for work in SESSION_QUERIES.values():
            with pytest.raises(Damaged):
                work(shelf)
        (line,) = query.sessions(shelf.folder)
        assert line.problem
        shelf.library.connection.execute("DELETE FROM session")
        assert [Path(fault.place) for fault in shelf.library.sweep().problems] == [shelf.session]
        assert shelf.session.read_bytes() == data

    def test_the_library(self, shelf: Shelf, size: int) -> None:
        shelf.library.close()
        path = shelf.folder / "library.db"
        data = path.read_bytes()[:size]
        path.write_bytes(data)
        for work in (LIBRARY_QUERIES | LIST_QUERIES).values():
            with pytest.raises(Damaged):
                work(shelf)
        with pytest.raises(Damaged):
            Library.open(shelf.folder)
        assert path.read_bytes() == data


def scramble(path: Path, seed: int) -> None:
    """Overwrite some places with chance, as a dying disk does."""
    chance = random.Random(seed)
    data = bytearray(path.read_bytes())
    for _ in range(chance.choice([1, 10, 200])):
        at = chance.randrange(len(data))
        width = chance.choice([1, 8, 100])
        data[at : at + width] = chance.randbytes(len(data[at : at + width]))
    path.write_bytes(data)


@pytest.mark.parametrize("seed", range(40))
def test_a_scrambled_session_is_a_sentence_or_the_truth(shelf: Shelf, seed: int) -> None:
    scramble(shelf.session, seed)
    for work in (SESSION_QUERIES | LIST_QUERIES).values():
        try:
            work(shelf)
        except StoreError as error:
            assert str(error).endswith(".")
    shelf.library.connection.execute("DELETE FROM session")
    shelf.library.sweep()


@pytest.mark.parametrize("seed", range(40))
def test_a_scrambled_library_is_a_sentence_or_the_truth(shelf: Shelf, seed: int) -> None:
    shelf.library.close()
    scramble(shelf.folder / "library.db", seed)
    for work in (LIBRARY_QUERIES | LIST_QUERIES).values():
        try:
            work(shelf)
        except StoreError as error:
            assert str(error).endswith(".")
    try:
        Library.open(shelf.folder).close()
    except StoreError as error:
        assert str(error).endswith(".")
