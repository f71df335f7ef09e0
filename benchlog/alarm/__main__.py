"""`python -m benchlog.alarm SOUND [-- PLAYER ...]`: the alarm's process."""

import os
import queue
import signal
import stat
import sys
import threading
import time
from collections.abc import Sequence

from benchlog.alarm.player import Player, players
from benchlog.alarm.watch import Watch

_TICK = 0.05
_LONGEST_LINE = 256


def run(sound: str, chosen: Sequence[str], reading: int, writing: int) -> None:
    """Sound as the lines on `reading` ask for and as their absence demands, until told to quit."""
    lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
    threading.Thread(target=_read, args=(reading, lines), name="from master", daemon=True).start()
    voice = _Voice(writing)
    watch = Watch(time.monotonic())
    player = Player(players(sound, chosen), voice.say, ring)
    cause = ""
    while not watch.over:
        _take_one(lines, watch, voice)
        watch.look(time.monotonic())
        if watch.sounding:
            if not cause:
                voice.say(f"sounding {time.monotonic_ns()} {watch.cause}")
            player.keep_on(time.monotonic())
        elif cause:
            player.stop()
            voice.say(f"quiet {time.monotonic_ns()}")
        cause = watch.cause
    player.stop()


def _take_one(lines: "queue.SimpleQueue[str | None]", watch: Watch, voice: "_Voice") -> None:
    try:
        line = lines.get(timeout=_TICK)
    except queue.Empty:
        return
    if line is None:
        watch.end(time.monotonic())
    elif not watch.take(line):
        voice.say(f"unknown {line[:40]!a}")
    elif line == "beat":
        voice.say("beat")  # Only in answer: a master that does not read is not written to for ever.


class _Voice:
    """Lines to the master, which may be dead or not reading: sounding must never wait for it."""

    def __init__(self, writing: int) -> None:
        self._writing = writing
        if sys.platform != "win32" and stat.S_ISFIFO(os.fstat(writing).st_mode):
            os.set_blocking(writing, False)

    def say(self, text: str) -> None:
        try:
            os.write(self._writing, text.encode() + b"\n")
        except OSError:
            pass


def _read(reading: int, lines: "queue.SimpleQueue[str | None]") -> None:
    """Pass the lines on, then None at the end; raw, since a buffered read would abort the exit."""
    rest = b""
    try:
        while data := os.read(reading, 4096):
            *whole, rest = (rest + data).split(b"\n")
            for line in whole:
                lines.put(line.decode("ascii", "replace").strip())
            rest = rest[-_LONGEST_LINE:]
    except OSError:
        pass
    lines.put(None)


def ring(terminal: str = "/dev/tty") -> None:
    """Ring the terminal's bell; on standard error where there is no terminal."""
    try:
        screen = os.open(terminal, os.O_WRONLY | getattr(os, "O_NOCTTY", 0))
    except OSError:
        screen = os.dup(2)
    try:
        os.write(screen, b"\a")
    except OSError:
        pass
    finally:
        os.close(screen)


def main(argv: Sequence[str]) -> int:
    """Be the alarm of the process at the other end of standard input."""
    sound, *rest = argv or [""]
    if not sound or (rest and rest[0] != "--"):
        sys.stderr.write("usage: python -m benchlog.alarm SOUND [-- PLAYER ...]\n")
        return 2
    for name in ("SIGINT", "SIGHUP", "SIGTTOU"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    run(sound, rest[1:], 0, 1)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
