"""The open list by keys: digits put things on it, one key strikes them off, and it nags until it is empty."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.parts_rig import FakeRig
from helpers.window_rig import EXAMPLE, bench
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.domain.unit import Visit
from benchlog.recorder.client import messages
from benchlog.store import edit, query_unit
from benchlog.store.library import Library
from benchlog.window.keys import Action
from benchlog.window.look import Look
from benchlog.window.parts_numeral import Mood
from benchlog.window.plan_check import PlanCheck
from benchlog.window.still_open import StillOpen


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    made.bring()
    made.go("R106")
    yield made
    made.close()


def waiting(rig: FakeRig) -> list[str]:
    """What is open, as the book at hand has it."""
    return [item.text for item in rig.page.hand.book.open_items if item.closed is None]


def put_on(rig: FakeRig, digit: str, text: str = "") -> None:
    """Put one more thing on the list."""
    count = len(waiting(rig))
    rig.press(digit)
    if text:
        field = rig.page.panels.put_back.ask.field
        rig.qtbot.keyClicks(field, text)
        rig.qtbot.keyClick(field, Qt.Key.Key_Return)
    rig.until(lambda: len(waiting(rig)) == count + 1)


def test_one_key_opens_the_list_and_the_same_puts_it_away(rig: FakeRig) -> None:
    rig.chord("Home")
    panel = rig.page.panels.put_back
    assert panel.isVisible()
    assert not rig.page.current.isVisible()
    assert panel.says.text() == "Nothing to put back."
    rig.chord("Home")
    assert not panel.isVisible()
    assert rig.page.current.isVisible()
    rig.chord("Ctrl+O")
    rig.press("!")
    assert rig.page.panels.open is None


def test_digits_put_things_on_it_and_enter_strikes_them_off(rig: FakeRig) -> None:
    rig.chord("Home")
    put_on(rig, "1")
    put_on(rig, "2", "across F1")
    put_on(rig, "3", "22 ohm in the + rail")
    put_on(rig, "4", "2 A slow for F2")
    assert waiting(rig) == [
        "R106: one leg lifted",
        "link across F1",
        "safety resistor 22 ohm in the + rail",
        "borrowed fuse 2 A slow for F2",
    ]
    assert rig.stands[-1][2] == "0 of 10, 4 to put back"
    assert rig.page.beside._items.text().splitlines()[0] == "R106: one leg lifted"
    rig.press("v\n")
    rig.until(lambda: len(waiting(rig)) == 3)
    assert "link across F1" not in waiting(rig)
    assert rig.page.panels.put_back.says.text() == "Put back: link across F1."
    rows = rig.page.panels.put_back.list.rows
    assert (rows[-1].head, rows[-1].right) == ("link across F1", "put back")
    rig.press("-")
    rig.until(lambda: "link across F1" in waiting(rig))


def test_a_lifted_leg_of_the_list_is_the_one_of_its_key_and_the_other_way_round(rig: FakeRig) -> None:
    rig.press("*")
    rig.until(lambda: waiting(rig) == ["R106: one leg lifted"])
    rig.chord("Home")
    rig.press("1")
    assert rig.page.panels.put_back.says.text() == "R106 stands there already."
    assert rig.ear.heard[-1] == ("refused",)
    rig.press("*")
    rig.until(lambda: not waiting(rig))
    row = rig.page.hand.row
    assert row is not None
    assert not rig.page.hand.book.is_lifted(row)


def test_a_part_that_was_taken_out_is_not_read_in_circuit_until_it_is_back(rig: FakeRig) -> None:
    rig.chord("Home")
    put_on(rig, "5")
    assert waiting(rig) == ["R106: taken out"]
    rig.chord("Home")
    assert rig.page.current.caps.caps[Action.LIFTED].does == "soldered"
    rig.press("4.7\n")
    rig.until(rig.stored)
    assert rig.stored()[0].reading.conditions.circuit == "lifted"
    rig.press("*")
    rig.until(lambda: not waiting(rig))


def test_nothing_is_read_into_a_part_that_nobody_sees(rig: FakeRig) -> None:
    rig.chord("Home")
    rig.press("7.")
    assert not rig.page.entry.active
    rig.page.tread("take")
    rig.press("/+")
    assert rig.page.hand.waiting is None
    assert rig.here == "R106"
    rig.press("!")
    rig.press("4")
    assert rig.page.entry.text == "4"
    rig.chord("Home")
    rig.chord("Home")
    assert not rig.page.entry.active
    assert rig.page.current.numeral.face.mood is not Mood.TYPED, "what is gone does not seem to wait"


def test_a_link_wants_words_and_escape_asks_no_more(rig: FakeRig) -> None:
    rig.chord("Home")
    rig.press("2")
    ask = rig.page.panels.put_back.ask
    assert ask.isVisible()
    assert ask.field.accessibleName() == "link"
    rig.qtbot.keyClick(ask.field, Qt.Key.Key_Escape)
    assert not ask.isVisible()
    assert waiting(rig) == []


def test_what_an_earlier_visit_left_open_stands_there_too(rig: FakeRig) -> None:
    unit, visit = rig.work.shelf.unit, rig.work.shelf.visit
    assert unit is not None
    assert visit is not None

    def again(library: Library) -> Visit:
        edit.open_item(library, visit.id, "link", "link across F1")
        edit.close_visit(library, visit.id)
        return edit.open_visit(library, unit.id)

    rig.work.shelf.edit(again, lambda now: rig.work.shelf.choose(unit, now))
    rig.until(lambda: waiting(rig) == ["link across F1"])
    rig.chord("Home")
    (row,) = rig.page.panels.put_back.list.rows
    assert "left open in an earlier visit" in row.below
    rig.press("\n")
    rig.until(lambda: not waiting(rig))


def test_undo_there_takes_nothing_back_that_was_done_elsewhere(rig: FakeRig) -> None:
    rig.press("4.7\n")
    rig.until(rig.stored)
    rig.chord("Home")
    rig.press("-")
    rig.until(lambda: "was not done here" in rig.page.panels.put_back.says.text())
    assert not rig.stored()[0].withdrawn


def test_the_plan_check_names_what_is_still_open(rig: FakeRig, qtbot: QtBot) -> None:
    rig.press("*")
    rig.until(lambda: waiting(rig))
    still_open = StillOpen(rig.work)
    rig.until(still_open.sentences)
    check = PlanCheck(rig.work.look, still_open)
    qtbot.addWidget(check)
    rig.work.runner.know_bench(bench())
    rig.work.runner.load_plan((EXAMPLE / "plan.toml").read_text("utf-8"), "plan.toml")
    rig.link.answer(messages.LoadPlan, sentences=["Not guarded: the lamp."])
    check.show_view(rig.work.runner.view)
    assert [line.text for line in check.warnings.lines] == [
        "Not guarded: the lamp.",
        "Still open, R106: one leg lifted: what it belongs to stands open under power.",
    ]
    rig.press("*")
    rig.until(lambda: not waiting(rig))
    rig.until(lambda: not still_open.items())
    assert query_unit.still_open(rig.shelf.folder, rig.shelf.unit.id if rig.shelf.unit else "") == ()
