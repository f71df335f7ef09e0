"""Edits of the library: what is put in comes out, nothing is overwritten, everything can be taken back."""

import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.kept import begin, some_readings
from helpers.library import WITHIN, Stock, part_reading, stocked
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.kind import Kind
from benchlog.domain.reading import Function, Outcome
from benchlog.domain.standing import Rule
from benchlog.domain.unit import Conditions, PartEntry, PartReading, RoundKind
from benchlog.domain.verdict import Judgement, Verdict
from benchlog.errors import BadInput, Busy
from benchlog.store import edit, query, query_unit
from benchlog.store.ids import new_id
from benchlog.store.records import State

TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)
LINE = st.text(st.characters(categories=["L", "N", "P", "Zs"]), min_size=1, max_size=12)
NUMBER = st.floats(allow_nan=False, allow_infinity=False)
MAYBE = st.none() | NUMBER


@pytest.fixture
def stock(tmp_path: Path) -> Iterator[Stock]:
    made = stocked(tmp_path)
    yield made
    made.library.close()


def part_id(stock: Stock, designator: str) -> str:
    lines = query_unit.parts(stock.library.folder, stock.unit.id)
    (found,) = [line.part.id for line in lines if line.part.designator == designator]
    return found


def count(stock: Stock, table: str) -> int:
    return len(stock.library.connection.execute(f"SELECT 1 FROM {table}").fetchall())  # noqa: S608


@st.composite
def part_readings(draw: st.DrawFn) -> PartReading:
    """Readings with every field drawn."""
    outcome = draw(st.sampled_from(Outcome))
    conditions = Conditions(
        draw(TEXT),
        draw(TEXT),
        draw(TEXT),
        draw(st.none() | st.booleans()),
        draw(TEXT),
        draw(TEXT),
        draw(MAYBE),
        draw(MAYBE),
        draw(MAYBE),
        draw(MAYBE),
    )
    return PartReading(
        id=new_id(),
        designator=draw(TEXT),
        function=draw(st.sampled_from(Function)),
        outcome=outcome,
        value=draw(NUMBER) if outcome is Outcome.OK else None,
        unit=draw(TEXT),
        raw=draw(TEXT),
        taken="2026-11-25T08:30:00.000Z",
        session=draw(TEXT),
        job=draw(TEXT),
        resolution=draw(MAYBE),
        settled=draw(st.booleans()),
        typed=draw(st.booleans()),
        negative=draw(st.booleans()),
        flags=tuple(draw(st.lists(LINE, max_size=3))),
        conditions=conditions,
    )


class TestAUnit:
    """From its file into the library and out again."""

    def test_it_comes_out_as_its_file_says(self, stock: Stock) -> None:
        (unit,) = query_unit.units(stock.library.folder)
        assert unit == stock.unit
        assert (unit.mirror, unit.pairs) == (("R1## <-> R2##", "*L <-> *R"), {"D5": "D9"})
        boards = query_unit.boards(stock.library.folder, unit.id)
        assert [(board.name, board.place) for board in boards] == [
            ("Amplifier board, left", 1),
            ("Amplifier board, right", 2),
        ]

    def test_its_parts_come_in_natural_order_with_what_they_should_read(self, stock: Stock) -> None:
        lines = query_unit.parts(stock.library.folder, stock.unit.id)
        assert [line.part.designator for line in lines] == ["C4", "R9", "R110", "D9", "R210"]
        c4, r9, r110, d9, r210 = lines
        assert c4.should_read is None
        assert c4.fitted.marking == "100u 63V"
        assert r9.should_read is not None
        assert (r9.part.in_circuit, r9.should_read.origin) == (False, "computed")
        assert [(one.text, one.origin, one.measure) for one in r110.expected] == [("4k7 5%", "sheet", "")]
        assert (d9.part.function, d9.part.kind) == (Function.DIODE, Kind.DIODE)
        assert (r210.part.note, r210.board.name) == ("behind the sink", "Amplifier board, right")

    def test_limits_are_kept_in_si_and_an_open_end_is_none(self, stock: Stock) -> None:
        rows = stock.library.connection.execute(
            "SELECT text, nominal, low, high, unit FROM expectation ORDER BY rowid"
        ).fetchall()
        assert rows == [
            ("4k7 5%", 4700.0, 4465.0, 4935.0, "ohm"),
            ("> 1 M", None, 1e6, None, "ohm"),
            ("4k7 5%", 4700.0, 4465.0, 4935.0, "ohm"),
            ("0.55..0.7", None, 0.55, 0.7, "V"),
        ]

    def test_boards_and_parts_are_added_after_those_there_are(self, stock: Stock) -> None:
        board = edit.add_board(stock.library, stock.unit.id, "Power supply")
        assert board.place == 3
        fitted = edit.add_part(
            stock.library, board.id, PartEntry(designator="C1", kind=Kind.ELECTROLYTIC, should_read="10m 20%")
        )
        line = query_unit.parts(stock.library.folder, stock.unit.id)[-1]
        assert (line.board, line.fitted, line.part.designator) == (board, fitted, "C1")
        with pytest.raises(BadInput, match="c1: stands on this board already"):
            edit.add_part(stock.library, board.id, PartEntry(designator="c1", kind=Kind.FUSE))


