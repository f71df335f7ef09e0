"""A run on one page as it is shown: plain text in columns, to be read, scrolled and copied whole."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontDatabase, QFontMetricsF, QGuiApplication, QResizeEvent
from PySide6.QtWidgets import QPlainTextEdit

from benchlog.domain.one_page import WIDE
from benchlog.errors import BenchlogError
from benchlog.store.run_page import page_of
from benchlog.window.work import Work

MOST, LEAST = 15, 9
"""Pixels of its letters: as large as lets the widest line stand unbroken."""


class OnePageView(QPlainTextEdit):
    """The page of one run; `show_file` reads it, which may take a moment."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self.file: Path | None = None
        self.setReadOnly(True)
        self.setFrameShape(QPlainTextEdit.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.setAccessibleName("the run on one page")
        self.hide()

    def show_file(self, file: Path, then: Callable[[], None] = lambda: None) -> None:
        """Read the page of a run; `then` once it stands there. What cannot be read is said."""
        self.file = file
        self.setPlainText("Reading the run.")

        def found(text: str) -> None:
            if self.file == file:
                self.setPlainText(text)
                then()

        def failed(error: BenchlogError) -> None:
            if self.file == file:
                self.setPlainText(str(error))

        self._work.shelf.read(
            lambda library: page_of(library, file),
            found,
            failed,
            owner=self,
            key=f"one page {id(self)}",
            says="Putting the run on one page",
        )

    def copy_all(self) -> None:
        """Put the whole text on the clipboard, where it is in sight."""
        if self.isHidden():
            return
        QGuiApplication.clipboard().setText(self.toPlainText())
        self._work.say("The page is on the clipboard.")

    def move_by(self, step: int) -> None:
        """Move it by some lines."""
        bar = self.verticalScrollBar()
        bar.setValue(bar.value() + step)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Letters of one width, as large as the widest line allows."""
        super().resizeEvent(event)
        font = QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont)
        for pixels in range(MOST, LEAST - 1, -1):
            font.setPixelSize(pixels)
            if QFontMetricsF(font).horizontalAdvance("0" * (WIDE + 2)) <= self.viewport().width():
                break
        self.setFont(font)
