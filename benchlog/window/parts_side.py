"""The left side of the Parts page: the round, the words that narrow the list, the list, the line, and what stands."""

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from benchlog.domain.lcr import LcrState
from benchlog.domain.unit import RoundKind
from benchlog.window import words
from benchlog.window.elided import Elided
from benchlog.window.flow import Flow
from benchlog.window.keys import PARTS, Action
from benchlog.window.page import label
from benchlog.window.parts_book import Book
from benchlog.window.parts_current import small_button
from benchlog.window.parts_field import Field
from benchlog.window.parts_list import Heads, PartsList
from benchlog.window.parts_walk import AS_BEGUN, Walk
from benchlog.window.work import Work

FIND_EXAMPLE = "electrolytics left"


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
        self._work = work
        self._wide = True
        self._order = ""
        self.list = PartsList(work.look)
        self.heads = Heads(work.look, self.list.viewport())
        self.field = Field(at_hand)
        self.round = label("", "head")
        self.title = Elided(work.look, 13)
        self.seek = _Seek()
        self.seek.setPlaceholderText(FIND_EXAMPLE)
        self.seek.setAccessibleName("words that narrow the list")
        self.seek.hide()
        self.look_for = small_button("")
        self.look_for.setToolTip("words that narrow the list: a kind, a board, a result, R301-R348, -film")
        self.take_in = small_button("")
        self.take_in.setToolTip("parts from CSV, TSV or a workbook; a copied table by Ctrl+V")
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
        self.name_keys()
        work.keys_changed.connect(self.name_keys)
        self.look_for.clicked.connect(self.begin_finding)
        self.seek.textEdited.connect(self.narrowed)
        self.seek.entered.connect(self.found)
        self.seek.given_up.connect(self._give_up)
        for kind, button in self.rounds.items():
            button.clicked.connect(lambda _=False, kind=kind: self.begun.emit(kind))

    def _lay(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addLayout(Flow(self.round, self._begin, *self.rounds.values()))
        column.addWidget(self.title)
        column.addWidget(self.seek)
        column.addWidget(self.heads)
        column.addWidget(self.list, 1)
        column.addWidget(self.field)
        column.addLayout(Flow(self.look_for, self.order, self.all_rounds, self.take_in))
        column.addLayout(Flow(self.boards, self.volts, self.free, self.leads, self.lcr))

    def name_keys(self) -> None:
        """Write on each button the key that does the same."""
        for button, action, text in (
            (self.look_for, Action.FIND, "find"),
            (self.all_rounds, Action.ROUNDS, "rounds"),
            (self.take_in, Action.TAKE_IN, "from a list"),
            (self.volts, Action.CHARGE, "measure them"),
        ):
            button.setText(self._with_key(text, action))

    def be_wide(self, *, wide: bool) -> None:
        """With keys on the buttons where there is room for them."""
        if wide is not self._wide:
            self._wide = wide
            self.name_keys()
            self.order.setText(self._with_key(self._order, Action.ORDER))

    def _with_key(self, text: str, action: Action) -> str:
        key = self._work.keys.name(action, PARTS) if self._wide else ""
        return f"{text}: {key}" if key else text

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
        self._order = str(walk.order) if not book.planned or walk.asks else AS_BEGUN
        self.order.setText(self._with_key(self._order, Action.ORDER))
        self.order.setVisible(parts)
        self.all_rounds.setVisible(len(book.rounds) > 1)
        self.look_for.setVisible(parts)
        self.take_in.setVisible(book.unit is not None)

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
