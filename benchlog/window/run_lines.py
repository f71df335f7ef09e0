"""The lines in which something is typed or chosen at a run: a note, what is touched, what tripped it."""

from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.window.again import AgainLine
from benchlog.window.note_line import NoteLine
from benchlog.window.touch_line import TouchLine
from benchlog.window.work import Work


class RunLines(QWidget):
    """At most one of them is open; `opened` and `left` tell of it, `again_from` carries what a run goes on from."""

    opened = Signal()
    left = Signal()
    again_from = Signal(object)

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self._noted_at = 0.0
        self.note = NoteLine(work.look)
        self.note.kept.connect(self._keep_note)
        self.touch = TouchLine(work)
        self.again = AgainLine(work)
        self.again.named.connect(self.again_from)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        for line in (self.note, self.touch, self.again):
            line.left.connect(self._left)
            column.addWidget(line)
        self.hide()

    @property
    def asks(self) -> bool:
        """Whether one of them is open."""
        return not all(line.isHidden() for line in (self.note, self.touch, self.again))

    def leave(self) -> None:
        """Close whichever is open."""
        for line in (self.note, self.touch, self.again):
            line.leave()

    def leave_touch(self) -> None:
        """There is nothing left to touch."""
        self.touch.leave()

    def write(self, spot: str = "") -> None:
        """Open the line for a note, or for what was read at a spot."""
        self._noted_at = self._work.now()
        self.show()
        self.note.begin(spot)
        self.opened.emit()

    def begin(self, begin: Callable[[], None]) -> None:
        """Open the line that this opens, if it does."""
        self.show()
        begin()
        if self.asks:
            self.opened.emit()
        else:
            self.hide()

    def _keep_note(self, text: str) -> None:
        """A note stands at the moment its key was pressed, however long it took to write."""
        if self.note.spot:
            self._work.runner.spot(self.note.spot, "" if text == "/" else text)
            return
        self._work.runner.remark(text, ago=self._work.now() - self._noted_at)

    def _left(self) -> None:
        if not self.asks:
            self.hide()
        self.left.emit()
