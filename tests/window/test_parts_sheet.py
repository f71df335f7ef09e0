"""Parts from a list: shown row by row, columns told by keys, nothing changed before Enter, one undo."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.parts_rig import FakeRig
from helpers.sheets import FAULTS, SOUND, UGLY_PARTS, faulty, ugly
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from pytestqt.qtbot import QtBot

from benchlog.domain.sheetheads import Column
from benchlog.domain.unit import UnitFile
from benchlog.store import edit, overview
from benchlog.window.keys import Action
from benchlog.window.look import Look
from benchlog.window.shapes import Shape

TABLE = "ref\tvalue\ttol\nR1\t4k7\t5%\nR2\tfish\t5%\nR3\t10k\t5%\n"


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    yield made
    made.close()


def paste(rig: FakeRig, text: str = TABLE) -> None:
    """Press Ctrl+V with a table on the clipboard, and wait until it is understood."""
    QGuiApplication.clipboard().setText(text)
    rig.page.act(Action.PASTE)
    rig.until(lambda: rig.page.views.sheet.found is not None)


def says(rig: FakeRig) -> str:
    return rig.page.views.sheet._says.text()


def names(rig: FakeRig) -> list[str]:
    return list(dict.fromkeys(row.line.part.designator for row in rig.page.hand.book.rows))


def columns(rig: FakeRig) -> list[Column]:
    found = rig.page.views.sheet.found
    assert found is not None
    return [one.column for one in found.layout.headings]


def test_a_pasted_table_is_shown_and_comes_in_at_the_second_enter_where_a_row_stays_out(rig: FakeRig) -> None:
    rig.bring(UnitFile(name="Radio"))
    paste(rig)
    sheet = rig.page.views.sheet
    assert sheet.isVisible()
    assert sheet.take.text() == "Take in 2 parts, leave 1 line out"
    assert [sheet.table.sheet.state(row)[0] for row in range(4)] == [
        None,
        Shape.GOOD,
        Shape.DOUBT,
        Shape.GOOD,
    ]
    rig.press("/")
    assert (
        says(rig) == 'line 3: "fish" is not a marking. Write it as in 4k7, 100n 10%, "0.1u 625V" or 12.5 mV.'
    )
    rig.press("\n")
    assert says(rig) == "1 line will stay out. Enter once more takes in the other 2."
    assert names(rig) == []
    rig.press("\n")
    rig.until(lambda: names(rig) == ["R1", "R3"])
    assert not sheet.isVisible()
    assert rig.said[-1].startswith("2 parts taken in from pasted.")
    assert overview.undoable(rig.shelf.folder) == "2 parts of pasted"
    rig.shelf.edit(edit.undo)
    rig.until(lambda: names(rig) == [])


def test_escape_leaves_everything_as_it_was(rig: FakeRig) -> None:
    rig.bring()
    before = names(rig)
    paste(rig)
    rig.press("!")
    assert not rig.page.views.sheet.isVisible()
    assert names(rig) == before
    assert overview.undoable(rig.shelf.folder).startswith("take the unit in")


def test_what_a_column_holds_is_told_by_its_letter_or_by_space(rig: FakeRig) -> None:
    rig.bring(UnitFile(name="Radio"))
    paste(rig, "what\thow much\nR1\t4k7\nR2\t1k\n")
    assert columns(rig) == [Column.PART, Column.VALUE]
    table = rig.page.views.sheet.table
    rig.qtbot.keyClick(table, Qt.Key.Key_Right)
    rig.press("n")
    rig.until(lambda: columns(rig) == [Column.PART, Column.NOTE])
    rig.press(" ")
    rig.until(lambda: columns(rig) == [Column.PART, Column.LEFT_OUT])
    rig.press("p")
    rig.until(lambda: columns(rig) == [Column.LEFT_OUT, Column.PART])
    rig.press("x")
    rig.until(lambda: columns(rig) == [Column.LEFT_OUT, Column.LEFT_OUT])
    assert says(rig) == "No column names the parts: go to it and press P."
    assert not rig.page.views.sheet.take.isEnabled()


def test_a_tolerance_for_all_and_a_board_are_typed(rig: FakeRig) -> None:
    rig.bring(UnitFile(name="Radio"))
    paste(rig, "ref\tvalue\nR1\t4k7\nR2\t1k\n")
    sheet = rig.page.views.sheet
    assert sheet.take.text() == "Take in 0 parts, leave 2 lines out"
    rig.qtbot.keyClicks(sheet.tolerance, "5%")
    sheet.board.clear()
    rig.qtbot.keyClicks(sheet.board, "Tuner")
    rig.until(lambda: sheet.take.text() == "Take in 2 parts")
    rig.until(lambda: sheet.found is not None and sheet.found.boards == ("Tuner",))
    rig.qtbot.mouseClick(sheet.take, Qt.MouseButton.LeftButton)
    rig.until(lambda: names(rig) == ["R1", "R2"])
    assert rig.page.hand.book.rows[0].line.board.name == "Tuner"


def test_a_workbook_is_chosen_by_its_path_and_every_faulty_row_is_told(rig: FakeRig, tmp_path: Path) -> None:
    rig.bring(UnitFile(name="Radio"))
    path = faulty(tmp_path / "faulty.xlsx")
    rig.page.act(Action.TAKE_IN)
    sheet = rig.page.views.sheet
    sheet.choose.path.clear()
    rig.qtbot.keyClicks(sheet.choose.path, path.as_posix())
    rig.qtbot.keyClick(sheet.choose.path, Qt.Key.Key_Return)
    rig.until(lambda: sheet.found is not None)
    for number, problem in FAULTS.items():
        rig.press("/")
        assert says(rig).startswith(f"row {number}: ")
        assert problem in says(rig)
    assert sheet.take.text() == f"Take in {SOUND} parts, leave {len(FAULTS)} rows out"
    rig.press("\n\n")
    rig.until(lambda: len(names(rig)) == SOUND)


def test_an_ugly_list_comes_in_at_one_enter(rig: FakeRig, tmp_path: Path) -> None:
    rig.bring(UnitFile(name="Radio"))
    rig.page.act(Action.TAKE_IN)
    rig.page.views.sheet.open_file(ugly(tmp_path / "ugly.xlsx"))
    rig.until(lambda: rig.page.views.sheet.found is not None)
    rig.press("\n")
    rig.until(lambda: len(names(rig)) == UGLY_PARTS)


def test_what_cannot_be_read_is_said_where_it_was_asked_for(rig: FakeRig, tmp_path: Path) -> None:
    rig.bring()
    paste_text = "R1\t1\x00\n"
    QGuiApplication.clipboard().setText(paste_text)
    rig.page.views.paste(paste_text)
    rig.until(lambda: "is not text" in rig.page.hand.sentence)
    assert not rig.page.views.sheet.isVisible()
    rig.page.act(Action.TAKE_IN)
    rig.page.views.sheet.open_file(tmp_path / "none.csv")
    rig.until(lambda: "cannot be read" in rig.page.views.sheet.choose.says.text())
    assert rig.page.views.sheet.isVisible()


def test_a_line_that_was_copied_goes_into_the_field_and_a_table_out_of_it(rig: FakeRig) -> None:
    rig.bring()
    QGuiApplication.clipboard().setText("R301-R303 4k7 5%\n")
    rig.page.act(Action.PASTE)
    assert rig.page.field.line.text() == "R301-R303 4k7 5%"
    assert rig.page.field.meaning == "adds R301, resistor, should read 4.7 kΩ ±5 %, and 2 more up to R303"
    QGuiApplication.clipboard().setText(TABLE)
    rig.qtbot.keyClick(rig.page.field.line, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    rig.until(lambda: rig.page.views.sheet.found is not None)
    assert rig.page.field.line.text() == ""


def test_a_run_of_parts_is_added_by_one_line_as_one_act(rig: FakeRig) -> None:
    rig.bring()
    rig.line("R301-R348 4k7 5%")
    rig.until(lambda: rig.here == "R301")
    assert len(names(rig)) == 58
    assert overview.undoable(rig.shelf.folder) == "48 new parts from R301"
    rig.line("R340-R350 4k7 5%")
    rig.until(lambda: "R340: stands on this board already" in rig.page.hand.sentence)


def test_without_a_unit_no_list_is_taken_in(rig: FakeRig) -> None:
    rig.page.act(Action.TAKE_IN)
    assert "No unit is at hand" in rig.page.hand.sentence
    assert not rig.page.views.sheet.isVisible()
