"""What the frame expects of a page, and the small pieces pages are built from."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QLabel, QSizePolicy, QWidget

from benchlog.window.keys import Action
from benchlog.window.work import Work


class Page(QWidget):
    """One place of the window; `title` names its step, `place` the keys that hold on it."""

    title = ""
    place = ""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self.work = work
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, on=False)

    def came(self) -> None:
        """The page is shown from now on."""

    def left(self) -> None:
        """Another page is shown from now on."""

    def act(self, action: Action) -> bool:
        """Do what a key asks for; false where it means nothing here just now."""
        del action
        return False

    def typed(self, event: QKeyEvent) -> bool:
        """Take a key press before it is looked up as an action; false where the page does not want it."""
        del event
        return False

    def tread(self, does: str) -> None:
        """A pedal was pressed that takes, skips or undoes; nothing where this page takes no reading."""
        del does

    def open_offer(self) -> None:
        """Open what the window was opened on (`work.offer`), where this page has a use for it."""


def label(text: str = "", rank: str = "", *, wrap: bool = False) -> QLabel:
    """A text of a rank of the style sheet: `title`, `head`, `soft`, `danger` or plain."""
    made = QLabel(text)
    made.setTextFormat(Qt.TextFormat.PlainText)
    if rank:
        made.setProperty("rank", rank)
    made.setWordWrap(wrap)
    if wrap:
        made.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
    return made


def card() -> QFrame:
    """A white card with a hairline around it."""
    made = QFrame()
    made.setProperty("card", True)
    return made


def line(*, upright: bool = False) -> QFrame:
    """A hairline."""
    made = QFrame()
    made.setProperty("line", True)
    if upright:
        made.setFixedWidth(1)
    else:
        made.setFixedHeight(1)
    return made
