"""The transcript of what instruments said: plain lines, the newest at the foot."""

from collections.abc import Iterable

from PySide6.QtGui import QFontMetricsF, QTextOption
from PySide6.QtWidgets import QHBoxLayout, QPlainTextEdit, QVBoxLayout, QWidget

from benchlog.window.forms import press
from benchlog.window.look import Look
from benchlog.window.page import label

MOST = 2000
"""So many lines are kept; the oldest go first."""


class Transcript(QWidget):
    """Lines with tabs between time, job and what was said."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.text = QPlainTextEdit()
        self.text.setReadOnly(True)
        self.text.setTabChangesFocus(True)
        self.text.setMaximumBlockCount(MOST)
        self.text.setAccessibleName("what the instruments said")
        self.text.setPlaceholderText(
            "Try the bench: what each instrument says stands here, with its time. "
            "Try one by itself to see every line that goes over its wire."
        )
        font = look.font(14)
        self.text.setFont(font)
        self.text.setWordWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
        self.text.setTabStopDistance(QFontMetricsF(font).horizontalAdvance("00:00:00.000  "))
        self.text.setMinimumHeight(220)
        top = QHBoxLayout()
        top.addWidget(label("What they said", "head"))
        top.addStretch(1)
        top.addWidget(press("Clear", self.text.clear))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(top)
        column.addWidget(self.text, 1)

    def add(self, *lines: str) -> None:
        """More lines."""
        for line in lines:
            self.text.appendPlainText(line)

    def add_all(self, lines: Iterable[str]) -> None:
        """More lines."""
        self.add(*lines)

    @property
    def lines(self) -> list[str]:
        """All of them."""
        text = self.text.toPlainText()
        return text.split("\n") if text else []
