"""What is wrong in a file or a form, all of it at once: where, what, and what to do about it."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchlog.errors import BenchlogError, Fault
from benchlog.window.forms import GAP, empty
from benchlog.window.look import Look
from benchlog.window.page import card, label
from benchlog.window.shapes import Mark, Shape


class FaultList(QWidget):
    """A card of faults; it takes no room while there are none."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self.faults: tuple[Fault, ...] = ()
        self.hide()

    def clear(self) -> None:
        """Nothing is wrong, or no more."""
        self.faults = ()
        empty(self._column)
        self.hide()

    def tell(self, error: BenchlogError, head: str) -> None:
        """Show every fault below a sentence."""
        empty(self._column)
        self.faults = error.faults
        self._column.addWidget(self._card(head))
        self.setAccessibleName(f"{head} {error}")
        self.show()

    def _card(self, head: str) -> QFrame:
        made = card()
        column = QVBoxLayout(made)
        column.setSpacing(GAP)
        top = QHBoxLayout()
        top.addWidget(Mark(self._look, Shape.DOUBT), 0, Qt.AlignmentFlag.AlignTop)
        top.addWidget(label(head, "head", wrap=True), 1)
        column.addLayout(top)
        for fault in self.faults:
            column.addWidget(_line(fault))
        return made


def _line(fault: Fault) -> QLabel:
    """One fault as text that can be marked and copied."""
    made = label(wrap=True)
    said = f"{fault.place}: {fault.problem}" if fault.place else fault.problem
    fix = f"{fault.fix[:1].upper()}{fault.fix[1:]}"
    made.setText(f"{said}.\n{fix}{'' if fix.endswith('?') else '.'}" if fix else f"{said}.")
    made.setTextInteractionFlags(
        Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.TextSelectableByKeyboard
    )
    return made


def counted(number: int, thing: str) -> str:
    """`1 part`, `12 parts`."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
