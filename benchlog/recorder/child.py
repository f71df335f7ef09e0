"""Starting a process of ours with pipes of its own, out of reach of the terminal's Ctrl-C.

The child leads a process group of its own but stays in the session, so that an alarm without a
player can still ring the terminal's bell.
"""

import os
import subprocess
import sys
from collections.abc import Sequence
from typing import IO

from benchlog.errors import Refused


class Child:
    """A started process and the raw descriptors of our ends of its pipes.

    Whoever takes `writing` or `reading` closes it; the child's own ends are closed here.
    """

    def __init__(self, argv: Sequence[str], stderr: IO[bytes] | int = subprocess.DEVNULL) -> None:
        try:
            self._process = _popen(argv, stderr)
        except OSError as fault:
            problem = f"{argv[0]} could not be started ({fault.strerror or fault})"
            raise Refused("benchlog", problem, "check the installation of benchlog") from None
        self.writing = _take(self._process.stdin)
        self.reading = _take(self._process.stdout)

    @property
    def pid(self) -> int:
        """Its process number."""
        return self._process.pid

    @property
    def running(self) -> bool:
        """Whether it has not ended yet."""
        return self._process.poll() is None

    def wait(self, seconds: float) -> bool:
        """Wait for its end; gives whether it came within `seconds`."""
        try:
            self._process.wait(seconds)
        except subprocess.TimeoutExpired:
            return False
        return True

    def kill(self, seconds: float = 1.0) -> bool:
        """End it at once, which drops its lines and frees its sockets; gives whether it is gone."""
        self._process.kill()
        return self.wait(seconds)

    @property
    def end(self) -> str:
        """How it ended, as a clause; empty while it runs."""
        code = self._process.poll()
        if code is None:
            return ""
        return f"ended by signal {-code}" if code < 0 else f"ended with exit status {code}"


def _popen(argv: Sequence[str], stderr: IO[bytes] | int) -> subprocess.Popen[bytes]:
    pipe = subprocess.PIPE
    if sys.platform == "win32":
        group = subprocess.CREATE_NEW_PROCESS_GROUP
        started = subprocess.Popen(
            argv, bufsize=0, stdin=pipe, stdout=pipe, stderr=stderr, creationflags=group
        )
    else:
        started = subprocess.Popen(argv, bufsize=0, stdin=pipe, stdout=pipe, stderr=stderr, process_group=0)
    return started


def _take(pipe: IO[bytes] | None) -> int:
    """The raw descriptor of a pipe, ours alone; there is one, since a pipe was asked for."""
    if pipe is None:
        raise AssertionError
    with pipe:
        return os.dup(pipe.fileno())
