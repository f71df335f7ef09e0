"""A board copied for the other side: one press, one act, one undo; nothing where a rule is lacking."""

from collections.abc import Callable

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.domain.partline import read_line
from benchlog.domain.unit import BoardEntry, Unit, UnitFile, Visit
from benchlog.store import edit, query_unit
from benchlog.store.library import Library
from benchlog.window.unit_page import UnitPage
from benchlog.window.unit_parts import other_side
from benchlog.window.work import Work

# The offscreen platform says of every window with a least size that it cannot hand it on.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")

LINES = ("R101 47k 5%", "R102 4k7 5%", "C104 film 100n 10%")


def open_page(qtbot: QtBot, work: Work, mirror: tuple[str, ...]) -> UnitPage:
    board = BoardEntry(name="Amplifier board, left", part=tuple(read_line(text).entry for text in LINES))
    file = UnitFile(name="Hall amplifier", mirror=mirror, board=(board,))

    def make(library: Library) -> tuple[Unit, Visit]:
        unit = edit.create_unit(library, file)
        return unit, edit.open_visit(library, unit.id)

    page = UnitPage(work)
    qtbot.addWidget(page)
    page.resize(1240, 900)
    page.show()
    page.came()
    work.shelf.edit(make, lambda made: work.shelf.choose(*made))
    qtbot.waitUntil(lambda: page.at_hand.parts.boards.key != "", timeout=30_000)
    page._home()
    return page


def names(work: Work, board: str) -> list[str]:
    unit = query_unit.find_unit(work.shelf.folder, "Hall amplifier")
    return [
        one.part.designator for one in query_unit.parts(work.shelf.folder, unit.id) if one.board.name == board
    ]


def until(qtbot: QtBot, condition: Callable[[], object]) -> None:
    qtbot.waitUntil(lambda: bool(condition()), timeout=30_000)


def test_a_board_is_copied_for_the_other_side_by_one_press_and_taken_back_by_one(
    work: Work, qtbot: QtBot
) -> None:
    page = open_page(qtbot, work, ("R1## <-> R2##", "C1## <-> C2##"))
    parts = page.at_hand.parts
    assert parts.copy.text() == "Copy its other side to Amplifier board, right"
    qtbot.keyClick(parts.copy, Qt.Key.Key_Space)
    until(qtbot, lambda: names(work, "Amplifier board, right") == ["C204", "R201", "R202"])
    until(qtbot, lambda: page.undo.text() == "Take back: copy of a board: Amplifier board, right")
    qtbot.keyClick(page.undo, Qt.Key.Key_Space)
    until(qtbot, lambda: names(work, "Amplifier board, right") == [])


def test_where_a_part_has_no_other_side_it_is_named_and_nothing_is_copied(work: Work, qtbot: QtBot) -> None:
    page = open_page(qtbot, work, ("R1## <-> R2##",))
    parts = page.at_hand.parts
    qtbot.keyClicks(parts.board, "Right")
    assert parts.copy.text() == "Copy its other side to Right"
    qtbot.keyClick(parts.copy, Qt.Key.Key_Space)
    until(qtbot, lambda: parts.faults.faults)
    assert [fault.place for fault in parts.faults.faults] == ["C104"]
    assert names(work, "Right") == []


@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("Left", "Right"),
        ("Amplifier board, right", "Amplifier board, left"),
        ("Amp L", "Amp R"),
        ("Tuner", "Tuner, other side"),
    ],
)
def test_the_name_of_the_other_board_is_offered(name: str, other: str) -> None:
    assert other_side(name) == other
