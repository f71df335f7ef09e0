"""The sounder's process: it does what lines ask for, in time or not at all, and never outlives or holds up a window."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator

import pytest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from benchlog.window import sounder_link
from benchlog.window.sounder_link import LIVES, SounderLink
from benchlog.window.voice import Voice

ECHO = """
import os, sys
from benchlog.window import sounder
def tell(line): os.write(1, (line + "\\n").encode())
class Echo:
    looks = 0
    def look(self):
        self.looks += 1
        if self.looks == 1:
            tell("yes")
    def obey(self, what, text):
        while text == "hang":
            pass
        tell(f"{'speaking' if what == 'say' else 'yes'} {what} {text}")
"""
SERVE = ECHO + "sounder.serve(0, Echo)"
HANGS = ECHO + "sounder.HUNG = 0.7; sounder.LOOK_EVERY = 100\n" + SERVE
WITHOUT = """
import runpy, sys
sys.modules["PySide6.QtMultimedia"] = sys.modules["PySide6.QtTextToSpeech"] = None
sys.argv = ["sounder", {!r}]
runpy.run_module("benchlog.window.sounder", run_name="__main__")
"""
NOT_A_SOUNDER = "import sys; sys.exit(3)"
DEAF = "import sys, time; print('yes', flush=True); time.sleep(600)"


def script(text: str) -> list[str]:
    return [sys.executable, "-c", text]


def run(text: str, lines: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(script(text), input=lines, capture_output=True, text=True, timeout=60, check=False)


def now() -> int:
    return time.monotonic_ns() // 1_000_000


def gone(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except OSError:
        return True
    return False


@pytest.fixture
def may_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let processes be started; nothing here plays anything."""
    monkeypatch.delenv("BENCHLOG_MUTE")


@pytest.fixture
def make_link(
    qapp: QApplication, may_sound: None, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[..., SounderLink]]:
    """Make a link that may start its process, with no time lost between two lives."""
    monkeypatch.setattr(sounder_link, "AGAIN_AFTER", 1)
    made: list[SounderLink] = []

    def make(what: str, command: list[str] | None = None) -> SounderLink:
        made.append(SounderLink(what, command))
        return made[-1]

    yield make
    for link in made:
        link.close()


# --- the process ---------------------------------------------------------------------------------


def test_it_does_what_lines_ask_for_and_ends_with_them() -> None:
    done = run(SERVE, f"{now() + 60_000} play within\n{now() + 60_000} say R 107. 4.68 kilohm\n")
    assert done.stdout.splitlines() == ["yes", "yes play within", "speaking say R 107. 4.68 kilohm"]
    assert done.returncode == 0
    assert "Traceback" not in done.stderr  # What the libraries print when they load is theirs.


def test_what_comes_too_late_is_left_out_but_to_stop_is_never_too_late() -> None:
    late = now() - 5000
    done = run(SERVE, f"{late} play within\n{late} say R 107.\nnonsense\n\n{late} stop\n")
    assert done.stdout.splitlines() == ["yes", "yes stop "]
    assert done.returncode == 0


@pytest.mark.parametrize("what", ["tones", "speech"])
def test_a_missing_module_is_told_and_is_no_fault(what: str) -> None:
    done = run(WITHOUT.format(what))
    assert done.stdout.startswith("no a library of the system is missing (import of PySide6.Qt")
    assert (done.returncode, done.stderr) == (0, "")


def test_one_that_hangs_ends_itself() -> None:
    done = run(HANGS, f"{now() + 60_000} say hang\n")
    assert done.stdout.splitlines() == ["yes"]
    assert done.returncode == 1


def test_it_must_be_told_what_to_sound() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "benchlog.window.sounder", "trumpet"],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2
    assert "tones|speech" in done.stderr


# --- the window's end ----------------------------------------------------------------------------


