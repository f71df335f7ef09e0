"""The library as the window has it: written by one thread, read by another, never by the GUI's own."""

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from PySide6.QtCore import QObject, Signal

from benchlog.domain.unit import Round, Unit, Visit
from benchlog.errors import BenchlogError, Busy
from benchlog.store.library import Library
from benchlog.window.worker import Worker

T = TypeVar("T")


class Shelf(QObject):
    """A library folder, its threads, and which unit, visit and round are at hand.

    `opened` when it can be written to, `chosen` when another unit, visit or round is at hand, `edited` after
    every act but quiet ones, `troubled` with errors nobody else hears, `waiting` with the words for what takes long.
    """

    opened = Signal()
    chosen = Signal()
    edited = Signal()
    troubled = Signal(object)
    waiting = Signal(str)

    def __init__(self, folder: Path) -> None:
        super().__init__()
        self.folder = folder
        self.unit: Unit | None = None
        self.visit: Visit | None = None
        self.round: Round | None = None
        self._library: Library | None = None
        self._held: list[Callable[[], None]] | None = []
        self._writing = Worker("library")
        self._reading = Worker("history")
        self._away = Worker("taking away")
        for worker in (self._writing, self._reading, self._away):
            worker.troubled.connect(self.troubled)
            worker.waiting.connect(self.waiting)

    @property
    def profiles(self) -> list[str]:
        """Where a person's own profiles lie."""
        return [str(self.folder / "profiles")]

    @property
    def sessions(self) -> str:
        """Where runs are kept."""
        return str(self.folder / "sessions")

    def open(self, then: Callable[[list[str]], None] | None = None) -> None:
        """Take the library's lock and sweep it; `then` hears what the sweep did, a sentence each."""

        def work() -> Library:
            # Here, not when the answer is back: an act may have been asked for in between.
            self._library = library = Library.open(self.folder)
            return library

        def done(library: Library) -> None:
            self._let_read()
            self.opened.emit()
            if then is not None:
                report = library.swept
                then([f"A run was left open and is closed now: {one.file.stem}." for one in report.closed])

        def failed(error: BenchlogError) -> None:
            # Another benchlog may have it: it can be read all the same.
            self._let_read()
            self.troubled.emit(error)

        self._writing.do(work, done, failed, says="Opening the library")

    def _let_read(self) -> None:
        held, self._held = self._held or [], None
        for ask in held:
            ask()

    def edit(
        self,
        work: Callable[[Library], T],
        then: Callable[[T], None] | None = None,
        failed: Callable[[BenchlogError], None] | None = None,
        *,
        owner: QObject | None = None,
        says: str = "Writing to the library",
        quiet: bool = False,
    ) -> None:
        """One act on the library, in the thread that alone writes to it; a `quiet` one changes nothing anybody sees."""

        def act() -> T:
            if self._library is None:
                raise Busy(str(self.folder), "is not open for writing", "close the other benchlog first")
            return work(self._library)

        def done(result: T) -> None:
            if then is not None:
                then(result)
            if not quiet:
                self.edited.emit()

        self._writing.do(act, done, failed, owner=owner, says=says)

    def read(
        self,
        work: Callable[[Path], T],
        then: Callable[[T], None],
        failed: Callable[[BenchlogError], None] | None = None,
        *,
        owner: QObject | None = None,
        key: str = "",
        says: str = "Reading the library",
    ) -> None:
        """Ask the library something, once it is there; of several with one `key` only the newest is answered."""

        def ask() -> None:
            self._reading.do(lambda: work(self.folder), then, failed, owner=owner, key=key, says=says)

        if self._held is not None:
            self._held.append(ask)
        else:
            ask()

    def off_thread(
        self,
        work: Callable[[], T],
        then: Callable[[T], None],
        failed: Callable[[BenchlogError], None] | None = None,
        *,
        owner: QObject | None = None,
        key: str = "",
        says: str = "Reading a file",
    ) -> None:
        """Read a file that is not the library's, or parse one with its profiles."""
        self._reading.do(work, then, failed, owner=owner, key=key, says=says)

    def take_away(
        self,
        work: Callable[[], T],
        then: Callable[[T], None],
        failed: Callable[[BenchlogError], None] | None = None,
        *,
        owner: QObject | None = None,
    ) -> None:
        """Write files for a person, which may take long: in a thread of its own, so that nothing else waits."""
        self._away.do(work, then, failed, owner=owner)

    def choose(self, unit: Unit | None, visit: Visit | None, round_: Round | None = None) -> None:
        """Take another unit, visit and round in hand."""
        self.unit, self.visit, self.round = unit, visit, round_
        self.chosen.emit()

    def close(self) -> None:
        """Finish what was asked and let go of the library."""

        def let_go() -> None:
            if self._library is not None:
                self._library.close()
                self._library = None

        self._writing.do(let_go)
        self._writing.close()
        self._reading.close()
        self._away.close()
