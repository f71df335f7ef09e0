"""The writer thread: brings rows into the session file, so that nothing else ever waits for a disk."""

import logging
import threading
from collections import deque
from collections.abc import Callable
from typing import TypeVar

from benchlog.errors import StoreError
from benchlog.recorder.messages import Stored
from benchlog.store.append import SessionWriter
from benchlog.store.records import AnchorRow, EventRow, ReadingRow, RemarkRow, TakenRow

log = logging.getLogger(__name__)

COMMIT_SECONDS = 0.2
RETRY_SECONDS = 1.0
MOST_ROWS = 20_000
"""Rows of one commit, so that a backlog is written in bites."""

Row = TypeVar("Row")


class Writer:
    """Takes rows from any thread without blocking; commits every 200 ms, at once for events.

    While the disk refuses, rows wait in memory and are tried again each second; `on_fault` is told
    once an episode, `on_stored` after each commit.
    """

    def __init__(
        self,
        session: SessionWriter,
        names: dict[int, str],
        on_stored: Callable[[Stored], None],
        on_fault: Callable[[StoreError], None],
    ) -> None:
        self._session = session
        self._names = names
        self._on_stored = on_stored
        self._on_fault = on_fault
        self._readings: deque[ReadingRow] = deque()
        self._events: deque[EventRow] = deque()
        self._remarks: deque[RemarkRow] = deque()
        self._anchors: deque[AnchorRow] = deque()
        self._taken: deque[TakenRow] = deque()
        self._wake = threading.Event()
        self._stopping = False
        self._failing = False
        self.add_reading = self._readings.append
        self._thread = threading.Thread(target=self._run, name="writer", daemon=True)
        self._thread.start()

    def add_event(self, row: EventRow) -> None:
        """Keep an event; it is committed at once."""
        self._events.append(row)
        self._wake.set()

    def add_remark(self, row: RemarkRow) -> None:
        """Keep a remark; it is committed at once."""
        self._remarks.append(row)
        self._wake.set()

    def add_anchor(self, row: AnchorRow) -> None:
        """Keep an anchor between plan, wire and civil time."""
        self._anchors.append(row)

    def add_taken(self, row: TakenRow) -> None:
        """Keep a part reading taken inside the run; it is committed at once."""
        self._taken.append(row)
        self._wake.set()

    def close(self, outcome: str, reason: str, t: int) -> bool:
        """Write what waits, close the session; whether it was folded. StoreError where it cannot be."""
        self._stopping = True
        self._wake.set()
        self._thread.join()
        while self._commit() is not None:
            pass
        return self._session.close(outcome, reason, t)

    def _run(self) -> None:
        while not self._stopping:
            self._wake.wait(COMMIT_SECONDS)
            self._wake.clear()
            try:
                stored = self._commit()
            except StoreError as error:
                if not self._failing:
                    self._failing = True
                    log.error("%s", error)
                    self._on_fault(error)
                if not self._stopping:
                    self._wake.wait(RETRY_SECONDS)
                continue
            self._failing = False
            if stored is not None:
                self._on_stored(stored)

    def _commit(self) -> Stored | None:
        """One commit of what waits; what is on the disk by it, or None where nothing waited."""
        readings = _some(self._readings)
        events, remarks = _some(self._events), _some(self._remarks)
        anchors, taken = _some(self._anchors), _some(self._taken)
        if not (readings or events or remarks or anchors or taken):
            return None
        self._session.append(readings=readings, events=events, remarks=remarks, anchors=anchors, taken=taken)
        # Only now: what a failed commit held is still first in line.
        _drop(self._readings, len(readings))
        _drop(self._events, len(events))
        _drop(self._remarks, len(remarks))
        _drop(self._anchors, len(anchors))
        _drop(self._taken, len(taken))
        last = {row.trace: row for row in readings}
        traces = {self._names[trace]: row.seq for trace, row in last.items()}
        return Stored(traces=traces, t=max((row.t for row in last.values()), default=0))


def _some(queue: deque[Row]) -> list[Row]:
    """The oldest rows of a queue others append to meanwhile, left in it."""
    return [queue[i] for i in range(min(len(queue), MOST_ROWS))]


def _drop(queue: deque[Row], count: int) -> None:
    for _ in range(count):
        queue.popleft()
