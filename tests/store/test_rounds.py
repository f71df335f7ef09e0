"""Rounds over some parts: begun, kept with their order, gone on with; and what the boards held before."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.library import Stock, part_reading, stocked

from benchlog.domain.charge import Charge
from benchlog.domain.unit import RoundKind
from benchlog.store import edit, query_unit, rounds


@pytest.fixture
def stock(tmp_path: Path) -> Iterator[Stock]:
    made = stocked(tmp_path)
    yield made
    made.library.close()


def under_way(stock: Stock) -> list[str]:
    return [one.title for one in query_unit.rounds(stock.library.folder, stock.visit.id) if one.ended is None]


def test_a_round_keeps_its_parts_in_their_order_and_begins_as_one_act(stock: Stock) -> None:
    folder = stock.library.folder
    lines = query_unit.parts(folder, stock.unit.id)
    wanted = [line.part.id for line in reversed(lines[:3])]
    made = rounds.begin(stock.library, stock.visit.id, RoundKind.WORKING, stock.round, "big ones", wanted)
    assert rounds.planned(folder, made.id) == tuple(wanted)
    assert rounds.planned(folder, stock.round.id) == ()
    assert under_way(stock) == ["big ones"]
    edit.keep_reading(stock.library, part_reading(fitted=lines[0].fitted.id, round=made.id))
    told = [(one.round.title, one.parts, one.read) for one in rounds.lines(folder, stock.visit.id)]
    assert told == [("big ones", 3, 1), ("cold, on the table", None, 0)]


def test_a_round_that_was_begun_by_mistake_is_taken_back_whole(stock: Stock) -> None:
    (first, *_) = query_unit.parts(stock.library.folder, stock.unit.id)
    made = rounds.begin(
        stock.library, stock.visit.id, RoundKind.WORKING, stock.round, "big ones", [first.part.id]
    )
    assert edit.undo(stock.library) == "begin a round working: big ones"
    assert rounds.planned(stock.library.folder, made.id) == ()
    assert under_way(stock) == ["cold, on the table"]


def test_a_round_that_has_ended_is_gone_on_with_and_the_other_ends(stock: Stock) -> None:
    later = rounds.begin(stock.library, stock.visit.id, RoundKind.WORKING, stock.round, "later", ())
    assert under_way(stock) == ["later"]
    rounds.go_on(stock.library, stock.round, later)
    assert under_way(stock) == ["cold, on the table"]
    edit.undo(stock.library)
    assert under_way(stock) == ["later"]


def test_parts_are_told_as_they_were_listed(stock: Stock) -> None:
    folder = stock.library.folder
    by_id = {line.part.id: line.part.designator for line in query_unit.parts(folder, stock.unit.id)}
    assert [by_id[part] for part in rounds.listed(folder, stock.unit.id)][:3] == ["R110", "R9", "C4"]


def test_what_the_boards_held_is_kept_in_volts_and_void_when_it_is_said_anew(stock: Stock) -> None:
    folder = stock.library.folder
    rounds.keep_charge(stock.library, stock.visit.id, stock.round.id, Charge(0.2, 0.002))
    state = query_unit.boards_state(folder, stock.visit)
    assert state.holds is True
    assert rounds.charge(folder, stock.visit.id, state.at) == Charge(0.2, 0.002)
    edit.void_boards(stock.library)
    again = query_unit.boards_state(folder, stock.visit)
    assert again.holds is None
    assert rounds.charge(folder, stock.visit.id, f"{again.at} later") == Charge()
    rounds.keep_charge(stock.library, stock.visit.id, "", Charge(44.0, None))
    assert query_unit.boards_state(folder, stock.visit).holds is False
