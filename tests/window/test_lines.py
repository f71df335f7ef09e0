"""Lines of text: what stands at the right end is never written over the words."""

import pytest
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QFontMetrics
from pytestqt.qtbot import QtBot

from benchlog.window.call import Call
from benchlog.window.lines import Line, Lines
from benchlog.window.look import Look
from benchlog.window.prompt_card import LEAST, LOW, Sentence
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


LONG = (
    "+B 0.00 V, low, should read about 35.16 V. Off-switch: seen off. Keep hands out. "
    "Nobody knows what the reservoirs still hold."
)
LONGER = f"{LONG} Mains relay and wall switch did not act, and one of them is proven anew."


@pytest.mark.parametrize(("detail", "pixels"), [("Off-switch: seen off.", 15), (LONG, 14), (LONGER, 13)])
def test_the_small_line_of_the_card_is_never_cut_in_a_small_window(
    look: Look, qtbot: QtBot, detail: str, pixels: int
) -> None:
    sentence = Sentence(look)
    qtbot.addWidget(sentence)
    width, height = 300, LOW - 12
    sentence.resize(width, height)
    sentence.show_call(Call("The run tripped: 1 of 4 stages.", detail, danger=True))
    font, tall = sentence.small_line(width, height)
    wrap = int(Qt.TextFlag.TextWordWrap.value)
    needs = QFontMetrics(font).boundingRect(QRect(0, 0, width, 2000), wrap, unbroken(detail))
    assert needs.height() <= tall <= height - LEAST
    assert font.pixelSize() <= pixels
    sentence.grab()
