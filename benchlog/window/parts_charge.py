"""Before ohms: one voltage reading of the reservoirs, and one of the nodes to be read; kept with its time."""

from dataclasses import replace

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from benchlog.domain.charge import Charge, volts
from benchlog.domain.quantity import show
from benchlog.domain.reading import Function
from benchlog.errors import WATCH, BadInput, BenchlogError
from benchlog.recorder.client import messages
from benchlog.store import edit, rounds
from benchlog.store.ids import new_id
from benchlog.store.library import Library
from benchlog.store.query_unit import BoardsState, boards_state
from benchlog.store.taken import reading_of
from benchlog.window.forms import ENTER, Fields, press, row
from benchlog.window.page import label
from benchlog.window.parts_in_hand import InHand
from benchlog.window.shapes import Mark, Shape

HOW = (
    "Black lead clipped, one hand. Each reservoir across its own terminals, the highest counts; then the nodes between "
    "which ohms are to be read. Below 1 V is asked for the hands, below 10 mV for ohms: what is left there is divided "
    "by the meter's test current. A small number says nothing of a lead that touched nothing. Enter in an empty field "
    "reads it with the walking meter."
)
RESERVOIRS_READ, NODES_READ = "reservoirs", "nodes"
"""What the two readings are called that a meter takes."""
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
        self._asked: tuple[str, QLineEdit] | None = None
        """The id of the reading that is awaited, and the field it goes into."""
        for field in (self.reservoirs, self.nodes):
            # Before the fields' own: Enter in an empty one has the meter read it.
            field.installEventFilter(self)
        hand.work.runner.taken.connect(self._taken)
        hand.work.runner.noticed.connect(self._noticed)
        self.fields.finished.connect(self.submit)
        self.fields.left.connect(self.left)
        for field in (self.reservoirs, self.nodes):
            field.textChanged.connect(lambda _: self._tell())

    def begin(self) -> None:
        """Two empty fields: what was read before says nothing of now."""
        self._asked = None
        for field in (self.reservoirs, self.nodes):
            field.clear()
        self._tell()
        self.fields.begin()

    # --- read by the walking meter -------------------------------------------------------------------

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Enter in an empty field reads it with the walking meter, where there is one."""
        if (
            event.type() != QEvent.Type.KeyPress
            or not isinstance(event, QKeyEvent)
            or event.key() not in ENTER
        ):
            return False
        if not isinstance(watched, QLineEdit) or watched.text().strip() or not self._hand.job:
            return False
        if self._asked is None and not event.isAutoRepeat():
            self._read_with_meter(watched)
        return True

    def _read_with_meter(self, field: QLineEdit) -> None:
        hand = self._hand
        request = messages.Take(
            id=0,
            reading=new_id(),
            job=hand.job,
            designator=RESERVOIRS_READ if field is self.reservoirs else NODES_READ,
            function=Function.VOLTS_DC.value,
            part="",
        )
        self._asked = request.reading, field

        def refused(error: BenchlogError) -> None:
            self._asked = None
            self._say(Shape.DOUBT, str(error))

        self._say(Shape.TO_DO, f"Being read with {hand.job}: hold the tips there.")
        hand.work.runner.take(request, refused)

    def _taken(self, message: messages.Taken) -> None:
        """What the meter read: kept as a reading of this visit on no part, and written into its field."""
        if self._asked is None or message.reading != self._asked[0]:
            return
        (_, field), self._asked = self._asked, None
        hand, visit = self._hand, self._hand.book.visit
        body = {name: getattr(message, name) for name in message.__struct_fields__}
        reading = replace(reading_of({**body, "session": ""}), visit=visit.id if visit is not None else "")
        hand.work.shelf.edit(
            lambda library: edit.keep_reading(library, reading),
            lambda _: hand.work.runner.kept(reading.id),
            hand.work.say_error,
            owner=self,
            quiet=True,
        )
        if reading.value is None:
            self._say(Shape.DOUBT, f"{message.job} gave no number: {reading.outcome}.")
        else:
            field.setText(show(reading.value, "V", digits=3))

    def _noticed(self, notice: messages.Notice) -> None:
        if self._asked is not None and notice.place in (self._hand.job, WATCH):
            self._asked = None
            fix = f"; {notice.fix}" if notice.fix else ""
            self._say(Shape.DOUBT, f"{notice.place}: {notice.problem}{fix}.")

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
