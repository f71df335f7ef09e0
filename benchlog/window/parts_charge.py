"""Before ohms: one voltage reading of the reservoirs, and one of the nodes to be read; kept with its time."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from benchlog.domain.charge import Charge, volts
from benchlog.errors import BadInput
from benchlog.store import rounds
from benchlog.store.library import Library
from benchlog.store.query_unit import BoardsState, boards_state
from benchlog.window.forms import Fields, press, row
from benchlog.window.page import label
from benchlog.window.parts_in_hand import InHand
from benchlog.window.shapes import Mark, Shape

HOW = (
    "Black lead clipped, one hand. Each reservoir across its own terminals, the highest counts; then the nodes between "
    "which ohms are to be read. Below 1 V is asked for the hands, below 10 mV for ohms: what is left there is divided "
    "by the meter's test current. A small number says nothing of a lead that touched nothing."
)
RESERVOIRS, NODES = "Across the reservoirs, V", "At the nodes to be read, V"


class ChargeView(QWidget):
    """Two fields and what follows from them; `left` when it is kept, or given up."""

    left = Signal()

    def __init__(self, hand: InHand) -> None:
        super().__init__()
        self._hand = hand
        self.fields = Fields(least=240, most=2)
        self.reservoirs = self.fields.text(RESERVOIRS, placeholder="0.4")
        self.nodes = self.fields.text(NODES, placeholder="2 mV")
        self._mark = Mark(hand.work.look, side=15)
        self.says = label("", wrap=True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(label("What the boards hold", "title"))
        column.addWidget(label(HOW, "soft", wrap=True))
        column.addWidget(self.fields)
        said = row(self._mark, stretch=False)
        said.addWidget(self.says, 1)
        column.addLayout(said)
        column.addLayout(row(press("Keep it", self.submit, main=True), press("Back", self.left.emit)))
        column.addStretch(1)
        self.fields.finished.connect(self.submit)
        self.fields.left.connect(self.left)
        for field in (self.reservoirs, self.nodes):
            field.textChanged.connect(lambda _: self._tell())

    def begin(self) -> None:
        """Two empty fields: what was read before says nothing of now."""
        for field in (self.reservoirs, self.nodes):
            field.clear()
        self._tell()
        self.fields.begin()

    def _read(self) -> Charge:
        """What was typed; `BadInput` for what is no voltage."""
        return Charge(_typed(self.reservoirs, "reservoirs"), _typed(self.nodes, "nodes"))

    def _tell(self) -> None:
        """Say what follows from the volts as far as they are typed."""
        try:
            left = self._read()
        except BadInput as error:
            self._say(Shape.DOUBT, str(error))
            return
        shape = {True: Shape.GOOD, False: Shape.DOUBT, None: Shape.TO_DO}[left.dead]
        self._say(Shape.HIGH if left.shocks else shape, left.said or "Nothing was read yet.")

    def _say(self, shape: Shape, text: str) -> None:
        self._mark.show_shape(shape)
        self.says.setText(text)

    def submit(self) -> None:
        """Keep the volts, and with them whether ohms are to be believed."""
        hand = self._hand
        visit, pass_ = hand.book.visit, hand.into.round or hand.book.round
        try:
            left = self._read()
        except BadInput as error:
            self._say(Shape.DOUBT, str(error))
            return
        if visit is None or not left.said:
            self._say(Shape.DOUBT, hand.cannot_keep() or "Type what the meter shows.")
            return
        book = hand.book

        def work(library: Library) -> BoardsState:
            rounds.keep_charge(library, visit.id, pass_.id if pass_ is not None else "", left)
            return boards_state(library.folder, visit)

        def done(state: BoardsState) -> None:
            book.boards_state, book.charge = state, left
            hand.say(left.said)
            self.left.emit()

        hand.edit(work, done)

    def typed(self, event: QKeyEvent) -> bool:
        """Escape leaves, where no field has the keys."""
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        return True


def _typed(field: QLineEdit, what: str) -> float | None:
    return volts(field.text(), what)
