"""What stands on the screen follows what the recorder says: questions taken back, proofs gone, nothing half done."""

from dataclasses import replace

import pytest
from helpers.window_rig import EXAMPLE, Rig, bench
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QComboBox
from pytestqt.qtbot import QtBot

from benchlog.errors import BadInput
from benchlog.instruments.bench import OffSwitchEntry
from benchlog.recorder.client import messages
from benchlog.window import words
from benchlog.window.run_view import Phase

PLAN = (EXAMPLE / "plan.toml").read_text("utf-8")
WRONG = BadInput("plan.toml", "does not fit the bench", "mend it")


@pytest.fixture
def refused(rig: Rig) -> list[str]:
    heard: list[str] = []
    rig.runner.refused.connect(lambda error: heard.append(str(error)))
    return heard


# --- questions -------------------------------------------------------------------------------------


def test_a_question_that_is_taken_back_leaves_the_screen(rig: Rig) -> None:
    rig.live()
    rig.link.say(messages.Prompt(prompt=3, kind="switch_on", text="Switch the unit on."))
    rig.link.say(messages.Withdrawn(prompt=2))
    assert rig.runner.view.prompt is not None
    rig.link.say(messages.Withdrawn(prompt=3))
    assert rig.runner.view.prompt is None


# --- bench, plan and proof -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("holds", "phase"), [("nothing", Phase.NOTHING), ("bench", Phase.BENCH), ("plan", Phase.CHECKED)]
)
def test_a_proof_is_shown_no_longer_than_it_holds(rig: Rig, holds: str, phase: Phase) -> None:
    rig.proven()
    rig.link.say(messages.Holds(what="proof"))
    assert rig.runner.view.phase is Phase.PROVEN
    rig.link.say(messages.Holds(what=holds))
    assert rig.runner.view.phase is phase
    assert rig.runner.view.proofs == []
    assert (rig.runner.view.plan is None) is (phase is not Phase.CHECKED)


def test_nothing_is_shown_to_hold_before_it_was_answered_for(rig: Rig) -> None:
    rig.runner.know_bench(bench())
    rig.link.say(messages.Holds(what="proof"))
    assert rig.runner.view.phase is Phase.NOTHING


def test_a_run_goes_on_whatever_is_said_to_hold(rig: Rig) -> None:
    rig.live()
    rig.link.say(messages.Holds(what="bench"))
    assert rig.runner.view.phase is Phase.LIVE


def test_a_trial_that_is_refused_leaves_no_proof_on_the_screen(rig: Rig) -> None:
    rig.proven()
    heard: list[object] = []
    request = messages.Try(id=0, text="", place="bench.toml", profiles=[], job="lamp")
    rig.runner.try_one(request, heard.append, heard.append)
    assert rig.runner.view.phase is Phase.NOTHING
    rig.link.refuse(messages.Try, WRONG)
    assert heard == [WRONG]
    assert rig.runner.view.phase is Phase.NOTHING


def test_a_bench_that_is_refused_leaves_no_proof_on_the_screen(rig: Rig) -> None:
    rig.proven()
    rig.runner.know_bench(bench())
    rig.runner.open_bench("text", "bench.toml", [])
    rig.link.refuse(messages.OpenBench, WRONG)
    assert rig.runner.view.phase is Phase.NOTHING
    assert rig.runner.view.proofs == []


# --- one after the other ---------------------------------------------------------------------------


def test_nothing_is_proven_while_another_plan_is_on_its_way(rig: Rig, refused: list[str]) -> None:
    rig.proven()
    rig.runner.load_plan(PLAN, "other.toml")
    rig.runner.prove()
    rig.runner.arm("folder")
    assert len(rig.link.of(messages.Prove)) == 1
    assert rig.link.of(messages.Arm) == []
    assert refused == [
        f"{what}: another bench or plan is just being looked at; see what comes of it, then ask again."
        for what in ("prove", "begin")
    ]
    rig.link.answer(messages.LoadPlan, sentences=[])
    rig.runner.prove()
    assert rig.runner.view.phase is Phase.PROVING


