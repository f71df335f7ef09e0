"""Makes the sound: the platform's own player, one after another until one works, else the bell."""

import shutil
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

Say = Callable[[str], None]
PACE = 1.0
"""Seconds between two starts of the player; the sound itself is as long."""
HUNG = 3.0
"""Seconds after which a player that does not end counts as failed."""
_LINUX = (
    ("paplay", "--volume=65536"),
    ("pw-play", "--volume=1.0"),
    ("aplay", "-q"),
    ("ffplay", "-nodisp", "-autoexit", "-loglevel", "quiet", "-volume", "100"),
)
_WINDOWS = "import sys, winsound; winsound.PlaySound(sys.argv[1], winsound.SND_FILENAME)"


def players(
    sound: str,
    chosen: Sequence[str] = (),
    platform: str = sys.platform,
    which: Callable[[str], str | None] = shutil.which,
) -> list[tuple[str, list[str]]]:
    """The players to try, best first: (name, command line); `chosen` stands in the place of all."""
    if chosen:
        return [(Path(chosen[0]).name, list(chosen))]
    if platform == "win32":
        return [("winsound", [sys.executable, "-I", "-S", "-c", _WINDOWS, sound])]
    known: Sequence[tuple[str, ...]] = (("afplay",),) if platform == "darwin" else _LINUX
    found = ((which(name), name, options) for name, *options in known)
    return [(name, [path, *options, sound]) for path, name, options in found if path]


class Player:
    """Sounds once a second as long as it is kept going; nothing here blocks."""

    def __init__(self, commands: Sequence[tuple[str, list[str]]], say: Say, bell: Callable[[], None]) -> None:
        self._commands = commands
        self._say = say
        self._bell = bell
        self._next = 0
        self._running: subprocess.Popen[bytes] | None = None
        self._started = float("-inf")
        self._named = ""
        self._name_it()

    def keep_on(self, now: float) -> None:
        """Sound at `now` (monotonic seconds) if it is time to; to be called many times a second."""
        if self._running is not None:
            self._look_after(self._running, now)
        if self._running is None and now - self._started >= PACE:
            self._started = now
            if self._next < len(self._commands):
                self._play(now)
            else:
                self._bell()
                self._next = 0  # The sound server may be back in a second.

    def stop(self) -> None:
        """Be quiet at once."""
        if self._running is not None:
            self._running.kill()
            self._running.wait()
            self._running = None
        self._started = float("-inf")

    def _play(self, now: float) -> None:
        null = subprocess.DEVNULL
        argv = self._commands[self._next][1]
        try:
            self._running = subprocess.Popen(argv, stdin=null, stdout=null, stderr=null)
        except OSError as fault:
            self._fail(fault.strerror or "cannot be started", now)

    def _look_after(self, running: subprocess.Popen[bytes], now: float) -> None:
        status = running.poll()
        if status is None and now - self._started < HUNG:
            return
        self._running = None
        if status is None:
            running.kill()
            running.wait()
            self._fail(f"did not end within {HUNG:g} s", now)
        elif status:
            self._fail(f"ended with {status}", now)
        else:
            self._name_it()

    def _fail(self, why: str, now: float) -> None:
        """Say so, ring the bell in its place, and go on to the next player at once."""
        self._say(f"failed {self._commands[self._next][0]} {why}")
        self._next += 1
        self._bell()
        if self._next < len(self._commands):
            self._started = float("-inf")
        else:
            self._started = now
            self._name_it()

    def _name_it(self) -> None:
        """Say which player is used, whenever that changes."""
        name = self._commands[self._next][0] if self._next < len(self._commands) else "none"
        if name != self._named:
            self._named = name
            self._say(f"player {name}")
