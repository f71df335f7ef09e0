"""Before ohms: volts of reservoirs and nodes, asked for, kept with their time, and void once power was on."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.parts_rig import FakeRig
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.domain.charge import Charge
from benchlog.domain.unit import RoundKind
from benchlog.recorder.client import messages
from benchlog.store import query_unit, rounds
from benchlog.window.keys import Action
from benchlog.window.look import Look
from benchlog.window.run_view import Phase


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    made.bring()
    yield made
    made.close()


def measure(rig: FakeRig, reservoirs: str, nodes: str) -> None:
    """Open the view by its key and type both readings, Enter behind each."""
    rig.page.act(Action.CHARGE)
    view = rig.page.views.charge
    assert view.isVisible()
    for field, text in ((view.reservoirs, reservoirs), (view.nodes, nodes)):
        rig.qtbot.keyClicks(field, text)
        rig.qtbot.keyClick(field, Qt.Key.Key_Return)


def test_both_readings_are_kept_and_make_the_boards_dead(rig: FakeRig) -> None:
    assert rig.page.side.volts.isVisible()
    measure(rig, "0.2", "2 mV")
    rig.until(lambda: rig.page.hand.dead_board is True)
    assert not rig.page.views.charge.isVisible()
    assert rig.page.hand.sentence == "0.2 V across the reservoirs and 2 mV at the nodes."
    assert not rig.page.side.volts.isVisible()
    assert "2 mV at the nodes" in rig.page._boards.toolTip()
    visit = rig.work.shelf.visit
    assert visit is not None
    at = query_unit.boards_state(rig.shelf.folder, visit).at
    assert rounds.charge(rig.shelf.folder, visit.id, at) == Charge(0.2, 0.002)


def test_a_round_that_begins_asks_for_them(rig: FakeRig) -> None:
    rig.press("98n\n")
    rig.until(lambda: rig.page.hand.book.round is not None and rig.page.hand.book.done == 1)
    rig.qtbot.mouseClick(rig.page._rounds[RoundKind.WORKING], Qt.MouseButton.LeftButton)
    rig.until(lambda: rig.page.hand.book.done == 0)
    assert rig.page.hand.sentence == "Before ohms: what do reservoirs and nodes hold? Measure them."
    rig.qtbot.mouseClick(rig.page.side.volts, Qt.MouseButton.LeftButton)
    assert rig.page.views.charge.isVisible()


def test_what_is_left_for_ohms_is_told_as_their_error(rig: FakeRig) -> None:
    rig.page.act(Action.CHARGE)
    view = rig.page.views.charge
    rig.qtbot.keyClicks(view.nodes, "50 mV")
    assert view.says.text() == "50 mV at the nodes. Ohms can be off by 50 kΩ at a test current of 1 µA."
    rig.qtbot.keyClick(view.nodes, Qt.Key.Key_Return)
    rig.until(lambda: rig.page.hand.dead_board is False)
    assert rig.page.hand.book.charge.error == pytest.approx(50e3)


def test_what_is_no_voltage_is_told_and_not_kept(rig: FakeRig) -> None:
    measure(rig, "4k7 ohm", "")
    view = rig.page.views.charge
    assert "is in Ω" in view.says.text()
    assert view.isVisible()
    rig.qtbot.keyClick(view.nodes, Qt.Key.Key_Escape)
    assert not view.isVisible()
    assert rig.page.hand.dead_board is None


def test_enter_in_an_empty_field_has_the_walking_meter_read_it(rig: FakeRig) -> None:
    rig.open_bench()
    rig.page.act(Action.CHARGE)
    view = rig.page.views.charge
    rig.qtbot.keyClick(view.reservoirs, Qt.Key.Key_Return)
    assert view.says.text() == "Being read with parts meter: hold the tips there."
    taken = rig.taken(0.2134, "V")
    assert taken.function == "volts_dc"
    assert view.reservoirs.text() == "0.213 V"
    rig.until(lambda: rig.kept() == [taken.reading])
    visit = rig.work.shelf.visit
    assert visit is not None
    (kept,) = query_unit.unplaced(rig.shelf.folder, visit.id)
    assert (kept.reading.designator, kept.reading.value) == ("reservoirs", 0.2134)
    rig.qtbot.keyClick(view.nodes, Qt.Key.Key_Return)
    rig.link.say(messages.Notice(place="parts meter", problem="does not answer", fix="look at its cable"))
    assert view.says.text() == "parts meter: does not answer; look at its cable."
    rig.qtbot.keyClick(view.nodes, Qt.Key.Key_Return)
    rig.taken(None, "V")
    assert "gave no number" in view.says.text()
    assert view.nodes.text() == ""


def test_with_power_on_nothing_is_measured_and_what_was_is_void(rig: FakeRig) -> None:
    measure(rig, "0.2", "2 mV")
    rig.until(lambda: rig.page.hand.dead_board is True)
    rig.work.runner.view.phase = Phase.LIVE
    assert rig.page.hand.dead_board is None
    rig.page.act(Action.CHARGE)
    assert rig.page.hand.sentence == "The unit is live: measure what is left once it is off."
    assert not rig.page.views.charge.isVisible()
    rig.work.runner.view.phase = Phase.CLOSED
