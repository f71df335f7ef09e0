"""Brings a run to the desk of an adjustment: what streams, what was read of the resistors, how it drifted before."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from PySide6.QtCore import QObject

from benchlog.domain.drift import Drift
from benchlog.domain.trim import ResistorRead
from benchlog.recorder.client import messages
from benchlog.store import drift_before, resistors_read
from benchlog.window.adjust_desk import AdjustDesk
from benchlog.window.adjust_view import Book, TrimFace, adjusts, beside_of, drift_rows, faces_of
from benchlog.window.homing import HomingHand
from benchlog.window.numerals import NumeralFace
from benchlog.window.work import Work

Before = tuple[tuple[ResistorRead, ...], str, dict[str, Drift]]
"""What the library tells: the resistors as read in this visit, the day of an earlier run, and how it drifted."""


class Adjusting(QObject):
    """Fills one desk from the run at the bench, and homes by keys."""

    def __init__(self, work: Work, desk: AdjustDesk) -> None:
        super().__init__(desk)
        self._work = work
        self._desk = desk
        self._book = Book()
        self._session = ""
        self._before: Before = ((), "", {})
        self.homing = HomingHand(work)
        work.runner.read.connect(self._take)

    def _take(self, message: messages.Readings) -> None:
        self._book.take(self._work.runner.view, message)

    @property
    def on(self) -> bool:
        """Whether the run at the bench is an adjustment."""
        return adjusts(self._work.runner.view)

    @property
    def faces(self) -> tuple[TrimFace, ...]:
        """Every figure as it stands."""
        view, now = self._work.runner.view, self._work.now()
        return faces_of(view, now, self._book, self.homing.trace, self._before[0])

    def beside(self, numerals: Sequence[NumeralFace]) -> tuple[NumeralFace, ...]:
        """The numerals that have no pointer of their own; all of them where nothing is adjusted."""
        pointed = {face.face.name for face in self.faces} if self.on else set()
        return tuple(one for one in numerals if one.face.name not in pointed)

    def look(self, *, shown: bool) -> None:
        """Let the tone follow; show everything where somebody looks."""
        view, now = self._work.runner.view, self._work.now()
        if not self.on or view.plan is None:
            self.homing.end()
            return
        self._ask_before()
        faces = self.faces
        self.homing.look(view, faces)
        if shown:
            _, day, before = self._before
            rows = drift_rows(view.plan, self._book.drifts(view), day, before)
            self._desk.show_run(faces, beside_of(view, now), rows)

    def home(self) -> None:
        """Begin to home, or end it."""
        self.homing.toggle(self.faces)
        self._work.runner.changed.emit()

    def side(self) -> None:
        """Home on the next figure."""
        self.homing.next(self.faces)
        self._work.runner.changed.emit()

    def _ask_before(self) -> None:
        """What the library tells of the unit is asked once a run."""
        view, shelf = self._work.runner.view, self._work.shelf
        if view.plan is None or not view.session or view.session == self._session:
            return
        self._session = view.session
        self._before = ((), "", {})
        unit = shelf.unit.id if shelf.unit is not None else ""
        visit = shelf.visit.id if shelf.visit is not None else ""
        if not unit:
            return
        names = [trace.name for trace in view.plan.trace]
        parts = {trim.part for stage in view.plan.stage for trim in stage.trim if trim.part}
        session = Path(view.session).name

        def read(library: Path) -> Before:
            day, drifts = drift_before.earlier(library, unit, visit, names, but=session)
            return resistors_read.read_in(library, visit, parts, datetime.now(UTC)), day, drifts

        def found(before: Before) -> None:
            if Path(self._session).name == session:
                self._before = before

        shelf.read(read, found, lambda _: None, owner=self, key="before an adjustment")
