"""What a view beside the list of parts is made of: a heading, a sentence, its body, and the keys that act in it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from benchlog.errors import BenchlogError
from benchlog.window import parts_renew
from benchlog.window.elided import Elided
from benchlog.window.forms import ENTER
from benchlog.window.keycap import KeyCap
from benchlog.window.keys import PARTS, Action
from benchlog.window.page import label
from benchlog.window.parts_in_hand import InHand
from benchlog.window.work import Work

GAP = 5
"""Pixels between two keys."""
PAGE_PIXELS = 300
"""How far the page keys move what scrolls."""

_SCROLLS = {Qt.Key.Key_PageUp: -1, Qt.Key.Key_PageDown: 1}


@dataclass(frozen=True, slots=True)
class Does:
    """A key drawn below a view: what it does, and how it is pressed by mouse."""

    key: str
    does: str
    press: Callable[[], None]
    main: bool = False


class CapRow(QWidget):
    """The keys that act in a view, in as many rows as they need: a key whose word is cut off says nothing."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._look = work.look
        self.caps: list[KeyCap] = []
        self._shown: tuple[Does, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def put(self, does: Iterable[Does]) -> None:
        """Show these keys."""
        self._shown = tuple(does)
        while len(self.caps) < len(self._shown):
            cap = KeyCap(self._look, "", "")
            at = len(self.caps)
            cap.clicked.connect(lambda _=False, at=at: self._shown[at].press())
            cap.setParent(self)
            self.caps.append(cap)
        for at, cap in enumerate(self.caps):
            cap.setVisible(at < len(self._shown))
            if at < len(self._shown):
                one = self._shown[at]
                cap.say(one.does, key=one.key, main=one.main)
        self._place()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width, other rows."""
        super().resizeEvent(event)
        self._place()

    def _place(self) -> None:
        x = y = tall = 0
        for cap in self.caps[: len(self._shown)]:
            size = cap.sizeHint()
            if x and x + size.width() > self.width():
                x, y = 0, y + size.height() + GAP
            cap.setGeometry(x, y, size.width(), size.height())
            x, tall = x + size.width() + GAP, y + size.height()
        self.setFixedHeight(tall)


class Panel(QWidget):
    """One view; `left` when it has done what it was opened for, `quiet` when its fields want no keys any more.

    Subclasses name the action whose key opens and closes them, and whether they take the list's room as well.
    """

    left = Signal()
    quiet = Signal()
    opens = Action.HISTORY
    whole = False

    def __init__(self, work: Work, hand: InHand) -> None:
        super().__init__()
        self.work, self.hand = work, hand
        self.head = Elided(work.look, 20, bold=True)
        self.says = label("", "soft", wrap=True)
        self.caps = CapRow(work)
        self.area: QScrollArea | None = None
        self.note = ""
        """What a key has just done or refused."""
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(8)
        self.column.addWidget(self.head)
        self.column.addWidget(self.says)

    def finish(self, body: QWidget) -> None:
        """Lay the body between sentence and keys."""
        self.column.addWidget(body, 1)
        self.column.addWidget(self.caps)

    def key(self, action: Action) -> str:
        """The key of an action on this page, as it is drawn."""
        return self.work.keys.name(action, PARTS)

    def closing(self) -> Does:
        """The key that leads back to the part."""
        return Does(self.key(self.opens), "back", self.left.emit)

    def tell(self, sentence: str) -> None:
        """Show a sentence below the heading; what a key has just done or refused goes before it."""
        said = self.note or sentence
        self.says.setText(said)
        self.says.setVisible(bool(said))

    def remark(self, sentence: str) -> None:
        """Say what a key has done; it stands until the next key."""
        self.note = sentence
        self.tell("")

    def refuse(self, sentence: str) -> None:
        """Say why a key did nothing."""
        self.remark(sentence)
        if self.work.voice is not None:
            self.work.voice.refused()

    def undo(self) -> None:
        """Take back what was done last, where it was done here."""

        def failed(error: BenchlogError) -> None:
            self.refuse(str(error))

        self.hand.edit(parts_renew.undo, lambda done: self.remark(f"Taken back: {done}."), failed, again=True)

    def begin(self) -> None:
        """It is shown from now on."""
        self.look_again()

    def look_again(self) -> None:
        """The part at hand is another, or something of it changed."""

    def act(self, action: Action) -> bool:
        """Do what a key asks for; false where it means nothing here."""
        del action
        return False

    def typed(self, event: QKeyEvent) -> bool:
        """Take a key press before it is looked up as an action."""
        step = _SCROLLS.get(Qt.Key(event.key()), 0)
        if step:
            self.move_by(step)
        return bool(step) and self.area is not None

    def move_by(self, pages: int) -> None:
        """Move what scrolls, down where positive."""
        if self.area is not None:
            bar = self.area.verticalScrollBar()
            bar.setValue(bar.value() + pages * PAGE_PIXELS)


class AskText(QWidget):
    """A line that is asked for; `given` carries what was typed, `put_away` that the keys go back to the view."""

    given = Signal(str)
    put_away = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._asks = label("", "head")
        self.field = QLineEdit()
        self.field.setMaxLength(200)
        self.field.installEventFilter(self)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self._asks)
        row.addWidget(self.field, 1)
        self.hide()

    def ask(self, asks: str, example: str = "", text: str = "") -> None:
        """Ask for a line."""
        self._asks.setText(asks)
        self.field.setAccessibleName(asks)
        self.field.setPlaceholderText(example)
        self.field.setText(text)
        self.show()
        self.field.setFocus()

    def leave(self) -> None:
        """Nothing is asked for any more."""
        if not self.isHidden():
            self.hide()
            self.put_away.emit()

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:
        """Enter gives it, Escape leaves."""
        if event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return False
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
            return True
        if event.key() in ENTER:
            if not event.isAutoRepeat():
                text = " ".join(self.field.text().split())
                self.leave()
                self.given.emit(text)
            return True
        return False
