"""Lines of text: what stands at the right end is never written over the words."""

import pytest
from pytestqt.qtbot import QtBot

from benchlog.window.lines import Line, Lines
from benchlog.window.look import Look

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
