"""The list of the Parts page: lines that make parts or go to them, clicks, and what stands in the way of a reading."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.parts_rig import FakeRig, unit_file
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from benchlog.store import edit
from benchlog.window.look import Look


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    yield made
    made.close()


def test_a_line_makes_part_expectation_and_reading(rig: FakeRig) -> None:
    rig.bring(unit_file(()))
    assert rig.here == ""
    rig.line("R12 4k7 5% = 4.68")
    rig.until(lambda: len(rig.stored()) == 1)
    rig.until(lambda: rig.page.hand.book.done)
    row = rig.page.hand.row
    assert row is not None
    assert (row.designator, row.should_read, row.origin.value, row.result) == (
        "R12",
        "4k7 5%",
        "marking",
        "within",
    )
    assert row.line.board.name == "Board 1"
    rig.line("R13 1k 5%")
    rig.until(lambda: rig.here == "R13")


def test_letters_begin_a_line_and_a_name_alone_goes_there(rig: FakeRig) -> None:
    rig.bring()
    rig.press("R")
    assert rig.page.field.line.text() == "R"
    rig.page.field.line.setText("R206")
    assert rig.page.field.meaning == "goes to R206"
    rig.qtbot.keyClick(rig.page.field.line, Qt.Key.Key_Return)
    assert rig.here == "R206"
    assert rig.page.field.line.text() == ""
    rig.line("R107 = 9.9")
    rig.until(lambda: rig.reads("R107") == "within")
    assert rig.here == "R107"
    rig.line("OL")
    rig.until(lambda: rig.reads("R107") == "open")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("X9 4k7 5%", "does not tell what kind"),
        ("R106 4k7 5%", "R106"),
        ("R106 1k 5% = 3", "is on the list already"),
        ("R99 4k7", "write a tolerance"),
    ],
)
def test_a_line_that_cannot_be_understood_stays_and_says_why(rig: FakeRig, text: str, says: str) -> None:
    rig.bring()
    rig.line(text)
    assert says in rig.page.field.meaning
    assert rig.page.field.line.text() == text
    rig.qtbot.keyClick(rig.page.field.line, Qt.Key.Key_Escape)
    assert rig.page.field.line.text() == ""


def test_a_name_that_is_a_reading_as_well_is_asked(rig: FakeRig) -> None:
    rig.bring(unit_file((("Left", ("R33 R33 5%",)),)))
    rig.line("R33")
    assert "is a part and also a reading" in rig.page.field.meaning
    rig.line("")
    assert rig.page.field.line.text() == "R33" or rig.page.field.line.text() == ""


def test_what_a_line_means_stands_below_it_while_it_is_typed(rig: FakeRig) -> None:
    rig.bring()
    rig.page.field.begin("R9 1k 5% = 1")
    assert rig.page.field.meaning == "adds R9, resistor, should read 1 kΩ ±5 %, read 1 kΩ"
    rig.page.field.begin("R106 = 4.6")
    assert rig.page.field.meaning == "R106 reads 4.6 kΩ"
    rig.page.field.begin("D101 = OL")
    assert rig.page.field.meaning == "D101 reads OL"
    rig.page.field.begin("nonsense of some kind")
    assert rig.page.field.meaning == ""
    rig.press("#")
    assert rig.page.field.line.text() == ""


def test_a_click_in_the_list_or_in_the_strip_takes_a_part_in_hand(rig: FakeRig) -> None:
    rig.bring()
    rig.page.list.scrollToTop()
    index = rig.page.list.lines.index_of(3)
    place = rig.page.list.visualRect(index).center()
    rig.qtbot.mouseClick(rig.page.list.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert rig.here == "R106"
    heading = rig.page.list.visualRect(rig.page.list.lines.index(0)).center()
    rig.qtbot.mouseClick(rig.page.list.viewport(), Qt.MouseButton.LeftButton, pos=heading)
    assert rig.here == "R106"
    shapes = rig.page.strip.shapes
    rig.qtbot.mouseClick(shapes, Qt.MouseButton.LeftButton, pos=shapes.place_of(8))
    assert rig.here == "R206"
    rig.qtbot.mouseClick(shapes, Qt.MouseButton.LeftButton, pos=QPoint(shapes.width() - 1, 1))
    assert rig.here == "R206"


def test_without_a_unit_a_visit_or_a_meter_one_sentence_says_what_to_do(rig: FakeRig) -> None:
    rig.press("\n")
    assert "No unit is at hand" in rig.page.hand.sentence
    rig.bring(visit=False)
    for keys in ("\n", "98n\n", "*"):
        rig.press(keys)
        assert "take it in on the Unit page" in rig.page.hand.sentence
    rig.line("R12 4k7 5%")
    rig.until(lambda: rig.here == "R12")


def test_without_a_bench_typing_works_and_enter_alone_says_so(rig: FakeRig) -> None:
    rig.bring()
    rig.press("\n")
    assert "No walking meter is on the bench" in rig.page.hand.sentence
    rig.press("98n\n")
    rig.until(lambda: len(rig.stored()) == 1)


def test_a_list_changed_elsewhere_is_read_anew_and_the_part_stays_in_hand(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R206")
    board = rig.page.hand.book.boards[0]
    entry = unit_file((("x", ("A1 resistor 1k 5%",)),)).board[0].part[0]
    rig.shelf.edit(lambda library: edit.add_part(library, board.id, entry))
    rig.until(lambda: len(rig.page.hand.book.rows) == 11)
    assert rig.here == "R206"
