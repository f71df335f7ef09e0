"""The recorder's hold on its alarm, with real alarm processes: it beats, commands, hears and starts anew."""

import os
import signal
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.until import until

from benchlog.recorder import alarm_link
from benchlog.recorder.alarm_link import AlarmLink
from benchlog.recorder.messages import Notice

posix = pytest.mark.skipif(sys.platform == "win32", reason="needs signals")


class Heard(AlarmLink):
    """A link that keeps why its alarm sounded, by the alarm's own word."""

    causes: list[str]

    def _hear(self, line: str) -> None:
        super()._hear(line)
        if line.startswith("sounding "):
            self.causes.append(line.split()[2])


class Master:
    """Whoever guards: keeps what the link tells, and may die."""

    def __init__(self, folder: Path) -> None:
        self.notices: list[Notice] = []
        self.causes: list[str] = []
        self.living = threading.Event()
        self.living.set()
        self.record = folder / "heard"
        self.player = [sys.executable, "-I", "-S", "-c", f"open({str(self.record)!r}, 'a').write('x')"]

    def link(self, player: list[str] | None = None, command: list[str] | None = None) -> AlarmLink:
        Heard.causes = self.causes
        return Heard(
            Path("no.wav"),
            alive=self.living.is_set,
            on_notice=self.notices.append,
            player=player or self.player,
            command=command,
        )

    @property
    def sounded(self) -> int:
        return len(self.record.read_text()) if self.record.exists() else 0


@pytest.fixture
def master(tmp_path: Path) -> Master:
    return Master(tmp_path)


@pytest.fixture
def link(master: Master) -> Iterator[AlarmLink]:
    made = master.link()
    yield made
    made.close()


def test_it_sounds_and_is_quiet_as_asked(link: AlarmLink, master: Master) -> None:
    link.sound()
    until(lambda: master.sounded >= 2, "two seconds of sound")
    link.quiet()
    link.sound()
    until(lambda: master.causes == ["asked", "asked"], "a second start")
    assert master.notices == []


def test_the_player_is_known_before_long(link: AlarmLink) -> None:
    assert link.player in {"", Path(sys.executable).name}
    assert link.wait_player(30.0) == Path(sys.executable).name


def test_while_the_guard_lives_it_is_quiet_and_when_not_it_sounds(link: AlarmLink, master: Master) -> None:
    link.guard(True)
    link.wait_player(30.0)
    assert master.causes == []
    master.living.clear()
    until(lambda: master.causes == ["silent"], "the alarm")
    master.living.set()
    sounded = master.sounded
    until(lambda: master.sounded > sounded + 1, "it to go on")
    link.quiet()
    link.sound()
    until(lambda: master.causes == ["silent", "asked"], "a start after the quiet")


@posix
def test_an_alarm_that_died_is_started_anew_and_told_again(link: AlarmLink, master: Master) -> None:
    link.guard(True)
    link.sound()
    until(lambda: master.causes == ["asked"], "the sound")
    first = link.pid
    os.kill(first, signal.SIGKILL)
    until(lambda: master.causes == ["asked", "asked"], "the sound of another")
    assert link.pid not in {0, first}
    (notice,) = master.notices
    assert (notice.place, notice.problem) == ("alarm", "ended by signal 9")
    assert notice.grave
    master.living.clear()
    link.quiet()
    until(lambda: master.causes[2:] == ["silent"], "the guard of the other")


@posix
def test_an_alarm_that_hangs_is_started_anew(master: Master, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alarm_link, "BEAT_EVERY", 0.02)
    link = master.link()
    link.wait_player(30.0)
    first = link.pid
    os.kill(first, signal.SIGSTOP)
    until(lambda: link.pid not in {0, first}, "another")
    assert master.notices[0].problem == "did not answer for 0.3 s"
    assert not master.notices[0].grave
    link.close()


def test_one_that_dies_again_and_again_is_told_of_and_not_spun_on(master: Master) -> None:
    link = master.link(command=[sys.executable, "-c", "raise SystemExit(4)"])
    until(lambda: len(master.notices) == 2, "two deaths")
    link.close()
    assert {notice.problem for notice in master.notices} == {"ended with exit status 4"}


def test_one_that_cannot_be_started_is_told_of(master: Master, tmp_path: Path) -> None:
    link = master.link(command=[str(tmp_path / "nothing")])
    until(lambda: master.notices, "the notice")
    assert "nothing could not be started" in master.notices[0].problem
    assert link.pid == 0
    link.close()


def test_one_that_closes_its_ears_is_ended_and_started_anew(master: Master) -> None:
    script = "import os, time; os.close(0); print('player deaf', flush=True); time.sleep(60)"
    link = master.link(command=[sys.executable, "-c", script])
    link.wait_player(30.0)
    until(lambda: master.notices, "the notice")
    link.close()
    assert master.notices[0].problem == "ended"


def test_one_that_does_not_quit_is_ended(master: Master, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alarm_link, "PARTING", 0.1)
    link = master.link(
        command=[sys.executable, "-c", "import time; print('player x', flush=True); time.sleep(60)"]
    )
    link.wait_player(30.0)
    link.close()
    assert link.pid == 0


def test_a_player_that_fails_is_told_once(master: Master) -> None:
    link = master.link(player=[sys.executable, "-c", "raise SystemExit(3)"])
    link.sound()
    notice = until(lambda: master.notices and master.notices[0], "the notice")
    assert isinstance(notice, Notice)
    assert notice.problem == f"no sound player works ({Path(sys.executable).name} ended with 3)"
    assert notice.grave
    assert link.player == "none"
    link.close()


def test_without_any_player_the_bell_is_told_of(master: Master) -> None:
    script = "import sys; print('player none\\nsounding soon asked\\nrubbish', flush=True); sys.stdin.read()"
    link = master.link(command=[sys.executable, "-c", script])
    assert link.wait_player(30.0) == "none"
    notice = until(lambda: master.notices and master.notices[0], "the notice")
    assert isinstance(notice, Notice)
    assert notice.problem == "no sound player was found"
    link.close()


def test_to_close_is_to_be_quiet(link: AlarmLink, master: Master) -> None:
    link.guard(True)
    link.wait_player(30.0)
    link.close()
    assert master.causes == []
    assert master.notices == []
    assert link.pid == 0
