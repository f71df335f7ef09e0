"""What stands in a file or was typed is shown in a tool tip as it is."""

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QTextDocument

from benchlog.domain.sought import Finder
from benchlog.store.records import SessionLine, State
from benchlog.store.run_facts import RunFacts, findables
from benchlog.window.elided import Elided
from benchlog.window.look import Look
from benchlog.window.past_list import RunModel
from benchlog.window.past_row import Listed, PastRow
from benchlog.window.tooltip import tip

MARKUP = 'trips above <img src="http://elsewhere/x.png"> & <b>40 V</b>'


def as_markup(text: str) -> str:
    """What Qt shows of a text that it takes for markup."""
    document = QTextDocument()
    document.setHtml(text)
    return document.toPlainText()


@pytest.mark.parametrize("text", [MARKUP, "a &lt;b&gt;", "<", "<p>", '"<" & "&lt;"'])
def test_a_text_that_looks_like_markup_is_shown_as_it_is(text: str) -> None:
    assert as_markup(tip(text)) == text


@pytest.mark.parametrize("text", ["", "40.1 V", "R & D, 'as found'"])
def test_any_other_text_is_left_as_it_is(text: str) -> None:
    assert tip(text) == text


def test_a_plan_and_the_reason_of_a_run_bring_no_markup_into_their_tips(look: Look) -> None:
    name = Elided(look, 14)
    name.say(MARKUP)
    assert as_markup(name.toolTip()) == MARKUP
    line = replace(SessionLine(id="a", file=Path("a.db")), state=State.CLOSED, reason=MARKUP)
    row = PastRow(line)
    model = RunModel()
    model.show_rows(Listed((row,), Finder(findables([(line, "")], RunFacts()))))
    assert as_markup(model.data(model.index(0), Qt.ItemDataRole.ToolTipRole)) == MARKUP
