"""The fields of the six numbers: Enter goes from one to the next, and what is wrong stands under its own field.

The number pad alone suffices: in the field of the rails `+` says that there is one, `-` that there are two;
`*` goes back.
"""

from collections.abc import Callable, Mapping

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from benchlog.domain.sixtyped import Field
from benchlog.window.forms import ENTER, Columns
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.shapes import Mark, Shape

ONE_RAIL, TWO_RAILS = "+", "+/-"
_NAMES = {
    Field.MAINS: ("Mains", "V"),
    Field.RAIL: ("Rails at full mains", "V"),
    Field.CHANNELS: ("Channels", ""),
    Field.IDLE: ("Idle", "mV"),
    Field.ACROSS: ("across", "ohm"),
    Field.LAMP: ("Lamp", "W"),
}
_HINTS = {
    Field.RAIL: "+ one rail, - two",
    Field.CHANNELS: "1 or 2",
    Field.IDLE: "of one channel",
    Field.ACROSS: "the resistor it is read on",
    Field.LAMP: "0 for none",
}
_BACK = "*"


class NumberField(QWidget):
    """One field with its name and unit; a fault takes the place of its hint. `changed` with what stands in it."""

    changed = Signal()

    def __init__(self, look: Look, field: Field) -> None:
        super().__init__()
        name, unit = _NAMES[field]
        self.line = QLineEdit()
        self.line.setAccessibleName(f"{name}, {unit}" if unit else name)
        self._hint = _HINTS.get(field, "")
        self._below = label(self._hint, "soft", wrap=True)
        self._mark = Mark(look, Shape.DOUBT, 14)
        self._mark.hide()
        above = label(f"{name}, {unit}" if unit else name, "soft")
        above.setBuddy(self.line)
        under = QHBoxLayout()
        under.setSpacing(6)
        under.addWidget(self._mark, 0, Qt.AlignmentFlag.AlignTop)
        under.addWidget(self._below, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3)
        column.addWidget(above)
        column.addWidget(self.line)
        column.addLayout(under)
        column.addStretch(1)
        self.line.textEdited.connect(lambda _: self.tell(""))
        self.line.textChanged.connect(lambda _: self.changed.emit())

    @property
    def text(self) -> str:
        """What stands in it."""
        return self.line.text()

    def put(self, text: str) -> None:
        """Begin with this."""
        self.line.setText(text)

    @property
    def fault(self) -> str:
        """What is told to be wrong with it; empty where nothing is."""
        return self._below.text() if self._mark.isVisibleTo(self) else ""

    def tell(self, fault: str) -> None:
        """Say what is wrong, or nothing any more."""
        self._below.setText(fault or self._hint)
        self._mark.setVisible(bool(fault))
        self.line.setAccessibleDescription(fault or self._hint)

    def types(self, char: str) -> bool:
        """Whether a character means something else here than itself."""
        del char
        return False