class TestWhatIsFitted:
    """A new item takes the place of the old one, which keeps its readings."""

    def test_readings_stay_with_the_item_they_were_taken_of(self, stock: Stock) -> None:
        r110 = part_id(stock, "R110")
        before = stock.fitted("R110")
        edit.keep_reading(stock.library, part_reading(value=6800.0, fitted=before))
        new = edit.fit(stock.library, r110, "4k7 1%", "drifted high", stock.visit.id)
        edit.keep_reading(stock.library, part_reading(value=4701.0, fitted=new.id))
        (line,) = [
            line for line in query_unit.parts(stock.library.folder, stock.unit.id) if line.part.id == r110
        ]
        assert (line.fitted, line.expected) == (new, ())
        history = query_unit.readings_of(stock.library.folder, r110)
        assert [(kept.reading.fitted, kept.reading.value) for kept in history] == [
            (before, 6800.0),
            (new.id, 4701.0),
        ]
        (until,) = stock.library.connection.execute(
            "SELECT until FROM fitted WHERE id = ?", (before,)
        ).fetchone()
        assert until == new.since

    def test_undo_puts_the_old_one_back(self, stock: Stock) -> None:
        before = stock.fitted("R110")
        edit.fit(stock.library, part_id(stock, "R110"), "4k7 1%", "drifted")
        assert edit.undo(stock.library) == "fit 4k7 1%"
        assert stock.fitted("R110") == before

    def test_a_new_expectation_takes_the_place_of_the_old_for_that_measurement(self, stock: Stock) -> None:
        fitted = stock.fitted("R110")
        edit.expect(stock.library, fitted, "4k7 1%", Origin.MARKING)
        edit.expect(stock.library, fitted, "0 V +/-20 mV", measure="volts")
        (line,) = [
            line for line in query_unit.parts(stock.library.folder, stock.unit.id) if line.fitted.id == fitted
        ]
        assert [(one.text, one.origin, one.measure) for one in line.expected] == [
            ("4k7 1%", "marking", ""),
            ("0 V +/-20 mV", "sheet", "volts"),
        ]
        edit.expect(stock.library, fitted, "0 V +/-5 mV", measure="volts")
        assert count(stock, "expectation") == 4 + 3

    def test_a_number_without_unit_is_in_the_parts_own_measurement(self, stock: Stock) -> None:
        edit.expect(stock.library, stock.fitted("D9"), "0.5..0.6")
        edit.expect(stock.library, stock.fitted("C4"), "80..120 u")
        units = stock.library.connection.execute(
            "SELECT unit FROM expectation WHERE until IS NULL ORDER BY rowid DESC LIMIT 2"
        ).fetchall()
        assert units == [("F",), ("V",)]

    def test_one_that_should_read_nothing_has_no_limits(self, stock: Stock) -> None:
        edit.expect(stock.library, stock.fitted("D9"), "OL")
        row = stock.library.connection.execute(
            "SELECT low, high FROM expectation ORDER BY rowid DESC"
        ).fetchone()
        assert row == (None, None)

    def test_one_that_cannot_be_read_changes_nothing(self, stock: Stock) -> None:
        with pytest.raises(BadInput):
            edit.expect(stock.library, stock.fitted("R110"), "round about")
        with pytest.raises(BadInput, match="is no fitted item of this library"):
            edit.expect(stock.library, "nobody", "4k7 5%")
        assert count(stock, "expectation") == 4


