"""A recorder that ends by itself: started again where no run was open, a few times, and never without a word."""

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.processes import children
from helpers.until import until
from helpers.window_rig import Rig
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.errors import WATCH, BenchlogError, Refused
from benchlog.recorder.client import messages
from benchlog.window.link import Link
from benchlog.window.look import Look
from benchlog.window.revival import MOST, WITHIN, Revival
from benchlog.window.run_view import Phase

STUB = [sys.executable, "-m", "tests.helpers.stub_recorder"]
HANG = 60_000
ENTER = Qt.Key.Key_Enter


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[Rig]:
    made = Rig(look, tmp_path)
    qtbot.addWidget(made.frame)
    revival = Revival(made.work, made.link)
    revival.settled.connect(made.frame.notices.take_back)
    made.frame.start_recorder.connect(revival.start)
    made.frame.show()
    yield made
    made.runner.view.phase, made.runner.view.lost = Phase.CLOSED, False
    made.frame.close()
    made.shelf.close()


def said(rig: Rig) -> list[str]:
    return [one.text for one in rig.frame.notices.standing()]


def test_one_that_died_with_no_run_open_is_started_again_and_no_proof_survives(rig: Rig) -> None:
    rig.proven()
    rig.link.die("was killed")
    assert rig.link.starts == 1
    assert rig.link.running
    assert (rig.runner.view.phase, rig.runner.view.proofs) == (Phase.NOTHING, [])
    assert said(rig) == [
        "benchlog's watch has ended (was killed), no run is on. It is started again.",
        "benchlog's watch runs again. Plan and proof have to be done anew.",
    ]


def test_one_that_dies_again_and_again_is_left_alone_until_a_key_says_otherwise(
    rig: Rig, qtbot: QtBot
) -> None:
    for _ in range(MOST + 1):
        rig.link.die("ended with exit status 1")
    assert rig.link.starts == MOST
    assert not rig.link.running
    (text,) = [one for one in said(rig) if one.startswith("benchlog's watch does not run")]
    assert "it ended 4 times within 5 minutes (ended with exit status 1)" in text
    assert "F7 starts it again" in text
    qtbot.keyClick(rig.frame, Qt.Key.Key_F7)
    assert rig.link.running
    assert not any(one.startswith("benchlog's watch does not run") for one in said(rig))


def test_one_that_dies_now_and_then_is_started_every_time(rig: Rig) -> None:
    for _ in range(3 * MOST):
        rig.link.die()
        rig.now += WITHIN / MOST + 1
    assert rig.link.starts == 3 * MOST


def test_one_that_died_in_a_run_is_started_only_after_the_person_has_left_the_cut(
    rig: Rig, qtbot: QtBot
) -> None:
    rig.live()
    left: list[str] = []
    rig.runner.abandoned.connect(left.append)
    rig.link.die("was killed", "switch off by hand now and pull the plug")
    screen = rig.frame.cut_screen
    assert rig.frame.whole.currentWidget() is screen
    assert screen.what.text() == "Benchlog's watch: was killed; switch off by hand now and pull the plug."
    assert "pull the plug" in screen.keep_out.text()
    assert "Still logging" not in screen.next.text()
    # Neither a look elsewhere nor the key for it starts one beside a unit that may be on.
    qtbot.keyClick(rig.frame, Qt.Key.Key_F6)
    qtbot.keyClick(rig.frame, Qt.Key.Key_F7)
    assert rig.link.starts == 0
    assert rig.frame.foot._button._live
    qtbot.keyClick(rig.frame, Qt.Key.Key_F12)
    assert rig.frame.whole.currentWidget() is screen
    rig.now += 2.1
    qtbot.keyClick(screen, ENTER)
    assert rig.link.starts == 1
    assert left == ["folder/run.db"]
    assert rig.runner.view.phase is Phase.NOTHING
    assert rig.frame.whole.currentIndex() == 0