class RailField(NumberField):
    """The rails: the sign stands before the figure, and typing a sign sets it wherever the cursor is."""

    def __init__(self, look: Look, field: Field) -> None:
        super().__init__(look, field)
        self.sign = TWO_RAILS
        self._shown = QLabel(self.line)
        self._shown.setProperty("rank", "head")
        self._shown.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.line.installEventFilter(self)
        self.line.textEdited.connect(self._pasted)
        self._show()

    @property
    def text(self) -> str:
        """Sign and figure."""
        return f"{self.sign}{self.line.text()}"

    def put(self, text: str) -> None:
        """Begin with this; without a sign it is the one there was."""
        figure = text.strip().lstrip("+-/±")
        written = text.strip().removesuffix(figure).strip()
        if written:
            self.sign = ONE_RAIL if written == ONE_RAIL else TWO_RAILS
        self.line.setText(figure)
        self._show()

    def types(self, char: str) -> bool:
        """A sign: `+` alone is one rail, whatever else two."""
        if not char or char not in "+-/±":
            return False
        self.sign = ONE_RAIL if char == "+" else TWO_RAILS
        self.line.setModified(True)
        self.tell("")
        self._show()
        return True

    def _pasted(self, text: str) -> None:
        if text.strip()[:1] in ("+", "-", "±"):
            self.put(text)

    def _show(self) -> None:
        self._shown.setText(self.sign)
        self._shown.adjustSize()
        self.line.setTextMargins(self._shown.width() + 3, 0, 0, 0)
        self.line.setAccessibleDescription("two rails" if self.sign == TWO_RAILS else "one rail")
        self._place()
        self.changed.emit()

    def _place(self) -> None:
        self._shown.move(10, (self.line.height() - self._shown.height()) // 2)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """The sign stays in the middle of the field's height."""
        if watched is self.line and isinstance(event, QResizeEvent):
            self._place()
        return False


class SixFields(Columns):
    """All fields; `changed` with any of them, `finished` behind the last, `back` before the first.

    `left` on Escape. `may_go_on` says whether a field may be left by Enter.
    """

    changed = Signal()
    finished = Signal()
    back = Signal()
    left = Signal()

    def __init__(self, look: Look, may_go_on: Callable[[Field], bool]) -> None:
        super().__init__(150, 3)
        self._may_go_on = may_go_on
        self._asked: tuple[Field, ...] = tuple(Field)
        self.cells = {
            field: (RailField if field is Field.RAIL else NumberField)(look, field) for field in Field
        }
        for cell in self.cells.values():
            cell.line.installEventFilter(self)
            cell.changed.connect(self.changed)
        self.put(self.cells.values())

    def drop(self, widget: QWidget) -> None:
        """A field that is not asked for just now may come back."""
        widget.hide()

    def ask(self, fields: tuple[Field, ...]) -> None:
        """Show these alone."""
        self._asked = fields
        self.put([self.cells[field] for field in fields])

    def clear(self) -> None:
        """Nothing stands there, and nothing was typed."""
        for cell in self.cells.values():
            cell.put("")
            cell.tell("")

    def fill(self, texts: Mapping[Field, str]) -> None:
        """Begin with these; what was typed meanwhile stays."""
        for field, text in texts.items():
            line = self.cells[field].line
            if not line.isModified():
                self.cells[field].put(text)
                if line.hasFocus():
                    line.selectAll()

    @property
    def texts(self) -> dict[Field, str]:
        """What stands in every field."""
        return {field: cell.text for field, cell in self.cells.items()}

    def tell(self, faults: Mapping[Field, str]) -> None:
        """Say what is wrong under each field, and put the cursor into the first of them."""
        for field in self._asked:
            self.cells[field].tell(faults.get(field, ""))
        first = next((field for field in self._asked if field in faults), None)
        if first is not None:
            self.enter(first)

    def enter(self, field: Field) -> None:
        """Put the cursor into a field, what stands there ready to be typed over."""
        line = self.cells[field].line
        line.setFocus(Qt.FocusReason.TabFocusReason)
        line.selectAll()

    def begin(self) -> None:
        """Into the first field."""
        self.enter(self._asked[0])

    def end(self) -> None:
        """Into the last one."""
        self.enter(self._asked[-1])

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Enter and the arrows go on and back, a sign sets which rails there are, Escape leaves."""
        if event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return False
        field = next((field for field, cell in self.cells.items() if cell.line is watched), None)
        if field is None:
            return False
        key, char = event.key(), event.text()
        if key == Qt.Key.Key_Escape:
            self.left.emit()
        elif key in ENTER:
            # A key that is held down must not run through all of them.
            if not event.isAutoRepeat() and self._may_go_on(field):
                self._step(field, 1)
        elif key == Qt.Key.Key_Down:
            self._step(field, 1)
        elif key == Qt.Key.Key_Up or char == _BACK:
            self._step(field, -1)
        else:
            return self.cells[field].types(char)
        return True

    def _step(self, field: Field, by: int) -> None:
        at = self._asked.index(field) + by
        if at < 0:
            self.back.emit()
        elif at >= len(self._asked):
            self.finished.emit()
        else:
            self.enter(self._asked[at])
