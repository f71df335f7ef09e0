"""Work off the GUI thread: files, SQLite and whatever may wait, with the answer back as a queued signal."""

import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

from PySide6.QtCore import QObject, QTimer, Signal
from shiboken6 import isValid

from benchlog.errors import BenchlogError

T = TypeVar("T")
SLOW = 500
"""Milliseconds after which the window says what it is waiting for."""


@dataclass(slots=True)
class _Job:
    work: Callable[[], Any]
    then: Callable[[Any], None] | None
    failed: Callable[[BenchlogError], None] | None
    owner: QObject | None
    key: str
    number: int


class Worker(QObject):
    """One thread that does one job after another; answers come back on the GUI thread.

    `troubled` carries errors that nobody wanted to hear himself; `waiting` the words for a job that takes
    longer than half a second, and an empty text when it is done.
    """

    troubled = Signal(object)
    waiting = Signal(str)
    _back = Signal(object, object, object)

    def __init__(self, name: str) -> None:
        super().__init__()
        self._jobs: queue.SimpleQueue[_Job | None] = queue.SimpleQueue()
        self._newest: dict[str, int] = {}
        self._count = 0
        self._open: dict[int, str] = {}
        self._back.connect(self._deliver)
        self._thread = threading.Thread(target=self._live, name=name, daemon=True)
        self._thread.start()

    def do(
        self,
        work: Callable[[], T],
        then: Callable[[T], None] | None = None,
        failed: Callable[[BenchlogError], None] | None = None,
        *,
        owner: QObject | None = None,
        key: str = "",
        says: str = "",
    ) -> None:
        """Do `work` in the thread, then `then` with what it gave, or `failed` with what went wrong.

        Args:
            work: may touch files and the store, never a widget.
            then: called on the GUI thread.
            failed: called there with a BenchlogError; left out: `troubled` carries it. A bug is told to it as well,
                so that whoever waits goes on, and is raised after that.
            owner: where it is gone by then, nothing is called.
            key: of several jobs with one key only the newest is done and answered.
            says: what is being done, for one that takes long.
        """
        self._count += 1
        number = self._count
        if key:
            self._newest[key] = number
        if says:
            self._open[number] = says
            QTimer.singleShot(SLOW, self, lambda: self._still(number))
        self._jobs.put(_Job(work, then, failed, owner, key, number))

    def close(self, seconds: float = 5.0) -> None:
        """Do what was asked so far, then end the thread."""
        self._jobs.put(None)
        self._thread.join(seconds)

    def _still(self, number: int) -> None:
        if number in self._open:
            self.waiting.emit(self._open[number])

    def _live(self) -> None:
        while (job := self._jobs.get()) is not None:
            if job.key and self._newest.get(job.key) != job.number:
                self._back.emit(job, None, None)
                continue
            try:
                result = job.work()
            except BaseException as error:  # noqa: BLE001 - a bug is raised again where it is seen: on the GUI thread
                self._back.emit(job, None, error)
            else:
                self._back.emit(job, result, None)

    def _deliver(self, job: _Job, result: object, error: BaseException | None) -> None:
        if self._open.pop(job.number, None) is not None and not self._open:
            self.waiting.emit("")
        overtaken = job.key and self._newest.get(job.key) != job.number
        wanted = not overtaken and (job.owner is None or isValid(job.owner))
        bug = None if isinstance(error, BenchlogError) else error
        try:
            if wanted:
                self._tell(job, result, error)
        finally:
            if bug is not None:
                raise bug

    def _tell(self, job: _Job, result: object, error: BaseException | None) -> None:
        if error is None:
            if job.then is not None:
                job.then(result)
        elif job.failed is not None:
            known = error if isinstance(error, BenchlogError) else _in_words(error)
            job.failed(known)
        elif isinstance(error, BenchlogError):
            self.troubled.emit(error)


def _in_words(bug: BaseException) -> BenchlogError:
    """A bug as who waits for an answer hears of it."""
    return BenchlogError(
        "benchlog", f"has a bug here ({type(bug).__name__}: {bug})", "the log has the details"
    )