def test_a_second_cut_after_the_recorder_died_says_that_it_reached_nothing(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    rig.link.die()
    qtbot.keyClick(rig.frame, Qt.Key.Key_Escape)
    assert rig.link.of(messages.Cut) == []
    text = (
        "This cut reached nothing, since benchlog's watch does not run: "
        "switch off by hand now and pull the plug if anything may be on."
    )
    assert rig.frame.cut_screen.what.text() == text
    assert said(rig)[-1] == text


def test_a_second_cut_is_sent_again_where_a_supply_is_on_the_network(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    rig.link.supplies = ("192.0.2.4:5025",)
    rig.link.die()
    for times in ("once more", "2 times now"):
        qtbot.mousePress(rig.frame.foot._button, Qt.MouseButton.LeftButton)
        assert rig.frame.cut_screen.what.text() == (
            f"Benchlog's watch is dead. Off is sent to 192.0.2.4:5025 without it, {times}: "
            "switch off by hand all the same and pull the plug."
        )
    assert rig.link.cuts_again == 2


def test_a_cut_without_any_recorder_is_never_silent(rig: Rig, qtbot: QtBot) -> None:
    rig.link.unable = Refused(WATCH, "could not be started", "check the installation")
    rig.link.die()
    qtbot.mousePress(rig.frame.foot._button, Qt.MouseButton.LeftButton)
    assert "This cut reached nothing" in said(rig)[-1]


def test_one_that_never_comes_up_is_told_once_with_the_fix_and_a_key(rig: Rig, qtbot: QtBot) -> None:
    rig.link.unable = Refused("process", "python could not be started", "check the installation of benchlog")
    rig.link._runs = False
    rig.link.start()
    (text,) = said(rig)
    assert text == (
        "benchlog's watch does not run: python could not be started; check the installation of benchlog. "
        "Parts and past runs are there as ever, but no instrument is heard and nothing can be switched on. "
        "F7 starts it again."
    )
    qtbot.keyClick(rig.frame, Qt.Key.Key_F7)
    assert rig.link.starts == 2
    assert said(rig) == [text]
    rig.link.unable = None
    qtbot.keyClick(rig.frame, Qt.Key.Key_F7)
    assert rig.link.running
    assert text not in said(rig)


# --- with processes that are real ------------------------------------------------------------------


def test_a_real_process_that_ends_is_followed_by_another(rig: Rig, qtbot: QtBot) -> None:
    link = Link(command=STUB)
    kept = Revival(rig.work, link)
    assert kept is not None
    with qtbot.waitSignal(link.up, timeout=HANG):
        link.start()
    first = link.pid
    link.send(messages.Act(id=0, what="exit 3"))
    qtbot.waitUntil(lambda: link.running and link.pid != first, timeout=HANG)
    heard: list[object] = []
    link.ask(messages.Act(id=0, what="know"), heard.append)
    qtbot.waitUntil(lambda: bool(heard), timeout=HANG)
    with qtbot.waitSignal(link.closed, timeout=HANG):
        link.close()


def test_a_program_that_is_no_recorder_is_told_as_one_that_did_not_come_up(qtbot: QtBot) -> None:
    link = Link(command=[sys.executable, "-c", "raise SystemExit('no such room')"])
    failed: list[BenchlogError] = []
    refused: list[BenchlogError] = []
    link.failed.connect(failed.append)
    link.start()
    link.ask(messages.Prove(id=0), None, refused.append)
    qtbot.waitUntil(lambda: bool(failed and refused), timeout=HANG)
    assert "no such room" in str(failed[0])
    assert not link.running
    with qtbot.waitSignal(link.closed, timeout=HANG):
        link.close()


@pytest.mark.skipif(sys.platform == "win32", reason="looks at processes in /proc")
def test_one_that_is_only_just_starting_is_ended_before_the_window_is(qtbot: QtBot) -> None:
    link = Link(command=STUB)
    came: list[bool] = []
    link.up.connect(lambda: came.append(True))
    link.start()
    until(lambda: children(os.getpid(), "stub_recorder"), "its process")
    with qtbot.waitSignal(link.closed, timeout=HANG):
        link.close()
    assert not children(os.getpid(), "stub_recorder")
    qtbot.wait(0)
    assert came == []
