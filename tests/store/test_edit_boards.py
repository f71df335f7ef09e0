"""Many parts in one act: a list taken in, a board copied for the other side; all of it or nothing, and one undo."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.library import Stock, stocked

from benchlog.domain.kind import Kind
from benchlog.domain.unit import PartEntry
from benchlog.errors import BadInput
from benchlog.store import edit, edit_boards, query_unit
from benchlog.store.edit_boards import Placed

LEFT = "Amplifier board, left"


@pytest.fixture
def stock(tmp_path: Path) -> Iterator[Stock]:
    made = stocked(tmp_path)
    yield made
    made.library.close()


def placed(board: str, *names: str) -> list[Placed]:
    entries = [PartEntry(designator=name, kind=Kind.RESISTOR, should_read="1k 5%") for name in names]
    return [Placed(board, entry) for entry in entries]


def names(stock: Stock, board: str) -> list[str]:
    lines = query_unit.parts(stock.library.folder, stock.unit.id)
    return [line.part.designator for line in lines if line.board.name == board]


def board_id(stock: Stock, name: str) -> str:
    return next(one.id for one in query_unit.boards(stock.library.folder, stock.unit.id) if one.name == name)


def test_a_list_goes_on_its_boards_in_one_act_and_new_boards_are_made(stock: Stock) -> None:
    before = names(stock, LEFT)
    parts = [*placed(LEFT.upper(), "R301", "R302"), *placed("protection", "R1")]
    assert edit_boards.take_in(stock.library, stock.unit.id, parts, "3 parts of list.csv") == 3
    assert names(stock, LEFT) == sorted([*before, "R301", "R302"], key=len)
    assert names(stock, "protection") == ["R1"]
    assert edit.undo(stock.library) == "3 parts of list.csv"
    assert names(stock, LEFT) == before
    assert [one.name for one in query_unit.boards(stock.library.folder, stock.unit.id)] == [
        LEFT, "Amplifier board, right"
    ]  # fmt: skip


def test_where_one_part_is_there_already_none_comes_in_and_each_is_named(stock: Stock) -> None:
    before = names(stock, LEFT)
    parts = [*placed(LEFT, "R301", "r110"), *placed("protection", "R1", "R1")]
    with pytest.raises(BadInput) as caught:
        edit_boards.take_in(stock.library, stock.unit.id, parts, "4 parts")
    assert [fault.place for fault in caught.value.faults] == [f"{LEFT}: r110", "protection: R1"]
    assert names(stock, LEFT) == before
    assert names(stock, "protection") == []


def test_a_board_is_copied_for_the_other_side_with_all_it_should_read_in_one_act(stock: Stock) -> None:
    unit = replace(stock.unit, mirror=("R1## <-> R2##", "R# <-> R5#", "C# <-> C5#"))
    found = edit_boards.copy_board(stock.library, unit, board_id(stock, LEFT), "Amplifier board, right")
    assert (found.board, found.made, found.there) == ("Amplifier board, right", 2, ("R210",))
    lines = {line.part.designator: line for line in query_unit.parts(stock.library.folder, stock.unit.id)}
    old, new = lines["R9"], lines["R59"]
    assert new.board.name == "Amplifier board, right"
    assert [(one.text, one.origin) for one in new.expected] == [
        (one.text, one.origin) for one in old.expected
    ]
    assert (new.part.kind, new.part.in_circuit, new.part.note) == (
        old.part.kind,
        old.part.in_circuit,
        old.part.note,
    )
    assert lines["C54"].fitted.marking == lines["C4"].fitted.marking
    assert new.fitted.id != old.fitted.id
    edit.undo(stock.library)
    assert "R59" not in names(stock, "Amplifier board, right")
    assert "R9" in names(stock, LEFT)


def test_a_board_of_which_some_parts_have_no_other_side_is_not_copied_at_all(stock: Stock) -> None:
    with pytest.raises(BadInput) as caught:
        edit_boards.copy_board(stock.library, stock.unit, board_id(stock, LEFT), "third")
    assert [fault.place for fault in caught.value.faults] == ["R9", "C4"]
    assert names(stock, "third") == []
