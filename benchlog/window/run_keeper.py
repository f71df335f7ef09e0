"""Has every run that has ended in the library's list, with the part readings that were taken in it."""

from pathlib import Path

from PySide6.QtCore import QObject

from benchlog.domain.trace import SECOND
from benchlog.errors import BenchlogError, Busy
from benchlog.recorder.client import messages
from benchlog.store import edit
from benchlog.window.work import Work


class RunKeeper(QObject):
    """Takes a run in when it closes, or when its recorder died and the person has left it."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        work.runner.closed.connect(self._closed)
        work.runner.abandoned.connect(self._abandoned)
        work.runner.said_late.connect(self._said_late)

    def _closed(self, closed: messages.Closed) -> None:
        self._take_in(Path(closed.path))

    def _abandoned(self, path: str) -> None:
        self._take_in(Path(path))

    def _said_late(self, path: str, t: float, text: str) -> None:
        self._work.shelf.edit(
            lambda library: edit.remark_late(library, Path(path), text, round(t * SECOND)),
            None,
            lambda error: self._work.say(f"This is not in the run's file ({error}): {text}"),
            owner=self,
        )

    def _take_in(self, path: Path) -> None:
        self._work.shelf.edit(
            lambda library: edit.put_session_in_index(library, path),
            None,
            lambda error: self._not_yet(path, error),
            owner=self,
        )

    def _not_yet(self, path: Path, error: BenchlogError) -> None:
        """The run itself lies in its own file: say so before anything that sounds like a loss."""
        why = "another benchlog has the library" if isinstance(error, Busy) else str(error).rstrip(".")
        self._work.say(
            f"The run is kept in {path}. The library's list does not name it yet ({why}): run and part readings "
            "are copied there when benchlog next opens the library."
        )
