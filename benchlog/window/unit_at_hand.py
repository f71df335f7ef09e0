"""The unit at hand: its data, its visit, its other side, its boards."""

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QLineEdit, QPlainTextEdit, QVBoxLayout, QWidget

from benchlog.domain.quantity import show
from benchlog.domain.unit import Unit, Visit
from benchlog.errors import BadInput, BenchlogError
from benchlog.window import words
from benchlog.window.fault_list import FaultList
from benchlog.window.forms import GAP, Fields, TwoSides, empty, press, row
from benchlog.window.onward import Onward
from benchlog.window.page import card, label
from benchlog.window.unit_acts import AtHand, day, mirror_of, mirror_text, volts
from benchlog.window.unit_parts import UnitParts
from benchlog.window.work import Work

MOST_EARLIER = 6
"""So many earlier visits are listed."""


class UnitAtHand(QWidget):
    """What is known of the unit at hand and what can be changed of it.

    `change` asks for the form of its data, `another` for the list of units; `taken_in` carries complaint and
    mains of a new visit, `handed_over` that the visit is over, and whether that was asked about (`ask_first`),
    `kept` that it stays after all, `mirror_changed` rules and pairs.
    """

    change = Signal()
    another = Signal()
    taken_in = Signal(str, object)
    handed_over = Signal(bool)
    kept = Signal()
    mirror_changed = Signal(object, object)

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._look = look = work.look
        self._at_hand: AtHand | None = None
        self._warned = False
        self._visit_facts: tuple[object, ...] = ()
        self._name = label("", "title", wrap=True)
        self._data = label("", wrap=True)
        self._note = label("", "soft", wrap=True)
        self.visit = QVBoxLayout()
        self.parts = UnitParts(look)
        self.mirror = QPlainTextEdit()
        self.mirror.setPlaceholderText("R1## <-> R2##\nQ1##BE <-> Q2##BE\n*L <-> *R")
        self.mirror.setAccessibleName("rules for the other side, one a line")
        self.mirror.setTabChangesFocus(True)
        self.mirror.setFixedHeight(self.mirror.fontMetrics().lineSpacing() * 5 + 24)
        self.mirror_faults = FaultList(look)
        self._keep = press("Keep the rules", self.keep_mirror)
        self.mirror.textChanged.connect(self._mirror_typed)
        self.complaint, self.mains = QLineEdit(), QLineEdit()
        self.onward = Onward(work)
        self.onward.take_in.connect(self.take_in)
        self._lay_out()

    def _lay_out(self) -> None:
        sides = TwoSides(narrow=820, shares=(4, 5))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addWidget(sides)
        column.addStretch(1)
        data = card()
        inner = QVBoxLayout(data)
        for widget in (self._name, self._data, self._note):
            inner.addWidget(widget)
        inner.addLayout(
            row(press("Change its data", self.change.emit), press("Another unit", self.another.emit))
        )
        sides.left.addWidget(data)
        visit = card()
        about = QVBoxLayout(visit)
        self.visit = QVBoxLayout()
        about.addLayout(self.visit)
        # Never made anew: what is asked for by it may change what stands above.
        about.addWidget(self.onward)
        self.earlier = QVBoxLayout()
        about.addLayout(self.earlier)
        sides.left.addWidget(visit)
        sides.left.addWidget(label(words.CAUTION, "soft", wrap=True))
        sides.left.addStretch(1)
        boards = card()
        QVBoxLayout(boards).addWidget(self.parts)
        sides.right.addWidget(boards)
        sides.right.addWidget(self._other_side())
        sides.right.addStretch(1)

    def _other_side(self) -> QFrame:
        made = card()
        column = QVBoxLayout(made)
        column.addWidget(label("Other side", "head"))
        how = "Which part is the same one on the other side: # is one digit, * any text. A line without them is a pair."
        column.addWidget(label(how, "soft", wrap=True))
        for widget in (self.mirror, self.mirror_faults):
            column.addWidget(widget)
        column.addLayout(row(self._keep))
        return made

    # --- what is shown -------------------------------------------------------------------------------

    def put(self, at_hand: AtHand) -> None:
        """Show the unit as the library has it now; what is being typed stays."""
        before, self._at_hand = self._at_hand, at_hand
        unit = at_hand.line.unit
        self._name.setText(unit.name)
        self._data.setText(about(unit) or "Nothing more is known of it.")
        self._note.setText(unit.note)
        self._note.setVisible(bool(unit.note))
        if before is None or before.line.unit != unit:
            self.mirror.setPlainText(mirror_text(unit))
            self._mirror_typed()
        another = before is None or before.line.unit.id != unit.id
        if another:
            self.parts.show_boards(())
        self.parts.show_boards(at_hand.boards)
        self.onward.lead_from(at_hand)
        facts = (unit.id, at_hand.visits, at_hand.open_items, at_hand.line.parts > 0)
        if facts != self._visit_facts:
            self._visit_facts = facts
            self._show_visit(at_hand)

    def _show_visit(self, at_hand: AtHand) -> None:
        empty(self.visit)
        empty(self.earlier)
        self._warned = False
        visit = at_hand.visit
        if visit is not None:
            self._show_open(visit, at_hand)
        else:
            self._show_intake(first=not at_hand.visits)
        for earlier in at_hand.earlier[:MOST_EARLIER]:
            came, went = day(earlier.opened), day(earlier.closed or earlier.opened)
            said = f"{earlier.label}, {came}" if came == went else f"{earlier.label}, {came} to {went}"
            self.earlier.addWidget(
                label(": ".join(text for text in (said, earlier.complaint) if text), "soft", wrap=True)
            )

    def _show_open(self, visit: Visit, at_hand: AtHand) -> None:
        self.visit.addWidget(label(f"{visit.label[:1].upper()}{visit.label[1:]}", "head"))
        mains = f", mains {show(visit.mains, 'V')} at the bench" if visit.mains else ""
        self.visit.addWidget(label(f"On the bench since {day(visit.opened)}{mains}.", "soft", wrap=True))
        if visit.complaint:
            self.visit.addWidget(label(visit.complaint, wrap=True))
        self.open_says = label("", wrap=True)
        if at_hand.open_items:
            items = "\n".join(f"•  {item.text}" for item in at_hand.open_items)
            self.open_says.setText(f"Open list:\n{items}")
        self.open_says.setVisible(bool(at_hand.open_items))
        self.visit.addWidget(self.open_says)
        self.hand_over = press("Hand it over", self._hand_over)
        self.not_yet = press("Not yet", self._keep_it)
        self.not_yet.hide()
        self.earlier.addLayout(row(self.hand_over, self.not_yet))

    def _show_intake(self, *, first: bool) -> None:
        self.visit.addWidget(label("Not taken in" if first else "It was here before", "head"))
        says = "A visit keeps what is measured from intake to hand-over."
        self.visit.addWidget(label(says, "soft", wrap=True))
        fields = Fields(least=200, most=2)
        self.complaint, self.mains = QLineEdit(), QLineEdit()
        fields.add("What its owner says is wrong", self.complaint)
        fields.add("Mains at your bench, V (may stay empty)", self.mains)
        fields.finished.connect(self.take_in)
        self.visit_faults = FaultList(self._look)
        for widget in (fields, self.visit_faults):
            self.visit.addWidget(widget)

    # --- what is asked -------------------------------------------------------------------------------

    def take_in(self) -> None:
        """A new visit with what stands in its fields."""
        try:
            mains = volts(self.mains.text())
        except BadInput as error:
            self.visit_faults.tell(error, "This wants a look.")
            self.mains.setFocus()
            return
        self.taken_in.emit(" ".join(self.complaint.text().split()), mains)

    def _hand_over(self) -> None:
        """The visit is over; whoever hears it asks first where something speaks against that."""
        self.handed_over.emit(self._warned)

    def ask_first(self, reasons: Sequence[str]) -> None:
        """Say what speaks against handing it over; a second press of another word does it all the same."""
        self._warned = True
        self.hand_over.setText("Hand it over as it is")
        self.open_says.setText("\n".join(reasons))
        self.open_says.show()
        self.not_yet.show()
        # A hand that presses twice must not have meant it.
        self.not_yet.setFocus()

    def _keep_it(self) -> None:
        """It stays on the bench."""
        self.kept.emit()
        if self._at_hand is not None:
            self._show_visit(self._at_hand)

    def _mirror_typed(self) -> None:
        at_hand = self._at_hand
        same = at_hand is None or self.mirror.toPlainText().strip() == mirror_text(at_hand.line.unit)
        self._keep.setEnabled(not same)
        self.mirror_faults.clear()

    def keep_mirror(self) -> None:
        """Ask for the rules as they stand there."""
        self.mirror_changed.emit(*mirror_of(self.mirror.toPlainText()))

    def refuse_mirror(self, error: BenchlogError) -> None:
        """Rules that cannot be read; what was typed stays."""
        self.mirror_faults.tell(error, "These rules cannot be kept yet.")


def about(unit: Unit) -> str:
    """What is known of a unit, in one line."""
    serial = f"serial number {unit.serial}" if unit.serial else ""
    mains = f"{show(unit.mains, 'V')} mains" if unit.mains else ""
    return " · ".join(text for text in (f"{unit.maker} {unit.model}".strip(), serial, mains) if text)
