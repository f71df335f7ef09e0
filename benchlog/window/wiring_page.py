"""The page that says how a relay and a pedal are wired: a shipped text to read, nothing else."""

from PySide6.QtWidgets import QFrame, QTextBrowser, QVBoxLayout

from benchlog import resources, textfile
from benchlog.window import words
from benchlog.window.page import Page
from benchlog.window.work import Work


class WiringPage(Page):
    """The text is read when the page is first shown."""

    title = words.WIRING

    def __init__(self, work: Work) -> None:
        super().__init__(work)
        self.text = QTextBrowser()
        self.text.setAccessibleName("How a relay and a pedal are wired")
        self.text.setFrameShape(QFrame.Shape.NoFrame)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 12, 10)
        column.addWidget(self.text)

    def came(self) -> None:
        """Show the text, from a file that is read elsewhere; arrows scroll it."""
        self.text.setFocus()
        if not self.text.document().isEmpty():
            return
        self.work.shelf.off_thread(
            lambda: textfile.read_text(resources.path("help", "wiring.md")),
            self.text.setMarkdown,
            self.work.say_error,
            owner=self,
            key="wiring",
        )