class TestVisitsAndRounds:
    """Visits are counted over the whole library; rounds are passes that end."""

    def test_visits_are_numbered(self, stock: Stock) -> None:
        second = edit.open_visit(stock.library, stock.unit.id, "hums again")
        assert (stock.visit.label, second.label) == ("visit 0001", "visit 0002")
        edit.close_visit(stock.library, stock.visit.id)
        first, last = query_unit.visits(stock.library.folder, stock.unit.id)
        assert (first.closed is not None, last) == (True, second)
        assert query_unit.last_visit(stock.library.folder, stock.unit.id) == second
        assert query_unit.last_visit(stock.library.folder, "nobody") is None

    def test_rounds_begin_and_end(self, stock: Stock) -> None:
        left = edit.start_round(stock.library, stock.visit.id, RoundKind.AS_LEFT)
        edit.end_round(stock.library, stock.round.id)
        first, second = query_unit.rounds(stock.library.folder, stock.visit.id)
        assert (first.ended is not None, first.title, second) == (True, "cold, on the table", left)

    def test_the_open_list(self, stock: Stock) -> None:
        r110 = part_id(stock, "R110")
        leg = edit.open_item(stock.library, stock.visit.id, "lifted leg", "R110, outer end", r110)
        edit.open_item(stock.library, stock.visit.id, "borrowed fuse", "from the drawer")
        edit.close_item(stock.library, leg)
        first, second = query_unit.open_list(stock.library.folder, stock.visit.id)
        assert (first.kind, first.part, first.closed is not None) == ("lifted leg", r110, True)
        assert (second.text, second.part, second.closed) == ("from the drawer", "", None)


class TestReadings:
    """Kept once, never changed; what they prove is added, what was a slip is withdrawn."""

    @given(st.lists(part_readings(), max_size=5))
    def test_each_comes_out_as_it_went_in(
        self, tmp_path_factory: pytest.TempPathFactory, made: list[PartReading]
    ) -> None:
        stock = stocked(tmp_path_factory.mktemp("library"))
        fitted, round_, visit = stock.fitted("R110"), stock.round.id, stock.visit.id
        placed = [replace(reading, fitted=fitted, round=round_, visit=visit) for reading in made]
        for reading in placed:
            assert edit.keep_reading(stock.library, reading)
        found = query_unit.round_results(stock.library.folder, stock.round.id)
        assert [kept.reading for kept in found] == placed
        stock.library.close()

    def test_one_that_comes_again_is_known(self, stock: Stock) -> None:
        reading = part_reading(round=stock.round.id)
        assert edit.keep_reading(stock.library, reading, WITHIN, "4k7 5%")
        assert not edit.keep_reading(stock.library, replace(reading, value=1.0), WITHIN)
        (kept,) = query_unit.round_results(stock.library.folder, stock.round.id)
        assert kept.reading == reading
        assert count(stock, "judgement") == 1
        assert query_unit.has_reading(stock.library.folder, reading.id)
        assert not query_unit.has_reading(stock.library.folder, new_id())

    def test_its_verdict_is_kept_with_it(self, stock: Stock) -> None:
        edit.keep_reading(stock.library, part_reading(round=stock.round.id), WITHIN, "4k7 5%")
        (kept,) = query_unit.round_results(stock.library.folder, stock.round.id)
        judged = kept.judgement
        assert judged is not None
        assert (judged.verdict, judged.rule, judged.reason) == ("within", "bench", WITHIN.reason)
        assert (judged.low, judged.high, judged.value, judged.expected) == (4465.0, 4935.0, 4680.0, "4k7 5%")
        assert (judged.uncertainty, judged.coverage, judged.probability) == (12.0, 2.0, 0.99)
        assert (judged.unit, judged.near_limit, judged.notes) == ("ohm", False, WITHIN.notes)

    def test_limits_without_an_end_and_an_unknown_error(self, stock: Stock) -> None:
        open_ended = Expectation.parse("> 1 M", Kind.RESISTOR)
        judgement = Judgement(Verdict.OPEN, "OL.", Rule.BENCH, low=open_ended.low, high=open_ended.high)
        edit.keep_reading(stock.library, part_reading(round=stock.round.id), judgement)
        (kept,) = query_unit.round_results(stock.library.folder, stock.round.id)
        assert kept.judgement is not None
        assert (kept.judgement.low, kept.judgement.high, kept.judgement.coverage) == (1e6, None, None)
        assert kept.judgement.notes == ()

    def test_a_later_verdict_counts_and_the_older_stays(self, stock: Stock) -> None:
        reading = part_reading(round=stock.round.id)
        edit.keep_reading(stock.library, reading, WITHIN)
        later = Judgement(Verdict.AS_OTHER_SIDE, "As the other side.", Rule.BENCH)
        edit.judge_reading(stock.library, reading.id, later)
        (kept,) = query_unit.round_results(stock.library.folder, stock.round.id)
        assert kept.judgement is not None
        assert kept.judgement.verdict == "as other side"
        assert count(stock, "judgement") == 2
        assert edit.undo(stock.library) == "judge again"
        (kept,) = query_unit.round_results(stock.library.folder, stock.round.id)
        assert kept.judgement is not None
        assert kept.judgement.verdict == "within"

    def test_a_slip_is_withdrawn_and_stays(self, stock: Stock) -> None:
        first, second = part_reading(round=stock.round.id), part_reading(round=stock.round.id)
        for reading in (first, second):
            edit.keep_reading(stock.library, reading)
        edit.withdraw(stock.library, [first.id, first.id], "the probe slipped")
        edit.withdraw(stock.library, [first.id], "again")
        found = query_unit.round_results(stock.library.folder, stock.round.id)
        assert [(kept.reading, kept.withdrawn) for kept in found] == [(first, True), (second, False)]

    def test_undo_of_a_reading_withdraws_it(self, stock: Stock) -> None:
        reading = part_reading(round=stock.round.id)
        edit.keep_reading(stock.library, reading, WITHIN)
        assert edit.undo(stock.library) == "reading of R110"
        (kept,) = query_unit.round_results(stock.library.folder, stock.round.id)
        assert (kept.reading, kept.withdrawn) == (reading, True)
        assert kept.judgement is not None

    def test_undo_of_a_withdrawal_counts_it_again(self, stock: Stock) -> None:
        reading = part_reading(round=stock.round.id)
        edit.keep_reading(stock.library, reading)
        edit.withdraw(stock.library, [reading.id], "slip")
        edit.undo(stock.library)
        (kept,) = query_unit.round_results(stock.library.folder, stock.round.id)
        assert not kept.withdrawn

    def test_undo_never_removes_what_readings_hang_on(self, stock: Stock) -> None:
        edit.keep_reading(stock.library, part_reading(round=stock.round.id))
        assert edit.undo(stock.library) == "reading of R110"
        with pytest.raises(BadInput, match="begin a round as found: cannot be taken back, since something"):
            edit.undo(stock.library)
        assert query_unit.rounds(stock.library.folder, stock.visit.id) == (stock.round,)

    def test_a_reading_whose_number_and_outcome_disagree_is_a_bug(self, stock: Stock) -> None:
        with pytest.raises(sqlite3.IntegrityError):
            edit.keep_reading(stock.library, replace(part_reading(), outcome=Outcome.OVERLOAD))
        assert count(stock, "reading") == 0

    def test_a_link_to_nothing_is_a_bug(self, stock: Stock) -> None:
        with pytest.raises(sqlite3.IntegrityError):
            edit.keep_reading(stock.library, part_reading(fitted=new_id()))


