"""Sentences that block nothing: they lie over the header until they are read or have had their time."""

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget
from shiboken6 import isValid

from benchlog.window import shapes
from benchlog.window.elided import Elided
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.shapes import Shape

STAYS = 12_000
"""Milliseconds a sentence stands; a grave one stands until it is put away."""
MOST = 3


class Notice(QWidget):
    """One sentence with its mark and a way to put it away; `left` when it was, `unfold` when the others are wanted."""

    left = Signal()
    unfold = Signal()

    def __init__(self, look: Look, text: str, *, grave: bool) -> None:
        super().__init__()
        self._look = look
        self.grave = grave
        self.text = text
        self.gone = False
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)
        row = QHBoxLayout(self)
        # Low, for as long as it stands it lies over something.
        row.setContentsMargins(14, 5, 8, 5)
        mark = shapes.Mark(look, Shape.STOP if grave else Shape.DOUBT)
        row.addWidget(mark, 0, Qt.AlignmentFlag.AlignTop)
        row.addSpacing(6)
        self._words = label(text, wrap=True)
        self._words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._words.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        row.addWidget(self._words, 1)
        self._brief = Elided(look, 15)
        self._brief.say(text)
        self._brief.hide()
        row.addWidget(self._brief, 1)
        self.more = self._small("", self.unfold.emit)
        away = self._small("put away", self.put_away)
        for button in (self.more, away):
            row.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)
        self._time = QTimer(self)
        self._time.setSingleShot(True)
        self._time.setInterval(STAYS)
        self._time.timeout.connect(self.put_away)

    @staticmethod
    def _small(text: str, does: Callable[[], None]) -> QPushButton:
        button = QPushButton(text)
        button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        button.setProperty("small", True)
        button.clicked.connect(lambda _=False: does())
        return button

    def stand(self, *, shown: bool, brief: bool, more: str) -> None:
        """Stand there whole, in one line, or not at all; its time runs only while it can be read."""
        self._words.setVisible(not brief)
        self._brief.setVisible(brief)
        self.more.setText(more)
        self.more.setVisible(bool(more))
        self.setVisible(shown)
        if self.grave or not shown:
            self._time.stop()
        elif not self._time.isActive():
            self._time.start()

    def put_away(self) -> None:
        """Take it off the window."""
        self.gone = True
        self.hide()
        self.deleteLater()
        self.left.emit()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """A card with an edge of its colour."""
        theme = self._look.theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(theme.danger if self.grave else theme.doubt, 2))
        painter.setBrush(theme.card)
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(2, 2, -2, -2), 8, 8)
        painter.end()


class Notices(QWidget):
    """The newest few sentences, and what is being waited for.

    The newest lies over the page, and the newest grave one; the others are unfolded where somebody wants them. While
    a unit is live there is one line at most, the grave one before the others.
    """

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._standing: list[Notice] = []
        self._live = self._unfolded = False
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(10, 0, 10, 0)
        self._column.setSpacing(2)
        self._waiting = QLabel()
        self._waiting.setTextFormat(Qt.TextFormat.PlainText)
        self._waiting.setProperty("rank", "soft")
        self._waiting.setContentsMargins(14, 4, 4, 4)
        self._waiting.setAutoFillBackground(True)
        self._waiting.hide()
        self._column.addWidget(self._waiting)

    def say(self, text: str, grave: bool) -> None:
        """Show a sentence; the same one again only once."""
        standing = self.standing()
        for old in standing:
            if old.text == text:
                old.put_away()
        spare = max(0, len(standing) - MOST + 1)
        for old in sorted(standing, key=lambda one: one.grave)[:spare]:
            old.put_away()
        notice = Notice(self._look, text, grave=grave)
        notice.left.connect(self._arrange)
        notice.unfold.connect(self._fold)
        self._standing.append(notice)
        self._column.addWidget(notice)
        self._unfolded = False
        self._arrange()

    def be_live(self, *, live: bool) -> None:
        """Whether the unit is live: what has to be seen then must not be covered."""
        if live != self._live:
            self._live, self._unfolded = live, False
            self._arrange()

    def _fold(self) -> None:
        self._unfolded = not self._unfolded
        self._arrange()

    def _arrange(self) -> None:
        """Show what may be shown now."""
        standing = self.standing()
        leads = [*[one for one in standing if one.grave][-1:], *standing[-1:]]
        leads = leads[:1] if self._live else leads
        others = len([one for one in standing if one not in leads])
        fold = "fewer" if self._unfolded else f"+{others} more"
        brief = self._live and not self._unfolded
        for one in standing:
            more = fold if others and one is leads[-1] else ""
            one.stand(shown=one in leads or self._unfolded, brief=brief, more=more)
        self._waiting.setVisible(bool(self._waiting.text()) and not (self._live and standing))

    def standing(self) -> list[Notice]:
        """The sentences on the window now, the oldest first."""
        self._standing = [one for one in self._standing if isValid(one) and not one.gone]
        return list(self._standing)

    def take_back(self, begins: str) -> None:
        """Put away what is true no longer: every sentence that begins so."""
        for one in self.standing():
            if one.text.startswith(begins):
                one.put_away()

    def wait(self, text: str) -> None:
        """Say what is being waited for; an empty text when nothing is."""
        self._waiting.setText(f"{text} ..." if text else "")
        self._arrange()


class Above(QWidget):
    """What comes and goes at the top of the window lies over the rest: nothing moves under a hand about to click."""

    def __init__(self, over: QWidget, *widgets: QWidget) -> None:
        super().__init__(over)
        self._over = over
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)
        for widget in widgets:
            self._column.addWidget(widget)
        over.installEventFilter(self)
        self.place()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """As wide as what it lies over."""
        if watched is self._over and event.type() == QEvent.Type.Resize:
            self.place()
        return False

    def event(self, event: QEvent) -> bool:
        """Something came or went."""
        handled = super().event(event)
        if event.type() == QEvent.Type.LayoutRequest:
            self.place()
        return handled

    def place(self) -> None:
        """As high as what is shown just now, and no higher."""
        width = self._over.width()
        self._column.activate()
        own = self._column.hasHeightForWidth()
        high = self._column.totalHeightForWidth(width) if own else self._column.totalSizeHint().height()
        self.setGeometry(0, 0, width, high)
        self.raise_()
