"""A question that keys answer: one of several by its number or the arrows, or a few words; no window of its own."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLineEdit, QVBoxLayout

from benchlog.window.forms import ENTER, Columns
from benchlog.window.keycap import KeyCap
from benchlog.window.page import label
from benchlog.window.work import Work

_ARROWS = {Qt.Key.Key_Up: -1, Qt.Key.Key_Left: -1, Qt.Key.Key_Down: 1, Qt.Key.Key_Right: 1}
_WIDE = 118
"""Pixels of the least width of what is chosen from."""
Then = Callable[[int], None]


class AskLine(QFrame):
    """A question, what can be chosen by its number, and a field; `left` tells that it closed."""

    left = Signal()

    def __init__(self, work: Work) -> None:
        super().__init__()
        self.setProperty("card", True)
        self.work = work
        self._then: Then | None = None
        self._typed: Callable[[str], None] | None = None
        self._at = 0
        self.caps: list[KeyCap] = []
        self.asks = label("", "head")
        self.wrong = label(rank="danger", wrap=True)
        self.field = QLineEdit()
        self.field.setMaxLength(200)
        self.field.installEventFilter(self)
        self.field.textEdited.connect(self._number)
        self._chips = Columns(_WIDE, 8)
        top = QHBoxLayout()
        top.setContentsMargins(0, 0, 0, 0)
        top.addWidget(self.asks)
        top.addWidget(self.field, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(10, 8, 10, 8)
        column.setSpacing(6)
        column.addLayout(top)
        column.addWidget(self.wrong)
        column.addWidget(self._chips)
        self.hide()

    def leave(self) -> None:
        """Close it; what was typed is gone."""
        if not self.isHidden():
            self.hide()
            self.left.emit()

    def choose(self, asks: str, options: Sequence[str], then: Then) -> None:
        """Ask for one of these; `then` hears its place, from 0."""
        self._then, self._typed, self._at = then, None, 0
        self.caps = [KeyCap(self.work.look, str(at), text) for at, text in enumerate(options, start=1)]
        for at, cap in enumerate(self.caps):
            cap.clicked.connect(lambda _=False, at=at: self._take(at))
        self._chips.put(self.caps)
        self._open(asks, "number or arrow, Enter; Backspace leaves")
        self._mark()

    def type(self, asks: str, hint: str, typed: Callable[[str], None]) -> None:
        """Ask for words; `typed` hears them."""
        self._then, self._typed = None, typed
        self.caps = []
        self._chips.put(())
        self._open(asks, hint)

    def _open(self, asks: str, hint: str) -> None:
        self.asks.setText(asks)
        self.field.clear()
        self.field.setPlaceholderText(hint)
        self.field.setAccessibleName(asks)
        self._chips.setVisible(bool(self.caps))
        self.say("")
        self.show()
        self.field.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def say(self, wrong: str) -> None:
        """Say what is wrong with what was typed."""
        self.wrong.setText(wrong)
        self.wrong.setVisible(bool(wrong))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Enter takes, arrows choose, Backspace in an empty field leaves; the cut was taken out before this."""
        if event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return False
        step = _ARROWS.get(Qt.Key(event.key()), 0)
        if event.key() in ENTER:
            if not event.isAutoRepeat():
                self._enter()
        elif self._then is not None and step:
            self._at = (self._at + step) % len(self.caps)
            self._mark()
        elif event.key() == Qt.Key.Key_Escape or (
            event.key() == Qt.Key.Key_Backspace and not self.field.text()
        ):
            self.leave()
        else:
            return False
        return True

    def _enter(self) -> None:
        if self._typed is not None:
            self._typed(self.field.text().strip())
        else:
            self._take(self._at)

    def _number(self, text: str) -> None:
        """The number that is typed is taken as soon as no longer one begins with it."""
        if self._then is None:
            return
        number = int(text) if text.isascii() and text.isdigit() else 0
        if not 1 <= number <= len(self.caps):
            self.field.clear()
            return
        self._at = number - 1
        self._mark()
        if 10 * number > len(self.caps):
            self._take(self._at)

    def _take(self, at: int) -> None:
        if self._then is not None and at < len(self.caps):
            self._then(at)

    def _mark(self) -> None:
        for at, cap in enumerate(self.caps):
            cap.say(cap.does, main=at == self._at)
