"""Lines of text: what stands at the right end is never written over the words."""

import pytest
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QFontMetrics
from pytestqt.qtbot import QtBot

from benchlog.window.lines import Line, Lines
from benchlog.window.look import Look
from benchlog.window.unbroken import unbroken

UNPROVEN = "unproven: not seen to move by 5 mV with the source"


@pytest.mark.parametrize(("right", "below"), [("12.30 mV", False), (UNPROVEN, True)], ids=["beside", "below"])
def test_what_has_no_room_beside_the_words_stands_below_them(
    look: Look, qtbot: QtBot, right: str, below: bool
) -> None:
    lines = Lines(look)
    qtbot.addWidget(lines)
    lines.resize(320, 100)
    lines.show_lines([Line("offset L between -50.0 mV and 50.0 mV", right), Line("the next line")])
    (words, following), (aside, _) = lines._boxes, lines._rights
    assert (aside.top() > words.bottom()) is below
    assert following.top() > aside.bottom()
    lines.grab()


def test_a_number_and_its_unit_are_never_parted(look: Look, qtbot: QtBot) -> None:
    whole = "regulated + between 6.00 V and 9.00 V"
    assert unbroken(whole) == "regulated + between 6.00\N{NO-BREAK SPACE}V and 9.00\N{NO-BREAK SPACE}V"
    lines = Lines(look)
    qtbot.addWidget(lines)
    metrics = QFontMetrics(look.font(15))
    lines.resize(metrics.horizontalAdvance(whole) - 3, 100)
    lines.show_lines([Line(whole)])
    (box,) = lines._boxes
    assert box.height() > metrics.height()
    wrap = int(Qt.TextFlag.TextWordWrap.value)
    placed = metrics.boundingRect(QRect(0, 0, box.width(), 1000), wrap, unbroken(whole))
    assert placed.width() <= metrics.horizontalAdvance("regulated + between 6.00 V and ")
