"""The line in which a note about a past run is written."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit


class NoteField(QLineEdit):
    """A line to write a note in; `left` when it was left without one."""

    left = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Escape leaves it; it comes here only while there is nothing to cut."""
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            super().keyPressEvent(event)
