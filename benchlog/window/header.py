"""The line at the top: which unit, which visit and round, which library."""

from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QWidget

from benchlog.window import words
from benchlog.window.elided import Elided
from benchlog.window.work import Work


class Header(QWidget):
    """Unit and visit at the left, the library at the right."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self.setFixedHeight(44)
        self._unit = Elided(work.look, 17, bold=True)
        self._visit = Elided(work.look, 14, soft=True)
        self._library = Elided(work.look, 14, soft=True, right=True)
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 0, 16, 0)
        row.setSpacing(22)
        row.addWidget(self._unit, 3)
        row.addWidget(self._visit, 2)
        row.addWidget(self._library, 2)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        work.shelf.chosen.connect(self.refresh)
        work.shelf.edited.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Show what is at hand."""
        shelf = self._work.shelf
        self._unit.say(shelf.unit.name if shelf.unit is not None else "No unit yet")
        parts = [shelf.visit.label] if shelf.visit is not None else []
        if shelf.round is not None:
            parts.append(words.ROUND[shelf.round.kind])
        self._visit.say(" · ".join(parts))
        self._library.say(f"library: {shelf.folder.name}")
