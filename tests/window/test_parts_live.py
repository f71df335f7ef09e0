"""A parts round beside a live run: what is said, what is refused, what stays in sight."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.parts_rig import FakeRig
from pytestqt.qtbot import QtBot

from benchlog import resources, textfile
from benchlog.domain.plan import Plan
from benchlog.recorder.client import messages
from benchlog.window.look import Look
from benchlog.window.parts_guard import guard_words
from benchlog.window.parts_in_hand import VOLTS_ONLY
from benchlog.window.run_view import Phase, RunView


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    made.bring()
    made.open_bench()
    yield made
    made.close()


def test_that_only_volts_are_read_is_said_once_in_each_live_run(rig: FakeRig) -> None:
    hand = rig.page.hand
    rig.page.came()
    assert hand.sentence == ""
    rig.work.runner._to(Phase.LIVE)
    assert hand.sentence == VOLTS_ONLY
    hand.say("")
    rig.page.came()
    rig.work.runner.changed.emit()
    assert hand.sentence == "", "it was said"
    rig.work.runner._to(Phase.CLOSED)
    rig.work.runner._to(Phase.LIVE)
    assert hand.sentence == VOLTS_ONLY
    rig.work.runner._to(Phase.CLOSED)
    assert hand.sentence == "", "it is live no more"


def test_it_is_said_to_whoever_looks(rig: FakeRig) -> None:
    rig.page.hide()
    rig.work.runner._to(Phase.LIVE)
    assert rig.page.hand.sentence == ""
    rig.page.show()
    rig.page.came()
    assert rig.page.hand.sentence == VOLTS_ONLY


@pytest.mark.parametrize("keys", ["\n", "4.7\n"], ids=["taken", "typed"])
def test_anything_but_volts_is_refused_with_a_tone_and_a_sentence(rig: FakeRig, keys: str) -> None:
    rig.work.runner._to(Phase.LIVE)
    rig.go("R106")
    rig.press(keys)
    assert rig.page.hand.sentence == "The unit is live: only volts are read now, and R106 wants ohms."
    assert rig.ear.heard == [("refused",)]
    assert rig.link.of(messages.Take) == []
    assert rig.page.hand.row is not None
    assert rig.page.hand.row.kept is None
    assert rig.page.hand.held is None


def test_the_line_says_where_the_run_is_at_and_goes_with_it(rig: FakeRig) -> None:
    line = rig.page.guard
    assert not line.isVisible()
    rig.work.runner._to(Phase.LIVE)
    assert line.isVisible()
    assert line.accessibleName() == "The unit is live."
    rig.work.runner._to(Phase.OFF)
    assert line.isVisible(), "nothing has shown that it is off"
    assert line.accessibleName().startswith("The unit may be on")
    rig.work.runner._to(Phase.CLOSED)
    assert not line.isVisible()


def test_stage_and_state_are_named() -> None:
    view = RunView()
    view.plan = textfile.read(resources.path("examples", "board", "plan.toml"), Plan)
    view.phase = Phase.LIVE
    view.stage = messages.Stage(t=0, state="dwelling", index=1, name="15 V")
    assert guard_words(view, "The unit is live") == "The unit is live: stage 2 of 3, dwelling, 15 V."
