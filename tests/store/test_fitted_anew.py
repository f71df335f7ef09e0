"""Another item, another measure, a misprint: each one act, one undo; and what a designator has been over the visits."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.library import UNIT, WITHIN, Stock, part_reading, stocked

from benchlog.domain.expectation import Origin
from benchlog.domain.unit import Conditions, RoundKind, UnitFile
from benchlog.errors import BadInput
from benchlog.store import edit, edit_fitted, history, query_unit
from benchlog.store.edit_fitted import Wanted
from benchlog.textfile import parse


@pytest.fixture
def stock(tmp_path: Path) -> Iterator[Stock]:
    made = stocked(tmp_path / "library")
    yield made
    made.library.close()


def line_of(stock: Stock, designator: str) -> query_unit.PartLine:
    """A part as the library lists it."""
    return next(
        one
        for one in query_unit.parts(stock.library.folder, stock.unit.id)
        if one.part.designator == designator
    )


def test_a_new_item_comes_with_what_it_should_read_in_one_act(stock: Stock) -> None:
    part = line_of(stock, "R110").part.id
    edit.keep_reading(stock.library, part_reading(fitted=stock.fitted("R110"), visit=stock.visit.id), WITHIN)
    item = edit_fitted.replace(
        stock.library, part, "4k7 1%", "drifted", [Wanted("4k7 5%", Origin.SHEET)], stock.visit.id
    )
    line = line_of(stock, "R110")
    assert (line.fitted.id, line.fitted.marking, line.fitted.reason) == (item.id, "4k7 1%", "drifted")
    assert [(one.text, one.origin) for one in line.expected] == [("4k7 5%", "sheet")]
    known = history.part_history(stock.library.folder, stock.unit.id, part)
    assert [(one.item.marking, one.visit, one.item.until is None) for one in known.sat] == [
        ("4k7 5%", "", False),
        ("4k7 1%", stock.visit.id, True),
    ]
    assert [one.reading.fitted == item.id for one in known.readings] == [False]
    assert edit.undo(stock.library) == "fit 4k7 1%"
    assert line_of(stock, "R110").fitted.marking == "4k7 5%"


def test_an_item_without_a_marking_is_refused(stock: Stock) -> None:
    with pytest.raises(BadInput, match="marking: is empty"):
        edit_fitted.replace(stock.library, line_of(stock, "R110").part.id, " ", "", [])


def test_another_measure_takes_the_place_of_the_one_before_with_where_it_came_from(stock: Stock) -> None:
    fitted, part = stock.fitted("R110"), line_of(stock, "R110").part.id
    edit_fitted.take(stock.library, fitted, Wanted("2k2 5%", Origin.MIRROR), "R210 reads 2.2 kΩ")
    assert [(one.text, one.origin) for one in line_of(stock, "R110").expected] == [("2k2 5%", "mirror")]
    written = history.part_history(stock.library.folder, stock.unit.id, part).written
    assert [(one.text, one.note, one.until is None) for one in written] == [
        ("4k7 5%", "", False),
        ("2k2 5%", "R210 reads 2.2 kΩ", True),
    ]
    edit.undo(stock.library)
    assert [one.text for one in line_of(stock, "R110").expected] == ["4k7 5%"]


def test_a_misprint_judges_nothing_and_says_who_says_so_until_it_is_taken_back(stock: Stock) -> None:
    (expected,) = line_of(stock, "R110").expected
    edit_fitted.mark_misprint(stock.library, expected.id, "the maker's errata")
    line = line_of(stock, "R110")
    assert line.expected == ()
    (written,) = history.part_history(stock.library.folder, stock.unit.id, line.part.id).written
    assert (written.misprint, written.note) == (True, "the maker's errata")
    edit_fitted.mark_misprint(stock.library, expected.id, "")
    assert [one.id for one in line_of(stock, "R110").expected] == [expected.id]


def test_a_misprint_taken_back_does_not_push_out_what_took_its_place(stock: Stock) -> None:
    (expected,) = line_of(stock, "R110").expected
    edit_fitted.mark_misprint(stock.library, expected.id, "the errata")
    edit_fitted.take(stock.library, stock.fitted("R110"), Wanted("2k2 5%", Origin.MARKING))
    edit_fitted.mark_misprint(stock.library, expected.id, "")
    assert [one.text for one in line_of(stock, "R110").expected] == ["2k2 5%"]
    with pytest.raises(BadInput, match="nothing that was written down"):
        edit_fitted.mark_misprint(stock.library, "no such", "somebody")


def test_the_history_holds_every_visit_and_the_newest_reading_is_the_one_that_counts(stock: Stock) -> None:
    line = line_of(stock, "R110")
    folder = stock.library.folder
    for value, under in (
        (4700.0, Conditions()),
        (4800.0, Conditions(leads="reversed")),
        (4900.0, Conditions()),
    ):
        reading = part_reading(
            value=value, fitted=line.fitted.id, visit=stock.visit.id, round=stock.round.id, conditions=under
        )
        edit.keep_reading(stock.library, reading)
    known = history.part_history(folder, stock.unit.id, line.part.id)
    newest = history.newest(known.readings)
    assert newest is not None
    assert newest.reading.value == 4900.0
    assert known.round_of(newest) == stock.round
    assert known.visit_of(newest) == query_unit.visits(folder, stock.unit.id)[0]
    edit.withdraw(stock.library, [newest.reading.id], "slipped")
    newest = history.newest(history.part_history(folder, stock.unit.id, line.part.id).readings)
    assert newest is not None
    assert newest.reading.value == 4700.0, "taken back, and leads turned round, do not stand for the part"
    assert history.parts_of_items(folder, stock.unit.id)[line.fitted.id] == line.part.id


def test_the_same_designator_in_other_units_of_the_model_alone(stock: Stock) -> None:
    folder = stock.library.folder
    twin = edit.create_unit(
        stock.library, replace(parse(UNIT, "unit.toml", UnitFile), name="Its twin", serial="0418")
    )
    edit.create_unit(
        stock.library, replace(parse(UNIT, "unit.toml", UnitFile), name="Another", model="NV-90")
    )
    visit = edit.open_visit(stock.library, twin.id)
    line = next(one for one in query_unit.parts(folder, twin.id) if one.part.designator == "R110")
    edit.keep_reading(stock.library, part_reading(value=4711.0, fitted=line.fitted.id, visit=visit.id))
    (found,) = history.of_other_units(folder, stock.unit, "r110")
    assert (found.unit.name, found.part) == ("Its twin", line.part.id)
    assert found.kept is not None
    assert found.kept.reading.value == 4711.0
    assert found.visit is not None
    assert found.visit.label == "visit 0002"
    assert history.of_other_units(folder, replace(stock.unit, model=""), "R110") == ()


def test_what_an_earlier_visit_left_open_is_still_open(stock: Stock) -> None:
    folder = stock.library.folder
    edit.open_item(stock.library, stock.visit.id, "link", "link across F1")
    gone = edit.open_item(stock.library, stock.visit.id, "borrowed fuse", "borrowed fuse")
    edit.close_item(stock.library, gone)
    edit.close_visit(stock.library, stock.visit.id)
    edit.open_visit(stock.library, stock.unit.id)
    assert [one.text for one in query_unit.still_open(folder, stock.unit.id)] == ["link across F1"]


def test_whether_the_boards_were_dead_is_known_of_any_time(stock: Stock) -> None:
    folder = stock.library.folder
    before = stock.library.now()
    edit.say_boards(stock.library, stock.visit.id, True)
    between = stock.library.now()
    edit.say_boards(stock.library, stock.visit.id, False)
    at = [query_unit.boards_state(folder, stock.visit, when).holds for when in (before, between, "")]
    assert at == [None, True, False]


def test_a_visits_readings_are_those_of_all_its_rounds(stock: Stock) -> None:
    left = edit.start_round(stock.library, stock.visit.id, RoundKind.AS_LEFT)
    for round_ in (stock.round, left):
        edit.keep_reading(stock.library, part_reading(visit=stock.visit.id, round=round_.id))
    found = query_unit.visit_results(stock.library.folder, stock.visit.id)
    assert [one.reading.round for one in found] == [stock.round.id, left.id]
