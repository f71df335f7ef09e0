"""The recorder's hold on its alarm process: heartbeats, commands, and a new one where it died.

No call blocks: one thread writes, one reads. What was asked for last is told again to an alarm
that had to be started anew.
"""

import os
import sys
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from benchlog.errors import LinkError
from benchlog.recorder.child import Child
from benchlog.recorder.framing import Framer
from benchlog.recorder.messages import Notice

BEAT_EVERY = 0.2
"""Seconds between two heartbeats."""
DEAF = 15
"""Heartbeats without an answer after which the alarm is started anew."""
PARTING = 2.0
"""Seconds an alarm has to end in order."""
_QUICK = 10.0
"""Seconds of life below which a death counts as a quick one."""


class NoAlarm:
    """Stands for the alarm where none was wanted."""

    def wait_player(self, _timeout: float) -> str:
        """There is none."""
        return "none"

    def sound(self) -> None:
        """Nothing."""

    def quiet(self) -> None:
        """Nothing."""

    def guard(self, on: bool) -> None:
        """Nothing."""

    def close(self) -> None:
        """Nothing."""


class AlarmLink:
    """An alarm process that is kept alive and told what to do."""

    def __init__(
        self,
        sound: Path,
        *,
        alive: Callable[[], bool],
        on_notice: Callable[[Notice], None],
        player: Sequence[str] | None = None,
        command: Sequence[str] | None = None,
    ) -> None:
        """Start the process and its threads.

        Args:
            sound: the file it plays.
            alive: heartbeats are sent only while it says so; must not block.
            on_notice: gets what the person should know; on a thread of this link.
            player: a command in the place of the platform's player.
            command: what to start in place of `python -m benchlog.alarm`.
        """
        own = list(command) if command is not None else [sys.executable, "-m", "benchlog.alarm"]
        self._argv = [*own, str(sound), *(["--", *player] if player else [])]
        self._alive, self._on_notice = alive, on_notice
        self._lock = threading.Lock()
        self._commands: list[str] = []
        self._wanted = {"sound": "quiet", "guard": "guard off"}
        self._wake = threading.Event()
        self._stop = threading.Event()
        self._known = threading.Event()
        self._player = ""
        self._failed = ""
        self._child: Child | None = None
        self._unanswered = 0
        self._thread = threading.Thread(target=self._run, name="to alarm", daemon=True)
        self._thread.start()

    def sound(self) -> None:
        """Sound until `quiet`."""
        self._tell("sound", "sound")

    def quiet(self) -> None:
        """Stop sounding, whatever it began from; until then it goes on."""
        self._tell("sound", "quiet")

    def guard(self, on: bool) -> None:
        """Have it sound by itself when heartbeats stop, or no longer."""
        self._tell("guard", "guard on" if on else "guard off")

    @property
    def player(self) -> str:
        """The player it found; `none` is the terminal's bell, empty not known yet."""
        return self._player

    def wait_player(self, timeout: float) -> str:
        """The player it found, waiting at most `timeout` seconds for it to say so."""
        self._known.wait(timeout)
        return self._player

    @property
    def pid(self) -> int:
        """The alarm's process number, 0 where none runs."""
        child = self._child
        return child.pid if child is not None else 0

    @property
    def _guards(self) -> bool:
        return self._wanted["guard"] == "guard on"

    def close(self) -> None:
        """End it in order: it does not sound on."""
        self._stop.set()
        self._wake.set()
        self._thread.join(5.0)

    def _tell(self, what: str, command: str) -> None:
        with self._lock:
            self._wanted[what] = command
            self._commands.append(command)
        self._wake.set()

    # --- the writing thread -----------------------------------------------------------------------

    def _run(self) -> None:
        quick = 0
        while not self._stop.is_set():
            begun = time.monotonic()
            end = self._serve()
            if self._stop.is_set():
                break
            quick = quick + 1 if time.monotonic() - begun < _QUICK else 0
            self._on_notice(Notice(place="alarm", problem=end, fix="it is started again", grave=self._guards))
            # The first death costs no time; one that dies again and again must not keep a core busy.
            self._stop.wait(min(30.0, 2.0 ** (quick - 2)) if quick > 1 else 0.0)

    def _serve(self) -> str:
        """Start an alarm and keep it fed until it is gone; gives how it ended."""
        try:
            child = Child(self._argv, stderr=2)
        except LinkError as error:
            return error.problem
        self._child, self._unanswered = child, 0
        threading.Thread(target=self._read, args=(child.reading,), name="from alarm", daemon=True).start()
        with self._lock:
            self._commands = list(self._wanted.values())
        try:
            return self._feed(child)
        except OSError:
            child.wait(0.5)
            return child.end or "ended"
        finally:
            self._child = None
            os.close(child.writing)
            if not child.wait(PARTING if self._stop.is_set() else 0.0):
                child.kill()

    def _feed(self, child: Child) -> str:
        due = 0.0
        while not self._stop.is_set():
            with self._lock:
                lines, self._commands = self._commands, []
            if time.monotonic() >= due:
                due = time.monotonic() + BEAT_EVERY
                if self._alive():
                    lines.append("beat")
                    self._unanswered += 1
            if lines:
                os.write(child.writing, "".join(f"{line}\n" for line in lines).encode())
            self._wake.wait(max(0.0, due - time.monotonic()))
            self._wake.clear()
            if not child.running:
                return child.end
            if self._unanswered > DEAF:
                return f"did not answer for {DEAF * BEAT_EVERY:g} s"
        os.write(child.writing, b"quit\n")
        return ""

    # --- the reading thread -----------------------------------------------------------------------

    def _read(self, reading: int) -> None:
        framer = Framer()
        while data := _read_some(reading):
            for line in framer.feed(data):
                self._hear((line or b"").decode(errors="replace"))
        os.close(reading)

    def _hear(self, line: str) -> None:
        match line.split():
            case ["beat"]:
                self._unanswered = 0
            case ["player", name]:
                self._name(name)
            case ["failed", name, *why]:
                self._failed = f"{name} {' '.join(why)}"

    def _name(self, name: str) -> None:
        self._player = name
        self._known.set()
        if name == "none":
            problem = (
                f"no sound player works ({self._failed})" if self._failed else "no sound player was found"
            )
            self._on_notice(Notice(place="alarm", problem=problem, fix=_BELL, grave=bool(self._failed)))


_BELL = "the terminal's bell rings in its place; install paplay, pw-play or aplay and try the alarm"


def _read_some(reading: int) -> bytes:
    try:
        return os.read(reading, 4096)
    except OSError:
        return b""