class TestLateRemarks:
    """Notes on a closed run are added to its file and marked as late."""

    def test_a_note_is_marked_as_late(self, stock: Stock) -> None:
        writer = begin(stock.library.sessions)
        writer.append(readings=some_readings())
        writer.close("completed", "", 0)
        row = edit.remark_late(stock.library, writer.path, "the fan was on", 5)
        assert query.remarks(writer.path) == (row,)
        assert row.late
        (line,) = query.sessions(stock.library.folder)
        assert line.state is State.CLOSED

    def test_a_live_run_is_its_recorders(self, stock: Stock) -> None:
        writer = begin(stock.library.sessions)
        with pytest.raises(Busy):
            edit.remark_late(stock.library, writer.path, "too early", 5)
        assert query.remarks(writer.path) == ()
        writer.abandon()

    def test_a_run_that_is_not_there(self, stock: Stock) -> None:
        nowhere = stock.library.sessions / "20260101T000000Z-00000000.db"
        with pytest.raises(BadInput):
            edit.remark_late(stock.library, nowhere, "?", 5)
        with pytest.raises(BadInput, match="there is no session file here"):
            edit.put_session_in_index(stock.library, nowhere)
        assert count(stock, "session") == 0

        assert list(stock.library.sessions.iterdir()) == []


def test_removed_rows_come_back_whole(stock: Stock) -> None:
    with stock.library.act("strike the pair") as act:
        (pair,) = act.connection.execute("SELECT id FROM pair").fetchone()
        act.remove("pair", pair)
    assert query_unit.units(stock.library.folder)[0].pairs == {}
    assert edit.undo(stock.library) == "strike the pair"
    assert query_unit.units(stock.library.folder)[0] == stock.unit
