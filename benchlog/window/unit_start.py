"""The first page: what to do to begin, and the units the library has."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from benchlog.store.overview import UnitLine
from benchlog.window import words
from benchlog.window.forms import GAP, Columns, TwoSides, press
from benchlog.window.page import label
from benchlog.window.rows import Row, Rows
from benchlog.window.shapes import Shape
from benchlog.window.unit_acts import EXAMPLES, day
from benchlog.window.work import Work


class UnitStart(QWidget):
    """Ways to begin; each signal says which was taken, `taken` carries a unit's id."""

    new = Signal()
    open_file = Signal()
    example = Signal(str)
    offered = Signal()
    taken = Signal(str)

    def __init__(self, work: Work) -> None:
        super().__init__()
        sides = self.sides = TwoSides(narrow=760)
        # Without the list what stands beside or below it would move away under a hand about to click.
        sides.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(label("What is on the bench?", "title"))
        says = (
            "Take a unit in hand: one from the list, a new one, or one from its file. "
            "Everything measured from then on is kept under its visit."
        )
        column.addWidget(label(says, "soft", wrap=True))
        column.addSpacing(GAP)
        column.addWidget(sides)
        column.addStretch(1)
        self.buttons: list[QPushButton] = []
        offer = work.offer
        self._offers = bool(offer.unit_text)
        # What the window was opened on stands before all that a library may have gathered since.
        known, ways = (sides.other, sides.one) if self._offers else (sides.one, sides.other)
        listed, begin = (sides.right, sides.left) if self._offers else (sides.left, sides.right)
        if offer.unit_text:
            self._add(begin, "Take the demo's unit", self.offered.emit, main=True)
            simulated = "It stands on the simulated bench: nothing here is connected to mains."
            begin.addWidget(label(simulated, "soft", wrap=True))
        self._add(begin, "New unit", self.new.emit, main=not offer.unit_text)
        self._add(begin, "Open a unit file", self.open_file.emit)
        begin.addSpacing(GAP)
        begin.addWidget(label("Or look around with an example", "head"))
        examples = Columns(least=170, most=3)
        examples.put([self._example(name, about) for name, about in EXAMPLES.items()])
        begin.addWidget(examples)
        begin.addSpacing(GAP)
        begin.addWidget(label(words.CAUTION, "soft", wrap=True))
        begin.addStretch(1)
        self.list = Rows(work.look, "units of the library")
        self.list.taken.connect(self.taken)
        ways.setMaximumWidth(620)
        self.known = known
        for widget in (label("Units", "head"), self.list):
            listed.addWidget(widget)
        listed.addStretch(1)
        self.known.hide()

    def _add(self, column: QVBoxLayout, text: str, does: object, *, main: bool = False) -> None:
        button = press(text, does, main=main)  # type: ignore[arg-type]  # a signal's emit is a callable
        self.buttons.append(button)
        column.addWidget(button)

    def _example(self, name: str, about: str) -> QWidget:
        made = QWidget()
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3)
        button = press(name.replace("-", " ").capitalize(), lambda: self.example.emit(name))
        button.setAccessibleDescription(about)
        self.buttons.append(button)
        column.addWidget(button)
        column.addWidget(label(about, "soft", wrap=True))
        column.addStretch(1)
        return made

    def show_lines(self, lines: tuple[UnitLine, ...], at_hand: str) -> None:
        """The units, the newest visit first."""
        self.list.put([row_of(line, here=line.unit.id == at_hand) for line in lines])
        self.known.setVisible(bool(lines))
        self.sides.show()

    def begin(self) -> None:
        """The keys go to what was offered, else to the list where there is one, else to the first button."""
        if self.list.count() and not self._offers:
            self.list.setCurrentRow(max(0, self.list.currentRow()))
            self.list.setFocus()
        else:
            self.buttons[0].setFocus()


def row_of(line: UnitLine, *, here: bool) -> Row:
    """A unit as the list shows it."""
    unit, visit = line.unit, line.visit
    serial = f"no. {unit.serial}" if unit.serial else ""
    about = " ".join(text for text in (unit.maker, unit.model, serial) if text)
    stands = "not taken in yet"
    if visit is not None and visit.closed is not None:
        stands = f"{visit.label}, handed over {day(visit.closed)}"
    elif visit is not None:
        stands = visit.label
        if line.round is not None:
            stands = f"{stands}, {words.ROUND[line.round.kind]} {line.taken} of {line.parts}"
    below = " · ".join(text for text in (stands, about) if text)
    return Row(unit.id, unit.name, below, "at hand" if here else "", Shape.HERE if here else None)
