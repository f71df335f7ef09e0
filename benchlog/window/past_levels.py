"""Has the levels of detail of a run from before worked out, a little at a time, once somebody looks at it."""

from pathlib import Path

from PySide6.QtCore import QObject

from benchlog.store import late_levels
from benchlog.window.past_run import PastRun
from benchlog.window.work import Work

AT_A_TIME = 0.25
"""Seconds of work between two other acts on the library: taking a part waits no longer for it."""


class LevelsKeeper(QObject):
    """Works where this window may write; elsewhere, and until it is done, the run is read without."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self._at: Path | None = None

    def see(self, run: PastRun) -> None:
        """Somebody looks at a run."""
        if run.summed < 1.0 and not run.live and self._at is None:
            self._go_on(run.file)

    def _go_on(self, file: Path) -> None:
        self._at = file
        self._work.shelf.edit(
            lambda library: late_levels.work_out(library, file, AT_A_TIME),
            lambda share: self._came(file, share),
            lambda _: self._end(),
            owner=self,
            quiet=True,
        )

    def _came(self, file: Path, share: float) -> None:
        if share == 1.0:
            self._end()
            return
        self._work.shelf.waiting.emit(
            f"Summing up a long run, so that it opens at once next time: {share:.0%}"
        )
        self._go_on(file)

    def _end(self) -> None:
        self._at = None
        self._work.shelf.waiting.emit("")
