"""The mains relay on a pumped line: bytes hold it in, silence lets it fall."""

import time
from collections.abc import Callable

from benchlog.simbench.loop import Loop, Timer

DROP_OUT = 0.5
"""Real seconds of silence after which it falls, whatever the speed of plan time."""
PULLS_IN = 2
"""Bytes that fill the pump."""


class Relay:
    """A relay that starts out; `clicks` counts every move an ear can hear."""

    def __init__(
        self, loop: Loop, job: str, moved: Callable[[bool], None], tell: Callable[..., None]
    ) -> None:
        self._loop = loop
        self._job = job
        self._moved = moved
        self._tell = tell
        self._bytes = 0
        self._last = 0.0
        self._timer: Timer | None = None
        self._welded = False
        self.closed = False
        self.clicks = 0

    def heard(self, data: bytes) -> None:
        """Take bytes from the line: each of them pumps."""
        if not data:
            return
        self._last = time.monotonic()
        if self._bytes == 0:
            self._tell("beat", job=self._job, first=True)
        self._bytes += len(data)
        if not self.closed and self._bytes >= PULLS_IN:
            self._move(True)
        if self._timer is None:
            self._timer = self._loop.at(self._last + DROP_OUT, self._look)

    def weld(self, welded: bool) -> None:
        """Weld its contact, so that it stays closed when the coil lets go, or break it free."""
        self._welded = welded
        if not welded and self.closed and self._bytes == 0:
            self._move(False)

    def _look(self) -> None:
        """Fall if the line has been silent for long enough, else look again then."""
        if time.monotonic() < self._last + DROP_OUT:
            self._timer = self._loop.at(self._last + DROP_OUT, self._look)
            return
        self._timer = None
        self._tell("beat", job=self._job, first=False, last=int(self._last * 1e9), bytes=self._bytes)
        self._bytes = 0
        if self.closed and not self._welded:
            self._move(False)

    def _move(self, closed: bool) -> None:
        self.closed = closed
        self.clicks += 1
        self._tell("relay", job=self._job, closed=closed, last=int(self._last * 1e9))
        self._moved(closed)
