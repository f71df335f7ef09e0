"""The field for a line: a part to go to, a reading of one, or a part to be added; what it means stands below."""

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from benchlog.domain.lcr import LcrState
from benchlog.domain.partline import describe
from benchlog.errors import BadInput
from benchlog.sheetfile import is_table
from benchlog.window.page import label
from benchlog.window.parts_book import Book
from benchlog.window.parts_entry import Meant
from benchlog.window.parts_line import Said, interpret

EXAMPLE = "R12 4k7 5% = 4.68"


class _Line(QLineEdit):
    """A line that keeps Enter for itself and gives up on Escape; `pasted` carries a table, which is no line."""

    entered = Signal()
    left = Signal()
    pasted = Signal(str)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter and Escape are not the page's while something is typed here."""
        text = QGuiApplication.clipboard().text() if event.matches(QKeySequence.StandardKey.Paste) else ""
        if is_table(text):
            self.pasted.emit(text)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.entered.emit()
        elif event.key() == Qt.Key.Key_Escape:
            self.clear()
            self.left.emit()
        else:
            super().keyPressEvent(event)


class Field(QWidget):
    """The field and what its text means just now.

    `said` carries what was asked for, `pasted` a table, `left` that the keys go back to the page.
    """

    said = Signal(object)
    pasted = Signal(str)
    left = Signal()

    def __init__(self, at_hand: Callable[[], tuple[Book, int, LcrState]]) -> None:
        super().__init__()
        self._at_hand = at_hand
        self.line = _Line()
        self.line.setPlaceholderText(EXAMPLE)
        self.line.setAccessibleName("a part as a line")
        self.line.setAccessibleDescription(
            f"such as {EXAMPLE}; a name alone goes to that part, R301-R348 4k7 5% adds as many"
        )
        self._below = label("", "soft", wrap=True)
        self._below.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3)
        column.addWidget(self._below)
        column.addWidget(self.line)
        self.line.textChanged.connect(self._changed)
        self.line.entered.connect(self._enter)
        self.line.left.connect(self.left)
        self.line.pasted.connect(self.pasted)

    def begin(self, text: str) -> None:
        """Go on typing here."""
        self.line.setFocus()
        self.line.setText(text)
        self.line.end(False)

    @property
    def meaning(self) -> str:
        """What stands below the line."""
        return self._below.text()

    def _understood(self) -> Said:
        return interpret(self.line.text(), *self._at_hand())

    def _changed(self, text: str) -> None:
        """Tell what it means as far as it is typed; what cannot be read yet is no fault."""
        try:
            self._tell(self._in_words(self._understood()) if text.strip() else "")
        except BadInput:
            self._tell("")

    def _enter(self) -> None:
        if not self.line.text().strip():
            self.left.emit()
            return
        try:
            said = self._understood()
        except BadInput as error:
            self._tell(str(error))
            return
        self.line.clear()
        self.left.emit()
        self.said.emit(said)

    def _tell(self, text: str) -> None:
        self._below.setText(text)
        self._below.setVisible(bool(text))

    def _in_words(self, said: Said) -> str:
        book, _, _ = self._at_hand()
        if said.parts:
            first, more = describe(said.parts[0]), len(said.parts) - 1
            last = said.parts[-1].entry.designator
            return f"adds {first}, and {more} more up to {last}" if more else f"adds {first}"
        if said.at is None:
            return f"from here on: {said.lcr.shown}" if said.lcr is not None else ""
        name = book.rows[said.at].designator
        if said.measure:
            name = book.rows[said.at].line.part.called(said.measure)
            if said.reading is None:
                return f"has {name} measured too"
        if said.reading is None:
            return f"goes to {name}"
        return f"{name} reads {Meant(said.reading, values=said.values).shown}"
