"""The left side of the Parts page: the round, the words that narrow the list, the list, the line, and what stands."""

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from benchlog.domain.lcr import LcrState
from benchlog.domain.unit import RoundKind
from benchlog.window import words
from benchlog.window.elided import Elided
from benchlog.window.page import label
from benchlog.window.parts_book import Book
from benchlog.window.parts_current import small_button
from benchlog.window.parts_field import Field
from benchlog.window.parts_list import Heads, PartsList
from benchlog.window.parts_walk import AS_BEGUN, Walk
from benchlog.window.work import Work

FIND_EXAMPLE = "electrolytics left"
WIDE_FROM = 300
"""Pixels of width from which round and its buttons stand beside each other."""


class _Seek(QLineEdit):
    """Words that narrow the list; Enter goes on with what is left, Escape takes them away."""

    entered = Signal()
    given_up = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter and Escape are not the page's while words are typed here."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Down):
            self.entered.emit()
        elif event.key() == Qt.Key.Key_Escape:
            self.given_up.emit()
        else:
            super().keyPressEvent(event)


class Side(QWidget):
    """What stands left of the part at hand.

    `narrowed` carries the words as they are typed, `found` that they stand, `begun` the kind of a round that is to
    begin.
    """

    narrowed = Signal(str)
    found = Signal()
    begun = Signal(object)

    def __init__(self, work: Work, at_hand: Callable[[], tuple[Book, int, LcrState]]) -> None:
        super().__init__()
        self.list = PartsList(work.look)
        self.heads = Heads(work.look, self.list.viewport())
        self.field = Field(at_hand)
        self.round = label("", "head")
        self.title = Elided(work.look, 13)
        self.seek = _Seek()
        self.seek.setPlaceholderText(FIND_EXAMPLE)
        self.seek.setAccessibleName("words that narrow the list")
        self.seek.hide()
        self.order = small_button("")
        self.order.setToolTip("in which order the parts are taken; press for the next")
        self.free = small_button("hands-free")
        self.free.setToolTip("takes by itself what the tips come to rest on")
        self.boards = small_button("")
        self.volts = small_button("measure them")
        self.volts.setToolTip("before ohms: what reservoirs and nodes hold, in volts")
        self.leads = small_button("leads not nulled")
        self.leads.setToolTip("hold the tips together, then press")
        self.lcr = small_button("")
        self.lcr.setToolTip("the next frequency; or a line such as @ 1k parallel with the blue meter")
        self.rounds = {kind: small_button(words.ROUND[kind]) for kind in RoundKind}
        self.all_rounds = small_button("rounds")
        self.all_rounds.setToolTip("the rounds of this visit, and going on with one")
        self._begin = label("begin", "soft")
        self._lay()
        self.seek.textEdited.connect(self.narrowed)
        self.seek.entered.connect(self.found)
        self.seek.given_up.connect(self._give_up)
        for kind, button in self.rounds.items():
            button.clicked.connect(lambda _=False, kind=kind: self.begun.emit(kind))

    def _lay(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        self._head = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._head.setSpacing(6)
        self._head.addWidget(self.round)
        self._head.addLayout(_flow(self._begin, *self.rounds.values()), 1)
        column.addLayout(self._head)
        column.addWidget(self.title)
        column.addWidget(self.seek)
        column.addWidget(self.heads)
        column.addWidget(self.list, 1)
        column.addWidget(self.field)
        column.addLayout(_flow(self.order, self.all_rounds))
        column.addWidget(self.free, 0, Qt.AlignmentFlag.AlignLeft)
        column.addLayout(_flow(self.boards, self.volts))
        for button in (self.leads, self.lcr):
            column.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)

    def be_wide(self, *, wide: bool) -> None:
        """Round and buttons beside each other, or one above the other."""
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._head.setDirection(across if wide else down)

    def show_round(self, book: Book, walk: Walk, *, parts: bool) -> None:
        """Tell which round is under way, what it goes over, and which may begin over what the list shows."""
        pass_ = book.round
        self.round.setText(words.ROUND[pass_.kind] if pass_ is not None else "no round yet" if parts else "")
        told = pass_.title if pass_ is not None else ""
        if walk.asks:
            count = len(book.order)
            told = f"{count} {'part' if count == 1 else 'parts'}: {walk.title or 'all'}"
        self.title.say(told)
        self.title.setVisible(bool(told))
        may = {kind: walk.asks or (pass_ is not None and pass_.kind is not kind) for kind in self.rounds}
        for kind, button in self.rounds.items():
            button.setVisible(may[kind] and bool(book.order))
            over = f" over these {len(book.order)}" if walk.asks or book.planned else ""
            button.setToolTip(f"begin a round {button.text()}{over}")
        self._begin.setVisible(any(may.values()) and bool(book.order))
        self.order.setText(walk.order if not book.planned or walk.asks else AS_BEGUN)
        self.order.setVisible(parts)
        self.all_rounds.setVisible(len(book.rounds) > 1)

    def ask_charge(self, *, wanted: bool) -> None:
        """Whether the volts that the boards hold are still to be read."""
        self.volts.setVisible(wanted)

    def begin_finding(self) -> None:
        """Type words."""
        self.seek.show()
        self.seek.setFocus()
        self.seek.selectAll()

    def show_words(self, text: str) -> None:
        """Show the words the list is narrowed by, where they were not typed here."""
        if self.seek.text() != text:
            self.seek.setText(text)
        if not self.seek.hasFocus():
            self.settle()

    def settle(self) -> None:
        """The words stand; without any the field goes."""
        self.seek.setVisible(bool(self.seek.text().strip()))

    def _give_up(self) -> None:
        self.seek.clear()
        self.narrowed.emit("")
        self.found.emit()


def _flow(*widgets: QWidget | QPushButton) -> QHBoxLayout:
    row = QHBoxLayout()
    row.setSpacing(5)
    for widget in widgets:
        row.addWidget(widget)
    row.addStretch(1)
    return row