def test_a_refused_plan_no_longer_holds_up_the_proof(rig: Rig, refused: list[str]) -> None:
    rig.proven()
    rig.runner.load_plan(PLAN, "other.toml")
    rig.link.refuse(messages.LoadPlan, WRONG)
    rig.runner.prove()
    assert rig.runner.view.phase is Phase.PROVING
    assert refused == [str(WRONG)]


def test_a_plan_that_was_checked_against_the_bench_before_does_not_count(rig: Rig) -> None:
    rig.proven()
    rig.runner.load_plan(PLAN, "other.toml")
    rig.runner.know_bench(bench())
    rig.runner.open_bench("text", "bench.toml", [])
    rig.link.answer(messages.LoadPlan, sentences=[])
    assert rig.runner.view.phase is Phase.NOTHING
    rig.link.answer(messages.OpenBench, meters={})
    assert rig.runner.view.phase is Phase.BENCH


@pytest.mark.parametrize("how_far", [Rig.arming, Rig.live])
def test_bench_and_plan_stay_under_a_run_from_begin_on(rig: Rig, refused: list[str], how_far: object) -> None:
    assert callable(how_far)
    how_far(rig)
    view, asked = rig.runner.view, len(rig.link.asked)
    rig.runner.know_bench(bench())
    rig.runner.open_bench("text", "bench.toml", [])
    rig.runner.load_plan(PLAN, "other.toml")
    request = messages.Try(id=0, text="", place="bench.toml", profiles=[], job="lamp")
    rig.runner.try_one(request, lambda _: None, lambda error: refused.append(str(error)))
    assert rig.runner.view is view
    assert len(rig.link.asked) == asked
    assert (
        refused == ["bench and plan: stay as they are while something may be on; cut, or close the run."] * 3
    )


def test_a_cut_that_the_recorder_refuses_is_told(rig: Rig, refused: list[str], qtbot: QtBot) -> None:
    qtbot.mousePress(rig.frame.foot._button, Qt.MouseButton.LeftButton)
    rig.link.refuse(messages.Cut, BadInput("cut", "nothing is armed", "if something is on, pull the plug"))
    assert refused == ["cut: nothing is armed; if something is on, pull the plug."]


# --- cutting and leaving ---------------------------------------------------------------------------


# The offscreen platform says so of every popup.
@pytest.mark.qt_log_ignore("This plugin does not support")
def test_f12_cuts_with_a_list_popped_up(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    rig.frame.go_to(words.POWER_UP)
    box = QComboBox(rig.power)
    box.addItems(["one", "two"])
    box.show()
    box.showPopup()
    qtbot.waitUntil(lambda: QApplication.activePopupWidget() is not None)
    popup = QApplication.activePopupWidget()
    assert popup is not None
    assert popup.window() is not rig.frame
    qtbot.keyClick(box.view(), Qt.Key.Key_F12)
    assert len(rig.link.of(messages.Cut)) == 1
    box.hidePopup()
    qtbot.waitUntil(lambda: QApplication.activePopupWidget() is None)


def test_a_window_closed_on_a_unit_that_a_hand_switches_waits_for_that_hand(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    only = rig.runner.view.bench
    assert only is not None
    rig.runner.view.bench = replace(only, off_switch=(OffSwitchEntry(job="wall switch", kind="hand"),))
    for _ in range(2):
        assert not rig.frame.close()
    assert len(rig.link.of(messages.Cut)) == 1
    screen = rig.frame.cut_screen
    rig.link.say(
        messages.Event(t=0, kind="off", text="cut: the window was closed", data={"why": "cut"}),
        messages.Prompt(prompt=9, kind="switch_off", text="Switch the unit off now."),
    )
    assert rig.frame.whole.currentWidget() is screen
    assert screen.next.text().startswith("Switch the unit off by hand")
    rig.now += 2.1
    qtbot.keyClick(screen, Qt.Key.Key_Enter)
    assert [one.prompt for one in rig.link.of(messages.Answer) if isinstance(one, messages.Answer)] == [9]
    # Said is not seen: it stays until something has shown it, or the run is closed.
    assert rig.frame.isVisible()
    rig.link.say(messages.Closed(path="run.db", outcome="stopped", reason="cut", folded=True))
    assert not rig.frame.isVisible()
