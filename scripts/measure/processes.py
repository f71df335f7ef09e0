"""Starting what is measured as processes of its own, and talking to it in JSON lines."""

import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Self

ROOT = Path(__file__).resolve().parents[2]
HANG = 60.0
"""Seconds after which a silent process counts as hung; a limit, not a goal."""


def command(module: str, *arguments: object) -> list[str]:
    """The command line of a module under this Python."""
    return [sys.executable, "-m", module, *map(str, arguments)]


def environment(home: Path) -> dict[str, str]:
    """An environment in which benchlog, these scripts and the tests' far ends are found, files below `home`."""
    own = [str(ROOT), str(ROOT / "scripts"), str(ROOT / "tests")]
    paths = os.pathsep.join(filter(None, [*own, os.environ.get("PYTHONPATH", "")]))
    # A picture costs what it costs on a screen nobody sees; nothing is heard either.
    quiet = {"QT_QPA_PLATFORM": "offscreen", "BENCHLOG_MUTE": "1"}
    files = quiet | {"BENCHLOG_LIBRARY": str(home / "library"), "BENCHLOG_LOG_DIR": str(home / "log")}
    return os.environ | files | {"PYTHONPATH": paths}


class Running:
    """A process that prints JSON lines; ended with the `with` block.

    It is told to end by the end of its standard input, and killed where it does not heed that.
    """

    def __init__(self, argv: Sequence[str], *, heeds_eof: bool = True) -> None:
        self._heeds_eof = heeds_eof
        self._process = subprocess.Popen(argv, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self._lines: queue.SimpleQueue[dict[str, Any] | None] = queue.SimpleQueue()
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def pid(self) -> int:
        """Its process number."""
        return self._process.pid

    def hear(self, seconds: float = HANG) -> dict[str, Any]:
        """Its next line; RuntimeError where it ended, TimeoutError where it says nothing."""
        try:
            line = self._lines.get(timeout=seconds)
        except queue.Empty:
            raise TimeoutError(f"{self._process.args!r} has said nothing for {seconds:g} s") from None
        if line is None:
            self._lines.put(None)
            raise RuntimeError(f"{self._process.args!r} has ended")
        return line

    def forget(self) -> None:
        """Throw away what it has said so far."""
        while not self._lines.empty():
            if self._lines.get() is None:
                self._lines.put(None)
                return

    def end_input(self) -> None:
        """Tell it that nothing more is wanted; what it says then can still be heard."""
        if self._process.stdin is not None:
            self._process.stdin.close()

    def kill(self) -> None:
        """End it at once."""
        self._process.kill()

    def close(self) -> None:
        """End it."""
        self.end_input()
        if not self._heeds_eof:
            self._process.terminate()
        try:
            self._process.wait(10.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._listener.join(10.0)
        if self._process.stdout is not None:
            self._process.stdout.close()

    def _listen(self) -> None:
        if self._process.stdout is not None:
            for line in self._process.stdout:
                self._lines.put(json.loads(line))
        self._lines.put(None)


HAS_PROC = Path("/proc/self/stat").exists()
KILL = getattr(signal, "SIGKILL", signal.SIGTERM)
"""Ends a process at once; the other one does on Windows."""


def ended(pid: int) -> bool:
    """Whether a process runs no more, as /proc tells; one not yet reaped has ended."""
    fields = _stat(pid)
    return not fields or fields[0] in "ZX"


def end(pid: int) -> None:
    """Kill a process that may have ended already; where /proc tells, it has ended afterwards."""
    try:
        os.kill(pid, KILL)
    except OSError:
        return
    while HAS_PROC and not ended(pid):
        time.sleep(0.01)


def core_seconds(pid: int) -> float:
    """Seconds of a core a process has used so far, its own and the system's for it; needs /proc."""
    fields = _stat(pid)
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK") if fields else 0.0


def resident(pid: int) -> float:
    """Megabytes of memory a process holds; needs /proc."""
    pages = int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def _stat(pid: int) -> list[str]:
    """What follows the name in /proc/PID/stat, from the state on; empty where there is no such process."""
    try:
        text = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return []
    return text.rpartition(")")[2].split()