def test_the_window_hears_whether_it_can_be_heard_and_what_it_does(
    make_link: Callable[..., SounderLink], qtbot: QtBot
) -> None:
    link = make_link("speech", script(SERVE))
    assert link.why_silent == "not started yet"
    assert not link.tell("say", "too early")
    link.open()
    link.open()
    qtbot.waitUntil(lambda: link.available, timeout=60_000)
    assert not link.why_silent
    assert link.tell("say", "R 107.\nR 108. " + "and so on " * 100)
    qtbot.waitUntil(lambda: link.speaking, timeout=60_000)
    assert link.tell("stop")
    qtbot.waitUntil(lambda: not link.speaking, timeout=60_000)
    pid = link.pid
    link.close()
    assert gone(pid)
    assert link.pid == 0
    assert link.why_silent == "closed"


def test_one_that_dies_is_started_again_and_left_alone_in_the_end(
    make_link: Callable[..., SounderLink], qtbot: QtBot
) -> None:
    link = make_link("tones", script(SERVE))
    link.open()
    for _ in range(LIVES):
        qtbot.waitUntil(lambda: link.available, timeout=60_000)
        os.kill(link.pid, signal.SIGTERM)
        qtbot.waitUntil(lambda: not link.available, timeout=60_000)
    assert link.why_silent == "what makes it ended again and again"
    assert not link.tell("play", "within")


def test_one_that_can_never_sound_is_not_started_again(
    make_link: Callable[..., SounderLink], qtbot: QtBot
) -> None:
    link = make_link("tones", script("print('no no library')"))
    link.open()
    qtbot.waitUntil(lambda: link.why_silent == "no library" and link.pid == 0, timeout=60_000)
    assert not link._again.isActive()


@pytest.mark.parametrize("command", [["/nowhere/to/be/found"], script(NOT_A_SOUNDER)])
def test_one_that_does_not_come_up_is_told(
    make_link: Callable[..., SounderLink], qtbot: QtBot, command: list[str]
) -> None:
    link = make_link("tones", command)
    link.open()
    qtbot.waitUntil(lambda: link.why_silent.startswith("what makes it"), timeout=60_000)
    assert not link.available


def test_one_that_hangs_is_ended_by_force_when_the_window_closes(
    make_link: Callable[..., SounderLink], qtbot: QtBot
) -> None:
    link = make_link("speech", script(DEAF))
    link.open()
    qtbot.waitUntil(lambda: link.available, timeout=60_000)
    pid = link.pid
    link.close()
    assert gone(pid)


def test_the_environment_forbids_all_sound(qapp: QApplication) -> None:
    voice = Voice(SounderLink("tones"), SounderLink("speech"))
    voice.open()
    assert voice.why_silent == "No tones: BENCHLOG_MUTE is set. No speech: BENCHLOG_MUTE is set."


@pytest.mark.parametrize("what", ["tones", "speech"])
def test_the_real_one_says_how_it_stands_whatever_this_machine_has(
    make_link: Callable[..., SounderLink], qtbot: QtBot, what: str
) -> None:
    link = make_link(what)
    link.open()
    qtbot.waitUntil(lambda: link.why_silent != "not started yet", timeout=60_000)
    assert link.available or link.why_silent


# --- the end of a window -------------------------------------------------------------------------

WINDOW = """
import sys
from PySide6.QtWidgets import QApplication, QLabel
from benchlog.window.sounder_link import SounderLink
app = QApplication([])
label = QLabel("a window")
label.show()
link = SounderLink("tones", [sys.executable, "-c", {serve!r}])
link.changed.connect(lambda: print(link.pid, flush=True) if link.available else None)
{then}
link.open()
sys.exit(app.exec())
"""


def test_a_window_that_ends_leaves_nothing_running_and_does_not_crash(may_sound: None) -> None:
    done = run(WINDOW.format(serve=SERVE, then="link.changed.connect(app.quit)"))
    assert (done.returncode, done.stderr) == (0, "")
    assert gone(int(done.stdout.split()[0]))


def test_a_window_that_is_killed_leaves_nothing_running(may_sound: None, qtbot: QtBot) -> None:
    with subprocess.Popen(script(WINDOW.format(serve=SERVE, then="")), stdout=subprocess.PIPE) as window:
        assert window.stdout is not None
        pid = int(window.stdout.readline())
        window.kill()
    qtbot.waitUntil(lambda: gone(pid), timeout=60_000)
