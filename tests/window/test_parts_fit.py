"""Replacing a part by keys: one short form, one act, one undo; before and after lie side by side."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.parts_rig import FakeRig
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.store import query_unit
from benchlog.window.look import Look
from benchlog.window.parts_fit import FitPanel


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    made.bring()
    made.go("R106")
    yield made
    made.close()


def panel(rig: FakeRig) -> FitPanel:
    """The form, shown."""
    if rig.page.panels.open is not rig.page.panels.fit:
        rig.chord("Ctrl+F")
    return rig.page.panels.fit


def fill(rig: FakeRig, marking: str, reason: str) -> None:
    """Fill in the form and press Enter behind its last field."""
    form = panel(rig)
    rig.qtbot.keyClicks(form.marking, marking)
    rig.qtbot.keyClick(form.marking, Qt.Key.Key_Return)
    rig.qtbot.keyClicks(form.reason, reason)
    rig.qtbot.keyClick(form.reason, Qt.Key.Key_Return)


def marking(rig: FakeRig) -> str:
    """What sits at the designator at hand."""
    row = rig.page.hand.row
    assert row is not None
    return row.line.fitted.marking


def test_a_part_is_replaced_by_one_form_and_the_old_reading_lies_beside_the_new_one(rig: FakeRig) -> None:
    rig.press("6.2\n")
    rig.until(lambda: rig.reads("R106") != "to do")
    before = rig.reads("R106")
    fill(rig, "4k7 1%", "drifted high")
    rig.until(lambda: marking(rig) == "4k7 1%")
    assert rig.reads("R106") == "to do", "the old reading does not judge the new one"
    cards = rig.page.panels.fit.cards
    rig.until(lambda: cards.one.accessibleName().startswith("before: 4k7 5%: 6.2 kΩ"))
    assert before in cards.one.accessibleName()
    assert cards.other.accessibleName() == "now: 4k7 1%: not read"
    assert "drifted high" in rig.page.beside._marking.text()
    rig.press("!")
    rig.press("4.69\n")
    rig.until(lambda: rig.reads("R106") == "within")
    rig.chord("Ctrl+F")
    rig.until(lambda: cards.other.accessibleName().startswith("now: 4k7 1%: 4.69 kΩ, within"))
    assert "drifted high" in rig.page.panels.fit.says.text()


def test_the_sheet_speaks_of_the_place_and_goes_over_to_the_new_item(rig: FakeRig) -> None:
    fill(rig, "5k1 1%", "")
    rig.until(lambda: marking(rig) == "5k1 1%")
    row = rig.page.hand.row
    assert row is not None
    assert (row.should_read, row.origin.value) == ("4k7 5%", "sheet")


def test_the_form_says_what_the_new_one_will_be_judged_by_and_where_its_marking_disagrees(
    rig: FakeRig,
) -> None:
    form = panel(rig)
    rig.qtbot.keyClicks(form.marking, "47k 5%")
    assert form._means.text() == (
        "It should read 4.7 kΩ ±5 % from the sheet. "
        "Its marking says 47 kΩ ±5 %, 10 times as much: a slipped point or prefix?."
    )


def test_without_a_marking_nothing_is_fitted(rig: FakeRig) -> None:
    fill(rig, "", "why")
    assert panel(rig).says.text() == "Write what is printed on the new one."
    assert marking(rig) == "4k7 5%"


def test_one_undo_takes_it_back_whole(rig: FakeRig) -> None:
    rig.press("4.7\n")
    rig.until(lambda: rig.reads("R106") == "within")
    fill(rig, "4k7 1%", "drifted")
    rig.until(lambda: marking(rig) == "4k7 1%")
    rig.press("-")
    rig.until(lambda: marking(rig) == "4k7 5%")
    assert rig.reads("R106") == "within"
    assert panel(rig).says.text() == "Taken back: fit 4k7 1% at R106."


def test_a_new_part_that_is_soldered_in_closes_its_lifted_leg(rig: FakeRig) -> None:
    rig.press("*")
    rig.until(lambda: rig.page.hand.book.to_put_back == 1)
    fill(rig, "4k7 1%", "")
    rig.until(lambda: rig.page.hand.book.to_put_back == 0)
    visit = rig.work.shelf.visit
    assert visit is not None
    (item,) = query_unit.open_list(rig.shelf.folder, visit.id)
    assert item.closed is not None


def test_escape_leaves_the_form_and_nothing_is_fitted(rig: FakeRig) -> None:
    form = panel(rig)
    rig.qtbot.keyClicks(form.marking, "4k7 1%")
    rig.qtbot.keyClick(form.marking, Qt.Key.Key_Escape)
    assert rig.page.panels.open is None
    assert marking(rig) == "4k7 5%"


def test_a_held_reading_is_looked_at_first(rig: FakeRig) -> None:
    rig.press("1.2k\n")
    rig.chord("Ctrl+F")
    assert rig.page.panels.open is None
    assert rig.page.hand.sentence.startswith("R106 waits with a reading:")
    assert rig.page.hand.held is not None
