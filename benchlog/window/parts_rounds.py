"""The rounds of this visit: how far each is, and going on with one where it stopped, weeks later too."""

from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.domain.unit import Round
from benchlog.store import rounds
from benchlog.store.ids import utc_moment
from benchlog.store.rounds import RoundLine
from benchlog.window import words
from benchlog.window.forms import press, row
from benchlog.window.page import label
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_walk import Walk
from benchlog.window.rows import Row, Rows
from benchlog.window.shapes import Shape


class RoundsView(QWidget):
    """A list of rounds, newest first; `left` when one was taken in hand, or none."""

    left = Signal()

    def __init__(self, hand: InHand) -> None:
        super().__init__()
        self._hand = hand
        self._lines: tuple[RoundLine, ...] = ()
        self.list = Rows(hand.work.look, "the rounds of this visit", most=12)
        self.list.taken.connect(self._take)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(label("Rounds of this visit", "title"))
        how = "Enter goes on with a round where it stopped. What was read in the others stays as it is."
        column.addWidget(label(how, "soft", wrap=True))
        column.addWidget(self.list)
        column.addLayout(row(press("Back", self.left.emit)))
        column.addStretch(1)

    def begin(self) -> None:
        """Read them, and show them."""
        visit = self._hand.book.visit
        if visit is None:
            return

        def show(lines: tuple[RoundLine, ...]) -> None:
            self._lines = lines
            total = len(self._hand.book.rows)
            self.list.put(_row(one, total) for one in lines)
            if lines and not self.list.key:
                self.list.setCurrentRow(0)
            self.list.setFocus()

        self._hand.work.shelf.read(
            lambda folder: rounds.lines(folder, visit.id), show, owner=self, key="rounds"
        )

    def _take(self, id_: str) -> None:
        """Go on with the round that is marked."""
        wanted = next((one.round for one in self._lines if one.round.id == id_), None)
        if wanted is None:
            return
        before = self._hand.book.round
        if before is None or before.id != wanted.id or wanted.ended is not None:
            self._go_on_with(wanted)
        self.left.emit()

    def _go_on_with(self, again: Round) -> None:
        """Take a round up where it stopped."""
        hand = self._hand
        before = hand.into.round or hand.book.round

        def done(_: None) -> None:
            hand.walk = Walk()
            hand.book.skipped.clear()
            hand.tell_round(replace(again, ended=None))

        hand.edit(lambda library: rounds.go_on(library, again, before), done, again=True)

    def typed(self, event: QKeyEvent) -> bool:
        """Escape and Backspace leave; the list has the rest."""
        if event.key() in (Qt.Key.Key_Escape, Qt.Key.Key_Backspace):
            self.left.emit()
        else:
            self.list.keyPressEvent(event)
        return True


def _row(one: RoundLine, total: int) -> Row:
    parts = one.parts if one.parts is not None else total
    began = utc_moment(one.round.started).astimezone().strftime("%d %b %Y %H:%M").lstrip("0")
    state = "under way" if one.round.ended is None else "ended"
    head = words.ROUND[one.round.kind] + (f": {one.round.title}" if one.round.title else "")
    shape = Shape.HERE if one.round.ended is None else Shape.GOOD if one.read >= parts else Shape.TO_DO
    return Row(one.round.id, head, f"begun {began}, {state}", f"{one.read} of {parts}", shape)
