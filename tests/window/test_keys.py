"""A key is bound to an action: it acts wherever that is shown, and stays what it was everywhere else."""

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent

from benchlog.window.keys import AFTER, ALL, EVERYWHERE, PARTS, PAST, POWER_UP, Action, Keys


def press(which: Qt.Key, text: str = "") -> QKeyEvent:
    return QKeyEvent(QEvent.Type.KeyPress, which, Qt.KeyboardModifier.NoModifier, text)


FOOT = press(Qt.Key.Key_F13)


def test_a_foot_switch_bound_to_an_action_does_it_on_every_page_that_shows_it() -> None:
    keys = Keys({"F13": "go"})
    assert [keys.action(FOOT, place) for place in (PARTS, POWER_UP, PAST)] == [Action.GO] * 3
    assert keys.action(FOOT, AFTER) is None
    assert keys.action(FOOT, EVERYWHERE) is None


def test_on_a_page_that_does_not_show_its_action_a_key_stays_what_it_was() -> None:
    keys = Keys({"5": "hold"})
    five = press(Qt.Key.Key_5, "5")
    assert keys.action(five, POWER_UP) is Action.HOLD
    assert keys.action(five, PAST) is Action.LAST_SECONDS
    assert keys.action(five, PARTS) is None
    last = {about.where: keys.all_names(about) for about in ALL if about.action is Action.LAST_SECONDS}
    assert last == {AFTER: ["5"], PAST: ["5"]}


def test_a_key_of_a_page_goes_before_the_usual_one_of_everywhere() -> None:
    keys = Keys({"F5": "hold"})
    there = press(Qt.Key.Key_F5)
    assert keys.action(there, EVERYWHERE, POWER_UP) is Action.HOLD
    assert keys.action(there, EVERYWHERE, PARTS) is Action.TO_POWER_UP


def test_a_key_bound_everywhere_does_so_on_every_page() -> None:
    keys = Keys({"*": "mute"})
    star = press(Qt.Key.Key_Asterisk, "*")
    assert keys.action(star, EVERYWHERE, POWER_UP) is Action.MUTE
    assert keys.name(Action.OFF, POWER_UP) == ""


@pytest.mark.parametrize(
    ("own", "name"),
    [({}, "Enter"), ({"F13": "go"}, "F13"), ({"Enter": "hold"}, "Return"), ({"F5": "off"}, "Enter")],
)
def test_the_key_that_is_drawn_is_one_that_acts(own: dict[str, str], name: str) -> None:
    assert Keys(own).name(Action.GO, POWER_UP) == name
