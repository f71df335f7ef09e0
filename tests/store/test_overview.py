"""The door of a library: its units in the order they are likely wanted, and changing what a unit is."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.library import Stock, part_reading, stocked

from benchlog.domain.kind import Kind
from benchlog.domain.unit import PartEntry, RoundKind, UnitFile
from benchlog.errors import BadInput
from benchlog.store import edit, overview, query_unit


@pytest.fixture
def stock(tmp_path: Path) -> Iterator[Stock]:
    made = stocked(tmp_path)
    yield made
    made.library.close()


def resistor(designator: str) -> PartEntry:
    return PartEntry(designator=designator, kind=Kind.RESISTOR, should_read="4k7 5%")


class TestUnitLines:
    def test_the_unit_that_came_in_last_stands_first_and_the_never_taken_in_last(self, stock: Stock) -> None:
        library = stock.library
        edit.create_unit(library, UnitFile(name="a radio"))
        late = edit.create_unit(library, UnitFile(name="kitchen radio"))
        visit = edit.open_visit(library, late.id)
        lines = overview.unit_lines(library.folder)
        assert [line.unit.name for line in lines] == ["kitchen radio", stock.unit.name, "a radio"]
        assert [line.visit and line.visit.number for line in lines] == [visit.number, 1, None]

    def test_it_says_how_far_the_newest_round_is(self, stock: Stock) -> None:
        (line,) = overview.unit_lines(stock.library.folder)
        assert (line.round, line.taken, line.parts) == (stock.round, 0, 5)
        for _ in range(2):
            reading = part_reading(fitted=stock.fitted("R110"), round=stock.round.id)
            edit.keep_reading(stock.library, reading)
        assert overview.unit_lines(stock.library.folder)[0].taken == 1
        edit.undo(stock.library)
        edit.undo(stock.library)
        assert overview.unit_lines(stock.library.folder)[0].taken == 0
        later = edit.start_round(stock.library, stock.visit.id, RoundKind.WORKING)
        assert overview.unit_lines(stock.library.folder)[0].round == later

    def test_boards_come_in_their_order_with_their_parts(self, stock: Stock) -> None:
        edit.add_board(stock.library, stock.unit.id, "protection")
        lines = overview.board_lines(stock.library.folder, stock.unit.id)
        assert [(line.board.name, line.parts) for line in lines] == [
            ("Amplifier board, left", 3),
            ("Amplifier board, right", 2),
            ("protection", 0),
        ]


class TestUndoable:
    def test_it_names_what_undo_would_take_back(self, stock: Stock) -> None:
        folder = stock.library.folder
        while said := overview.undoable(folder):
            assert edit.undo(stock.library) == said
        assert edit.undo(stock.library) == ""


class TestChangeUnit:
    def test_every_datum_is_written_and_undo_brings_the_old_ones_back(self, stock: Stock) -> None:
        changed = replace(
            stock.unit,
            name="Hall amplifier",
            maker="",
            serial="9",
            mains=115.0,
            mirror=("C1## <-> C2##",),
            pairs={"D5": "D8", "D1": "D2"},
        )
        edit.change_unit(stock.library, changed)
        assert query_unit.units(stock.library.folder) == (changed,)
        edit.undo(stock.library)
        assert query_unit.units(stock.library.folder) == (stock.unit,)

    def test_a_pair_that_stays_is_not_written_anew(self, stock: Stock) -> None:
        edit.change_unit(stock.library, replace(stock.unit, note="on the shelf"))
        tables = stock.library.connection.execute(
            'SELECT DISTINCT "table" FROM change WHERE label LIKE ?', ("change the data%",)
        ).fetchall()
        assert tables == [("unit",)]

    @pytest.mark.parametrize(
        ("change", "told"), [({"name": " "}, "name: is empty"), ({"mirror": ("R1##",)}, "has no <->")]
    )
    def test_nonsense_is_refused(self, stock: Stock, change: dict[str, object], told: str) -> None:
        with pytest.raises(BadInput, match=told):
            edit.change_unit(stock.library, replace(stock.unit, **change))  # type: ignore[arg-type]
        assert query_unit.units(stock.library.folder) == (stock.unit,)


class TestBoardsAndParts:
    @pytest.mark.parametrize("name", ["", "  ", "amplifier board,  LEFT"])
    def test_a_board_needs_a_name_of_its_own(self, stock: Stock, name: str) -> None:
        with pytest.raises(BadInput):
            edit.add_board(stock.library, stock.unit.id, name)

    def test_several_parts_are_one_act(self, stock: Stock) -> None:
        board = edit.add_board(stock.library, stock.unit.id, "protection")
        edit.add_parts(stock.library, board.id, [resistor("R1"), resistor("R2")])
        assert overview.board_lines(stock.library.folder, stock.unit.id)[-1].parts == 2
        assert edit.undo(stock.library) == "2 new parts"
        assert overview.board_lines(stock.library.folder, stock.unit.id)[-1].parts == 0

    def test_one_part_is_named(self, stock: Stock) -> None:
        board = edit.add_board(stock.library, stock.unit.id, "protection")
        edit.add_parts(stock.library, board.id, [resistor("R1")])
        assert overview.undoable(stock.library.folder) == "new part R1"

    def test_where_one_cannot_be_added_none_is_and_every_fault_is_told(self, stock: Stock) -> None:
        board = edit.add_board(stock.library, stock.unit.id, "protection")
        edit.add_parts(stock.library, board.id, [resistor("R1")])
        with pytest.raises(BadInput) as caught:
            edit.add_parts(stock.library, board.id, [resistor(name) for name in ("R2", "r1", "R3", "R3")])
        assert [fault.place for fault in caught.value.faults] == ["r1", "R3"]
        assert overview.board_lines(stock.library.folder, stock.unit.id)[-1].parts == 1
        assert overview.undoable(stock.library.folder) == "new part R1"
