"""The alarm's real process, with a recording command in the player's place."""

import errno
import os
import signal
import subprocess
import sys
import threading
import time
import wave
from array import array
from collections.abc import Iterator
from pathlib import Path

import alarm_sound
import pytest
from helpers.until import until

from benchlog import resources
from benchlog.alarm import __main__ as alarm

posix = pytest.mark.skipif(sys.platform == "win32", reason="needs signals")


class Alarm:
    """An alarm process whose sounding is recorded in a file, a letter for each second."""

    def __init__(self, folder: Path) -> None:
        self.record = folder / "heard"
        player = [sys.executable, "-I", "-S", "-c", f"open({str(self.record)!r}, 'a').write('x')"]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "benchlog.alarm", "no.wav", "--", *player],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            bufsize=0,
        )

    def say(self, *lines: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write("".join(f"{line}\n" for line in lines).encode())

    def hear(self) -> str:
        """Its next line."""
        assert self.process.stdout is not None
        return self.process.stdout.readline().decode().strip()

    def hear_start(self) -> str:
        """The cause of the next start of sounding."""
        while not (line := self.hear()).startswith("sounding "):
            assert line, "it ended"
        return line.split()[2]

    def hang_up(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.close()

    @property
    def sounded(self) -> int:
        return len(self.record.read_text()) if self.record.exists() else 0

    def ended(self) -> int:
        return self.process.wait(30.0)


@pytest.fixture
def bell(tmp_path: Path) -> Iterator[Alarm]:
    made = Alarm(tmp_path)
    assert made.hear() == f"player {Path(sys.executable).name}"
    yield made
    made.process.kill()
    with made.process:
        pass


def test_it_sounds_and_is_quiet_as_told(bell: Alarm) -> None:
    before = time.monotonic_ns()
    bell.say("sound")
    line = bell.hear().split()
    assert (line[0], line[2]) == ("sounding", "asked")
    assert before <= int(line[1]) <= time.monotonic_ns()
    until(lambda: bell.sounded >= 3, "three seconds of sound")
    bell.say("quiet")
    assert bell.hear().startswith("quiet ")
    sounded = bell.sounded
    bell.say("beat")
    assert bell.hear() == "beat"
    bell.say("quit")
    assert bell.ended() == 0
    assert bell.sounded <= sounded + 1


def test_it_sounds_when_its_guarding_master_falls_silent(bell: Alarm) -> None:
    bell.say("guard on")
    assert bell.hear_start() == "silent"
    until(lambda: bell.sounded, "the sound")
    bell.say("beat")
    until(lambda: bell.sounded >= 3, "the sound to go on")
    bell.say("guard off", "quiet")
    assert bell.hear() == "beat"
    assert bell.hear().startswith("quiet ")


def test_it_sounds_when_its_guarding_master_dies_and_outlives_it(bell: Alarm) -> None:
    bell.say("guard on")
    bell.hang_up()
    assert bell.hear_start() == "ended"
    until(lambda: bell.sounded >= 2, "the sound")
    assert bell.process.poll() is None


def test_it_ends_with_a_master_that_guards_nothing(bell: Alarm) -> None:
    bell.hang_up()
    assert bell.ended() == 0
    assert bell.sounded == 0


def test_it_ends_quietly_when_told_to(bell: Alarm) -> None:
    bell.say("guard on", "quit")
    bell.hang_up()
    assert bell.ended() == 0
    assert bell.sounded == 0


def test_a_line_it_does_not_know_is_told_and_survived(bell: Alarm) -> None:
    bell.say("dance")
    assert bell.hear() == "unknown 'dance'"
    bell.say("x" * 100_000)
    assert bell.hear().startswith("unknown 'xxx")
    bell.say("beat")
    assert bell.hear() == "beat"


@posix
def test_the_terminals_keys_and_its_end_do_not_silence_it(bell: Alarm) -> None:
    bell.say("guard on")
    for number in (signal.SIGINT, signal.SIGHUP):
        bell.process.send_signal(number)
    bell.hang_up()
    assert bell.hear_start() == "ended"


@posix
def test_a_master_that_does_not_listen_cannot_silence_it(bell: Alarm) -> None:
    assert bell.process.stdout is not None
    bell.process.stdout.close()
    bell.say("guard on", "beat", "sound")
    until(lambda: bell.sounded >= 2, "the sound")


def test_the_alarm_of_a_killed_recorder_sounds(tmp_path: Path) -> None:
    record = tmp_path / "heard"
    player = [sys.executable, "-c", f"open({str(record)!r}, 'a').write('x')"]
    script = f"""
import sys, time
from pathlib import Path
from benchlog.recorder.alarm_link import AlarmLink
link = AlarmLink(Path("no.wav"), alive=lambda: True, on_notice=print, player={player!r})
link.guard(True)
link.wait_player(30.0)
print(link.pid, flush=True)
time.sleep(120)
"""
    with subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True) as master:
        assert master.stdout is not None
        pid = int(master.stdout.readline())
        assert not record.exists()
        master.kill()
    try:
        until(record.exists, "the sound")
    finally:
        os.kill(pid, signal.SIGTERM)


# --- its parts in this process --------------------------------------------------------------------


def test_it_runs_on_any_pair_of_pipes(tmp_path: Path) -> None:
    (orders, ours), (theirs, said) = os.pipe(), os.pipe()
    thread = threading.Thread(target=alarm.run, args=("no.wav", ["/no/such/player"], orders, said))
    thread.start()
    with os.fdopen(theirs) as hear:
        os.write(ours, b"sound\nbeat\ndance\n")
        heard = [hear.readline().split()[0] for _ in range(6)]
        assert heard == ["player", "sounding", "failed", "player", "beat", "unknown"]
        os.write(ours, b"quiet\n")
        while not hear.readline().startswith("quiet"):
            pass
        os.close(ours)
        thread.join(30.0)
        assert not thread.is_alive()
    for descriptor in (orders, said):
        os.close(descriptor)


def test_orders_that_cannot_be_read_have_ended(tmp_path: Path) -> None:
    orders, said = os.open(tmp_path, os.O_RDONLY), os.open(tmp_path / "said", os.O_WRONLY | os.O_CREAT)
    alarm.run("no.wav", ["/no/such/player"], orders, said)
    for descriptor in (orders, said):
        os.close(descriptor)
    assert (tmp_path / "said").read_text() == "player player\n"


@pytest.mark.parametrize("argv", [[], [""], ["a.wav", "paplay"]])
def test_a_wrong_command_line_is_refused(argv: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert alarm.main(argv) == 2
    assert "usage: python -m benchlog.alarm SOUND" in capsys.readouterr().err


def test_the_bell_rings_on_the_terminal_or_on_standard_error(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    screen = tmp_path / "screen"
    screen.touch()
    alarm.ring(str(screen))
    assert screen.read_bytes() == b"\a"
    assert capfd.readouterr().err == ""
    alarm.ring(str(tmp_path / "no" / "screen"))
    assert capfd.readouterr().err == "\a"


def test_a_terminal_that_takes_nothing_is_no_hindrance(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def refuse(*_: object) -> int:
        raise OSError(errno.EIO, "gone")

    monkeypatch.setattr(os, "write", refuse)
    alarm.ring(str(tmp_path))


def test_the_shipped_sound_is_what_its_script_writes(tmp_path: Path) -> None:
    shipped = resources.path("sounds", "alarm.wav")
    alarm_sound.write(tmp_path / "alarm.wav")
    assert shipped.read_bytes() == (tmp_path / "alarm.wav").read_bytes()
    with wave.open(str(shipped)) as file:
        assert (file.getnchannels(), file.getsampwidth()) == (1, 2)
        seconds = file.getnframes() / file.getframerate()
        samples = array("h", file.readframes(file.getnframes()))
    assert seconds == pytest.approx(1.0)
    assert max(samples) > 25_000
    assert shipped.stat().st_size < 50_000
