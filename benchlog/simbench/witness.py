"""The witness: what the far end saw, one JSON line each, with its own monotonic time stamp."""

import json
import os
import queue
import threading
import time
from collections import deque
from typing import Any

LAST_LINES = 2.0
"""Seconds the last lines may take to be written when the bench closes."""


APART = 10_000_000_000
"""Nanoseconds between two readings, or two askings, of one meter that are written where they are thinned."""
BEFORE = 2_000_000_000
"""Nanoseconds before an off or an alarm from which every one of them is written all the same."""

Line = dict[str, Any]


class Thinned:
    """Leaves out most readings and the questions they answer; all that is done is kept, and what led to an off."""

    def __init__(self) -> None:
        self._written: dict[tuple[str, str], int] = {}
        self._left_out: deque[Line] = deque()

    def take(self, line: Line) -> list[Line]:
        """Take one line; those that are to be written now, the oldest first."""
        t: int = line["t"]
        while self._left_out and self._left_out[0]["t"] < t - BEFORE:
            self._left_out.popleft()
        often = line["saw"] == "reply" or (line["saw"] == "command" and "?" in line["text"])
        if not often:
            if line["saw"] != "alarm" and line.get("on", line.get("closed")) is not False:
                return [line]
            before, self._left_out = [*self._left_out], deque()
            return [*before, line]
        of = (line["saw"], line["job"])
        if t - self._written.get(of, t - APART) >= APART:
            self._written[of] = t
            return [line]
        self._left_out.append(line)
        return []


class Witness:
    """Writes lines to a file descriptor from a thread of its own, so that a slow reader delays no reply.

    With `thinned` most readings are left out, which else come to 70 MB an hour.
    """

    def __init__(self, fd: int, *, thinned: bool = False) -> None:
        self._fd = fd
        self._thinned = Thinned() if thinned else None
        self._lines: queue.SimpleQueue[Line | None] = queue.SimpleQueue()
        self._heeded = True
        self._thread = threading.Thread(target=self._write, name="witness", daemon=True)
        self._thread.start()

    def tell(self, saw: str, *, t: int | None = None, **about: Any) -> None:
        """Note that something was seen, now or at `t` nanoseconds of monotonic time."""
        if self._heeded:
            self._lines.put({"saw": saw, "t": time.monotonic_ns() if t is None else t, **about})

    def close(self) -> None:
        """Write what is left; a reader who takes nothing more is not waited for long."""
        self._lines.put(None)
        self._thread.join(LAST_LINES)

    def _write(self) -> None:
        ended = False
        while not ended:
            found = [self._lines.get()]
            while not self._lines.empty():
                found.append(self._lines.get())
            ended = None in found
            lines = [line for line in found if line is not None]
            if self._thinned is not None:
                lines = [kept for line in lines for kept in self._thinned.take(line)]
            left = "".join(json.dumps(line) + "\n" for line in lines).encode("ascii")
            try:
                # Past Python's own buffers: their lock would outlive a thread that is stuck at the exit.
                while left:
                    left = left[os.write(self._fd, left) :]
            except OSError:
                # Whoever read along has gone; the bench itself goes on.
                self._heeded = False
                return
