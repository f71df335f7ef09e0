"""The writing side of a channel: a thread and a queue, so that a stalled reader never blocks a sender.

Readings are merged per trace, go out at most twenty times a second, and lose their oldest rows
when the other side does not keep up. A newer heartbeat replaces an older one. Everything else is
kept in order and without bound, ahead of the readings; but no reading crosses the begin or the end
of a session, since its number and time mean something else on the other side of it.
"""

import os
import threading
import time
from collections import deque
from collections.abc import Iterable

from benchlog.errors import Garbled
from benchlog.recorder.framing import encode
from benchlog.recorder.messages import Batch, Beat, Closed, Event, Message, Notice, Readings

Row = tuple[int, int, float | None, str]
"""(sequence number, plan ns, value or None, outcome), as in `Batch`."""

INTERVAL = 0.05
"""Seconds between two messages of readings."""
MOST_ROWS = 4096
"""Rows a trace may have waiting."""
ROWS_A_LINE = 8192
"""Rows one line carries; at some sixty bytes each it stays well below the limit of a line."""


class Sender:
    """Sends messages over a descriptor from a thread of its own; every call returns at once."""

    def __init__(self, descriptor: int, name: str) -> None:
        self._descriptor = descriptor
        self._changed = threading.Condition()
        self._kept: deque[Message] = deque()
        self._rows: dict[str, deque[Row]] = {}
        self._beat: Beat | None = None
        self._readings_due = 0.0
        self._closing = False
        self.broken = False
        """Whether the other side was found to be gone."""
        self.dropped = 0
        """Rows of readings that were lost because the other side was slow."""
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)
        self._thread.start()

    def send(self, message: Message) -> None:
        """Queue a message; after `close`, or once the other side is gone, it is thrown away."""
        with self._changed:
            if self._closing or self.broken:
                return
            if isinstance(message, Readings):
                for batch in message.batches:
                    self._add(batch.trace, batch.rows)
                return
            if isinstance(message, Beat):
                self._beat = message
            else:
                if _is_boundary(message):
                    self._kept.extend(self._take_all_readings())
                self._kept.append(message)
            self._changed.notify()

    def close(self, wait: float) -> bool:
        """Send what is left for at most `wait` seconds; gives whether all of it went out."""
        with self._changed:
            self._closing = True
            self._changed.notify()
        self._thread.join(wait)
        return not (self._thread.is_alive() or self.broken)

    def _add(self, trace: str, rows: Iterable[Row]) -> None:
        # The thread already waits for the moment when readings are due, unless these are the first.
        if not self._rows:
            self._changed.notify()
        waiting = self._rows.setdefault(trace, deque())
        waiting.extend(rows)
        while len(waiting) > MOST_ROWS:
            waiting.popleft()
            self.dropped += 1

    def _run(self) -> None:
        try:
            while True:
                with self._changed:
                    while (patience := self._patience()) > 0:
                        self._changed.wait(patience)
                    out = self._take()
                if not out:
                    break
                self._write(b"".join(_lines(out)))
        except OSError:
            pass
        else:
            os.close(self._descriptor)
            return
        # A broken pipe is closed only after nobody can queue for it any more.
        with self._changed:
            self.broken = True
            self._kept.clear()
            self._rows.clear()
        os.close(self._descriptor)

    def _patience(self) -> float:
        """Seconds until there is something to send, 0 when there is, or when all is over."""
        if self._kept or self._beat or self._closing:
            return 0.0
        if self._rows:
            return max(0.0, self._readings_due - time.monotonic())
        return 3600.0

    def _take(self) -> list[Message]:
        out: list[Message] = list(self._kept)
        self._kept.clear()
        if self._beat is not None:
            out.append(self._beat)
            self._beat = None
        if self._closing:
            out.extend(self._take_all_readings())
        elif self._rows and time.monotonic() >= self._readings_due:
            out.append(self._take_readings())
            self._readings_due = time.monotonic() + INTERVAL
        return out

    def _take_readings(self) -> Readings:
        room = ROWS_A_LINE
        batches = []
        for trace in list(self._rows):
            rows = self._rows.pop(trace)
            taken = [rows.popleft() for _ in range(min(room, len(rows)))]
            room -= len(taken)
            if rows:
                self._rows[trace] = rows
            if taken:
                batches.append(Batch(trace=trace, rows=taken))
        return Readings(batches=batches)

    def _take_all_readings(self) -> list[Message]:
        out: list[Message] = []
        while self._rows:
            out.append(self._take_readings())
        return out

    def _write(self, data: bytes) -> None:
        view = memoryview(data)
        while view:
            view = view[os.write(self._descriptor, view) :]


def _is_boundary(message: Message) -> bool:
    """Whether readings are numbered and timed anew from here on."""
    return isinstance(message, Closed) or (isinstance(message, Event) and message.kind == "armed")


def _lines(out: Iterable[Message]) -> Iterable[bytes]:
    """The lines of `out`; one that is too long is told of instead of sent."""
    for message in out:
        try:
            yield encode(message)
        except Garbled as error:
            yield encode(Notice(place=error.place, problem=error.problem, fix=error.fix))
