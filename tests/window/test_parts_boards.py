"""Whether the boards are dead: kept with its time, and void once the unit may have been on."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.kept import begin
from helpers.parts_rig import FakeRig
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.errors import BadInput
from benchlog.recorder.client import messages
from benchlog.store import edit, query_unit
from benchlog.store.library import Library
from benchlog.window.look import Look
from benchlog.window.run_view import Phase


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    made.bring()
    made.open_bench()
    yield made
    made.close()


def test_whether_the_boards_are_dead_is_kept_with_its_time_and_asked_again_after_a_run(rig: FakeRig) -> None:
    rig.qtbot.mouseClick(rig.page._boards, Qt.MouseButton.LeftButton)
    rig.until(lambda: rig.page.hand.dead_board)
    unit, visit = rig.work.shelf.unit, rig.work.shelf.visit
    assert unit is not None
    rig.work.shelf.choose(None, None)
    rig.until(lambda: rig.here == "")
    rig.work.shelf.choose(unit, visit)
    rig.until(lambda: rig.here)
    assert rig.page.hand.dead_board is True
    assert rig.page._boards.text() == "boards seen dead"
    assert rig.page._boards.toolTip().endswith("UTC")
    rig.work.runner.view.phase = Phase.LIVE
    assert rig.page.hand.dead_board is None
    rig.qtbot.mouseClick(rig.page._boards, Qt.MouseButton.LeftButton)
    assert rig.page.hand.sentence.startswith("The unit is live")
    rig.work.runner.view.phase = Phase.OFF
    assert rig.page.hand.dead_board is None, "nothing has shown that it is off"
    rig.work.runner._to(Phase.CLOSED)
    assert rig.page.hand.sentence == "", "it is live no more"
    a_run_that_ends(rig, unit.id)
    rig.until(lambda: rig.page._boards.text() == "unit was on: boards dead?")
    assert rig.page.hand.dead_board is None
    rig.qtbot.mouseClick(rig.page._boards, Qt.MouseButton.LeftButton)
    rig.until(lambda: rig.page.hand.dead_board)


def test_a_proof_voids_that_the_boards_were_dead_as_soon_as_it_is_asked_for(rig: FakeRig) -> None:
    rig.qtbot.mouseClick(rig.page._boards, Qt.MouseButton.LeftButton)
    rig.until(lambda: rig.page.hand.dead_board)
    visit = rig.work.shelf.visit
    assert visit is not None
    rig.work.runner.prove()
    assert rig.page.hand.dead_board is None
    rig.press("\n")
    assert rig.page.hand.sentence.startswith("The unit may be on: only volts are read now")
    rig.until(lambda: query_unit.boards_state(rig.shelf.folder, visit).dead is None)
    rig.link.refuse(messages.Prove, BadInput("proof", "was not given", "try again"))
    assert rig.page.hand.dead_board is None
    assert rig.page.hand.sentence == ""
    rig.until(lambda: rig.page._boards.text() == "boards dead? not said")
    # Neither does undo give it back.
    rig.shelf.edit(edit.undo)
    rig.until(lambda: rig.page.hand.book.boards_state.dead)
    assert rig.page.hand.dead_board is None
    assert rig.page._boards.text() == "unit was on: boards dead?"
    rig.qtbot.mouseClick(rig.page._boards, Qt.MouseButton.LeftButton)
    rig.until(lambda: rig.page.hand.dead_board)


def a_run_that_ends(rig: FakeRig, unit: str) -> None:
    """A session of the unit, begun and closed, in the library's list."""

    def work(library: Library) -> None:
        writer = begin(library.sessions, unit=unit, started="2099-01-01T10:00:00.000Z")
        writer.close("completed", "", 0)
        edit.put_session_in_index(library, writer.path)

    rig.shelf.edit(work)
