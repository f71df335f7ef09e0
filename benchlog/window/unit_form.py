"""The form of a unit: what it is, and when it comes in for the first time what its owner says is wrong."""

from collections.abc import Mapping

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from benchlog.domain.quantity import plain
from benchlog.domain.unit import Unit, UnitFile
from benchlog.errors import BadInput, BenchlogError
from benchlog.window.fault_list import FaultList
from benchlog.window.forms import GAP, Fields, press, row
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.unit_acts import unit_file

_NAMES = {
    "name": ("What you call it", "Hall amplifier"),
    "maker": ("Maker", ""),
    "model": ("Model", ""),
    "serial": ("Serial number", ""),
    "mains": ("Rated mains, V", "230"),
    "complaint": ("What its owner says is wrong", "hums on the right"),
    "note": ("Anything worth knowing", ""),
}


class UnitForm(QWidget):
    """A short form; `filled` carries a UnitFile, `left` that it was given up."""

    filled = Signal(object)
    left = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._head = label("", "title")
        self._says = label("", "soft", wrap=True)
        self._fields = Fields()
        self.inputs: dict[str, QLineEdit] = {}
        self._cells: dict[str, QWidget] = {}
        for key, (name, example) in _NAMES.items():
            field = QLineEdit()
            field.setPlaceholderText(example)
            self.inputs[key] = field
            self._cells[key] = self._fields.add(name, field)
        self.faults = FaultList(look)
        self._go = press("Take it in", self.submit, main=True)
        self._kept: tuple[tuple[str, ...], Mapping[str, str]] = ((), {})
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        for widget in (self._head, self._says, self.faults, self._fields):
            column.addWidget(widget)
        column.addLayout(row(self._go, press("Back", self.left.emit)))
        column.addStretch(1)
        self._fields.finished.connect(self.submit)
        self._fields.left.connect(self.left)

    def begin_new(self) -> None:
        """An empty form for a unit that comes in."""
        self._begin("New unit", "Enter goes on from field to field. The name alone is enough.", "Take it in")
        self._fields.want(self._cells["complaint"], True)
        self._kept = ((), {})
        for field in self.inputs.values():
            field.clear()
        self._fields.begin()

    def begin_change(self, unit: Unit) -> None:
        """The form with the data of a unit."""
        self._begin("Change its data", "What was measured stays as it is.", "Keep the change")
        self._fields.want(self._cells["complaint"], False)
        self._kept = (unit.mirror, unit.pairs)
        for key, field in self.inputs.items():
            if key != "complaint":
                value = getattr(unit, key)
                field.setText(plain(value) if isinstance(value, float) else value or "")
        self._fields.begin()

    def _begin(self, head: str, says: str, go: str) -> None:
        self._head.setText(head)
        self._says.setText(says)
        self._go.setText(go)
        self.faults.clear()

    def submit(self) -> None:
        """Take what stands there, or tell every fault of it."""
        texts = {key: field.text() for key, field in self.inputs.items()}
        mirror, pairs = self._kept
        try:
            file: UnitFile = unit_file(texts, mirror, pairs)
        except BadInput as error:
            self.refuse(error)
            return
        self.faults.clear()
        self.filled.emit(file)

    def refuse(self, error: BenchlogError) -> None:
        """Show what is wrong; nothing that was typed is lost."""
        self.faults.tell(error, "This wants a look before it can be kept.")
        first = error.place if error.place in self.inputs else "name"
        self.inputs[first].setFocus()
