"""A designator over the visits: every reading with its conditions, what was fitted when and why."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.parts_rig import FakeRig
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.domain.unit import RoundKind, Visit
from benchlog.store import edit
from benchlog.store.library import Library
from benchlog.window.look import Look


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    made.bring()
    made.go("R106")
    yield made
    made.close()


def read(rig: FakeRig, typed: str) -> None:
    """Type a reading of R106."""
    rig.go("R106")
    row = rig.page.hand.row
    assert row is not None
    count = len(row.readings)
    rig.press(f"{typed}\n")
    if rig.page.hand.held is not None:
        rig.press("\n")
    rig.until(lambda: rig.page.hand.row is not None and len(rig.page.hand.row.readings) > count)


def comes_back(rig: FakeRig) -> None:
    """The unit is handed over and taken in again."""
    unit, visit = rig.work.shelf.unit, rig.work.shelf.visit
    assert unit is not None
    assert visit is not None

    def again(library: Library) -> Visit:
        edit.close_visit(library, visit.id)
        return edit.open_visit(library, unit.id, "hum again", 229.0)

    rig.work.shelf.edit(again, lambda now: rig.work.shelf.choose(unit, now))
    rig.until(lambda: rig.page.hand.book.visit is not None and rig.page.hand.book.visit.id != visit.id)
    rig.until(lambda: not any(row.readings for row in rig.page.hand.book.rows))


def test_every_reading_of_every_visit_and_what_was_fitted_stand_there_the_newest_first(rig: FakeRig) -> None:
    read(rig, "6.2k")
    rig.page.listing.begin_round(RoundKind.AS_LEFT)
    rig.until(lambda: rig.reads("R106") == "to do")
    rig.go("R106")
    rig.chord("Ctrl+F")
    form = rig.page.panels.fit
    rig.qtbot.keyClicks(form.marking, "4k7 1%")
    rig.qtbot.keyClick(form.marking, Qt.Key.Key_Return)
    rig.qtbot.keyClicks(form.reason, "drifted")
    rig.qtbot.keyClick(form.reason, Qt.Key.Key_Return)
    rig.until(lambda: rig.page.hand.row is not None and rig.page.hand.row.line.fitted.marking == "4k7 1%")
    rig.press("!")
    read(rig, "4.7")
    comes_back(rig)
    read(rig, "4.75")
    rig.chord("Ctrl+H")
    panel = rig.page.panels.history
    rig.until(lambda: len(panel.list.rows) == 7)
    heads = [row.head for row in panel.list.rows]
    assert heads[0].startswith("visit 0002: ")
    assert heads[1] == "4.75 kΩ"
    assert heads[2].startswith("visit 0001: ")
    assert heads[3:] == ["4.7 kΩ", "fitted: 4k7 1%", "6.2 kΩ", "came with 4k7 5%"]
    assert "hum again, mains 229 V at intake" in panel.list.rows[0].below
    assert panel.list.rows[4].below.endswith("drifted")
    assert panel.list.rows[3].below.startswith("as left, ")
    assert panel.list.rows[5].right != "within"
    assert panel.says.text() == "3 readings in 2 visits. 2 items sat here, one after the other."


def test_on_return_as_left_lies_beside_as_found_with_mains_and_meter(rig: FakeRig) -> None:
    """Rule 37."""
    rig.page.listing.begin_round(RoundKind.AS_LEFT)
    rig.until(lambda: rig.page.hand.book.round is not None)
    read(rig, "4.7")
    comes_back(rig)
    read(rig, "4.75")
    rig.chord("Ctrl+H")
    cards = rig.page.panels.history.cards
    rig.until(cards.isVisible)
    assert cards.one.accessibleName().startswith("as left, visit 0001: 4.7 kΩ, within")
    assert cards.other.accessibleName().startswith("as found, visit 0002: 4.75 kΩ, within")
    assert "in circuit, typed, mains 229 V at intake" in cards.other.accessibleName()


def test_a_reading_that_was_taken_back_stands_there_and_counts_for_nothing(rig: FakeRig) -> None:
    read(rig, "4.7")
    rig.press("-")
    rig.until(lambda: rig.reads("R106") == "to do")
    rig.chord("Ctrl+H")
    panel = rig.page.panels.history
    rig.until(lambda: any(row.right == "taken back" for row in panel.list.rows))
    assert panel.says.text() == "Never read."
    assert not panel.cards.isVisible()


def test_it_follows_the_part_at_hand(rig: FakeRig) -> None:
    read(rig, "4.7")
    rig.chord("Ctrl+H")
    panel = rig.page.panels.history
    rig.until(lambda: any(row.head == "4.7 kΩ" for row in panel.list.rows))
    rig.press("v")
    assert panel.head.accessibleName() == "R107 over the visits"
    rig.until(lambda: [row.head for row in panel.list.rows] == ["came with 10R 5%"])
