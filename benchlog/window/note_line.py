"""A note by one key: a field of one line with short notes on the digits; it is no window of its own."""

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLineEdit, QVBoxLayout

from benchlog.domain.observed import Observation
from benchlog.window.forms import ENTER, Columns
from benchlog.window.keycap import KeyCap
from benchlog.window.look import Look
from benchlog.window.page import label

SHORT = tuple(Observation)
"""What is noted most, on the digits from 1."""


def observed_by(typed: str) -> str:
    """What a digit tells of a live unit; empty where it tells nothing."""
    return SHORT[int(typed) - 1] if len(typed) == 1 and typed in "123456789" else ""


class NoteLine(QFrame):
    """The field and its digits; `kept` carries a note, `left` that the field closed."""

    kept = Signal(str)
    left = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.setProperty("card", True)
        self.field = QLineEdit()
        self.field.setAccessibleName("note")
        self.field.setPlaceholderText("a digit or words, then Enter; Enter alone leaves")
        self.field.setMaxLength(200)
        self.field.installEventFilter(self)
        self.field.textChanged.connect(self._mark)
        self.caps = [KeyCap(look, str(at), text) for at, text in enumerate(SHORT, start=1)]
        for cap, text in zip(self.caps, SHORT, strict=True):
            cap.clicked.connect(lambda _=False, text=text: self._keep(text))
        self.spot = ""
        """The spot whose reading is typed; empty for a note."""
        self.head = label("note", "head")
        chips = self.chips = Columns(88, len(SHORT))
        chips.put(self.caps)
        top = QHBoxLayout()
        top.setContentsMargins(0, 0, 0, 0)
        top.addWidget(self.head)
        top.addWidget(self.field, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(10, 8, 10, 8)
        column.setSpacing(6)
        column.addLayout(top)
        column.addWidget(chips)
        self.hide()

    def begin(self, spot: str = "") -> None:
        """Open it, ready to be typed into; for the reading of a spot where one is named."""
        self.spot = spot
        self.head.setText(spot or "note")
        self.chips.setVisible(not spot)
        self.field.setPlaceholderText(
            "what the meter reads, then Enter; / skips it"
            if spot
            else "a digit or words, then Enter; Enter alone leaves"
        )
        self.show()
        self.field.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def leave(self) -> None:
        """Close it; what was typed and not kept is gone."""
        if not self.isHidden():
            self.field.clear()
            self.hide()
            self.left.emit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Enter keeps the note, Escape leaves; the cut was taken out before this."""
        if event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return False
        if event.key() in ENTER:
            if not event.isAutoRepeat():
                self._keep(self._meant())
            return True
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
            return True
        return False

    def _meant(self) -> str:
        typed = self.field.text().strip()
        if not self.spot and len(typed) == 1 and typed in "123456789":
            return SHORT[int(typed) - 1]
        return typed

    def _keep(self, text: str) -> None:
        if text:
            self.kept.emit(text)
        self.leave()

    def _mark(self, text: str) -> None:
        """The digit that is typed is the one the eye finds."""
        for at, cap in enumerate(self.caps, start=1):
            cap.say(SHORT[at - 1], main=text.strip() == str(at))
