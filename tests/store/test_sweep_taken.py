"""Part readings taken inside a run reach the library: once, on the right part, or with a sentence why not."""

from dataclasses import replace
from pathlib import Path

import pytest
from helpers.kept import change, head
from helpers.library import Stock, stocked, taken_body

from benchlog.store import edit, query, query_unit
from benchlog.store.append import SessionWriter
from benchlog.store.ids import new_id
from benchlog.store.records import (
    Ending,
    State,
    TakenRow,
)
from benchlog.store.taken import reading_of


class TestTakenReadings:
    """Part readings taken inside a run reach the library, once, on the right part."""

    @pytest.fixture
    def stock(self, tmp_path: Path) -> Stock:
        return stocked(tmp_path)

    def run(self, stock: Stock, *bodies: dict[str, object], visit: str | None = None) -> list[str]:
        """A lost run with these readings taken in it, swept; the ids."""
        given = head(visit=stock.visit.id if visit is None else visit)
        writer = SessionWriter.create(stock.library.sessions, given)
        ids = [new_id() for _ in bodies]
        writer.append(taken=[TakenRow(id_, 5, body) for id_, body in zip(ids, bodies, strict=True)])
        writer.abandon()
        stock.library.swept = stock.library.sweep()
        return ids

    def test_what_the_library_lacks_is_copied_and_known_the_next_time(self, stock: Stock) -> None:
        (first,) = self.run(stock, taken_body())
        assert stock.library.swept.copied == 1
        (kept,) = query_unit.round_results(stock.library.folder, stock.round.id)
        assert kept.reading.id == first
        assert (kept.reading.fitted, kept.reading.visit) == (stock.fitted("R110"), stock.visit.id)
        assert (kept.reading.value, kept.reading.session) == (
            4680.0,
            query.sessions(stock.library.folder)[0].id,
        )
        assert kept.judgement is None
        stock.library.connection.execute("DELETE FROM session")  # the index alone
        assert stock.library.sweep().copied == 0
        stock.library.close()

    def test_what_was_kept_already_is_left_as_it_is(self, stock: Stock) -> None:
        writer = SessionWriter.create(stock.library.sessions, head(visit=stock.visit.id))
        id_ = new_id()
        body = taken_body() | {"reading": id_}
        writer.append(taken=[TakenRow(id_, 5, body)])
        reading = replace(reading_of(body), fitted=stock.fitted("R110"), round=stock.round.id)
        assert edit.keep_reading(stock.library, reading)
        writer.close("completed", "", 0)
        assert edit.put_session_in_index(stock.library, writer.path).state is State.CLOSED
        (kept,) = query_unit.round_results(stock.library.folder, stock.round.id)
        assert kept.reading == reading
        stock.library.close()

    def test_a_designator_finds_its_part_whatever_its_case(self, stock: Stock) -> None:
        self.run(stock, taken_body(" r110 "))
        (kept,) = query_unit.round_results(stock.library.folder, stock.round.id)
        assert kept.reading.fitted == stock.fitted("R110")
        stock.library.close()

    def test_an_unknown_designator_is_kept_beside_the_parts(self, stock: Stock) -> None:
        self.run(stock, taken_body("R999"))
        (kept,) = query_unit.unplaced(stock.library.folder, stock.visit.id)
        assert (kept.reading.designator, kept.reading.fitted) == ("R999", "")
        assert kept.reading.round == stock.round.id
        stock.library.close()

    def test_two_parts_of_one_name_are_not_guessed_between(self, stock: Stock) -> None:
        board = query_unit.boards(stock.library.folder, stock.unit.id)[1]
        with stock.library.act("again") as act:
            act.insert("part", part_row(board.id, "R110"))
            act.insert("fitted", {"id": "f", "part": "p", "marking": "", "reason": "", "since": "2026-11-25"})
        self.run(stock, taken_body())
        assert len(query_unit.unplaced(stock.library.folder, stock.visit.id)) == 1
        stock.library.close()

    def test_what_was_said_goes_before_what_is_found(self, stock: Stock) -> None:
        later = edit.start_round(stock.library, stock.visit.id, stock.round.kind)
        c4 = stock.fitted("C4")
        self.run(stock, taken_body(part=c4, round=stock.round.id, conditions={"leads": "reversed"}))
        assert query_unit.round_results(stock.library.folder, later.id) == ()
        (kept,) = query_unit.round_results(stock.library.folder, stock.round.id)
        assert (kept.reading.fitted, kept.reading.conditions.leads) == (c4, "reversed")
        stock.library.close()

    def test_a_round_that_was_over_by_then_does_not_get_it(self, stock: Stock) -> None:
        edit.end_round(stock.library, stock.round.id)
        self.run(stock, taken_body())
        assert query_unit.round_results(stock.library.folder, stock.round.id) == ()
        part = query_unit.parts(stock.library.folder, stock.unit.id)
        (r110,) = [line.part.id for line in part if line.part.designator == "R110"]
        assert len(query_unit.readings_of(stock.library.folder, r110)) == 1
        stock.library.close()

    def test_links_into_another_library_are_dropped(self, stock: Stock) -> None:
        self.run(stock, taken_body(part=new_id(), round=new_id(), visit=new_id()), visit=new_id())
        (count,) = stock.library.connection.execute(
            "SELECT count(*) FROM reading WHERE fitted IS NULL AND round IS NULL AND visit IS NULL"
        ).fetchone()
        assert count == 1
        stock.library.close()

    @pytest.mark.parametrize(
        "wrong",
        [
            {"value": None},
            {"value": "4k7"},
            {"value": True},
            {"outcome": "overload"},
            {"outcome": "good"},
            {"function": "volume"},
            {"raw": 5},
            {"flags": "HOLD"},
            {"conditions": {"weather": "fine"}},
            {"conditions": "fine"},
        ],
        ids=str,
    )
    def test_one_that_makes_no_sense_is_named_and_nothing_of_its_run_is_copied(
        self, stock: Stock, wrong: dict[str, object]
    ) -> None:
        good, bad = self.run(stock, taken_body(), taken_body() | wrong)
        assert stock.library.swept.copied == 0
        (problem,) = stock.library.swept.problems
        assert "holds a part reading that cannot be understood" in str(problem)
        assert not query_unit.has_reading(stock.library.folder, good)
        assert not query_unit.has_reading(stock.library.folder, bad)
        (line,) = query.sessions(stock.library.folder)
        assert line.outcome == Ending.LOST
        stock.library.close()

    def test_one_that_lacks_a_field_is_named(self, stock: Stock) -> None:
        body = taken_body()
        del body["utc"]
        self.run(stock, body)
        assert "KeyError('utc')" in str(stock.library.swept.problems[0])
        stock.library.close()

    def test_one_that_is_no_json_is_named(self, stock: Stock) -> None:
        writer = SessionWriter.create(stock.library.sessions, head())
        writer.append(taken=[TakenRow(new_id(), 1, taken_body())])
        writer.close("completed", "", 0)
        change(writer.path, "UPDATE taken SET body = '{'")
        assert len(stock.library.sweep().problems) == 1
        stock.library.close()


def part_row(board: str, designator: str) -> dict[str, str | int | float | None]:
    return {
        "id": "p",
        "board": board,
        "designator": designator,
        "kind": "resistor",
        "in_circuit": 1,
        "note": "",
        "place": 99,
    }
