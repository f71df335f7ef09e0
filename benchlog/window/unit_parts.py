"""Boards and their parts: a board chosen, and parts added to it by typed lines with a look at each beforehand."""

import re

from PySide6.QtCore import QEvent, QObject, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QPlainTextEdit, QVBoxLayout, QWidget

from benchlog.domain.partline import describe
from benchlog.domain.unit import PartEntry
from benchlog.errors import BenchlogError
from benchlog.store.overview import BoardLine
from benchlog.window.fault_list import FaultList, counted
from benchlog.window.forms import ENTER, GAP, press, row
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.rows import Row, Rows
from benchlog.window.shapes import Shape
from benchlog.window.unit_acts import Line, read_lines

PAUSE = 150
"""Milliseconds without a key after which the lines are read."""
MOST_SHOWN = 200
"""So many understood lines are shown; those with something wrong are shown all."""

EXAMPLE_LINES = "R101 47k 5%\nC102 100u 20%\nQ101BE 0.55..0.7 V"


class UnitParts(QWidget):
    """Boards and part lines; `board_wanted` carries a name, `parts_wanted` a board's id and its entries.

    `copy_wanted` carries a board's id and the name of the one that its other side goes on.
    """

    board_wanted = Signal(str)
    parts_wanted = Signal(str, object)
    copy_wanted = Signal(str, str)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._lines: list[Line] = []
        self.text = QPlainTextEdit()
        self.text.setPlaceholderText(EXAMPLE_LINES)
        self.text.setAccessibleName("parts, one a line")
        self.text.setTabChangesFocus(True)
        self.text.setFixedHeight(self.text.fontMetrics().lineSpacing() * 6 + 24)
        self.text.installEventFilter(self)
        self.boards = Rows(look, "boards", most=6)
        self.boards.currentRowChanged.connect(lambda _: self._name_board())
        self.boards.taken.connect(lambda _: self.text.setFocus())
        self.board = QLineEdit()
        self.board.setPlaceholderText("Amplifier board, left")
        self.board.setAccessibleName("name of a new board")
        self.board.returnPressed.connect(self.add_board)
        self.preview = Rows(look, "what each line was understood as", most=12, chooses=False)
        self.faults = FaultList(look)
        self._into = label("", "head", wrap=True)
        self.add = press("Add the parts", self.add_parts, main=True)
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(PAUSE)
        self._pause.timeout.connect(self.read)
        self.text.textChanged.connect(self._pause.start)
        self._lay_out()
        self.show_boards(())
        self.read()

    def _lay_out(self) -> None:
        how = "One part a line: its name, what it should read. Enter is a new line, Ctrl+Enter adds them."
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(label("Boards", "head"))
        column.addWidget(self.boards)
        self.copy = press("", self.copy_board, hint="each part as the rules for the other side name it")
        column.addLayout(row(self.board, press("Add a board", self.add_board), stretch=False))
        column.addLayout(row(self.copy))
        self.board.textChanged.connect(lambda _: self._name_copy())
        self._below = QWidget()
        below = QVBoxLayout(self._below)
        below.setContentsMargins(0, GAP, 0, 0)
        below.setSpacing(8)
        for widget in (self._into, label(how, "soft", wrap=True), self.text, self.preview, self.faults):
            below.addWidget(widget)
        below.addLayout(row(self.add))
        column.addWidget(self._below)

    # --- boards --------------------------------------------------------------------------------------

    def show_boards(self, boards: tuple[BoardLine, ...]) -> None:
        """The boards of the unit at hand; a new one is chosen."""
        known = {row.key for row in self.boards.rows}
        fresh = [line.board.id for line in boards if line.board.id not in known]
        self.boards.put(
            Row(line.board.id, line.board.name, right=counted(line.parts, "part")) for line in boards
        )
        if fresh and known:
            self.boards.choose(fresh[-1])
        elif boards and not self.boards.key:
            self.boards.setCurrentRow(0)
        self.boards.setVisible(bool(boards))
        self._below.setVisible(bool(boards))
        self._name_board()

    def _name_board(self) -> None:
        name = next((row.head for row in self.boards.rows if row.key == self.boards.key), "")
        self._into.setText(f"Parts for {name}" if name else "")
        self._name_copy()

    def _name_copy(self) -> None:
        """Say which board the copy of the chosen one would go on."""
        self.copy.setText(f"Copy its other side to {self._copied()}".replace("&", "&&"))
        self.copy.setVisible(bool(self.boards.key))

    def _copied(self) -> str:
        """The name that stands there, else the chosen board's with the other side in it."""
        typed = " ".join(self.board.text().split())
        head = next((row.head for row in self.boards.rows if row.key == self.boards.key), "")
        return typed or other_side(head)

    def copy_board(self) -> None:
        """Ask for the chosen board's parts once more, as those of the other side."""
        if self.boards.key:
            self.copy_wanted.emit(self.boards.key, self._copied())

    def add_board(self) -> None:
        """Ask for a board of the name that stands there."""
        name = " ".join(self.board.text().split())
        if name:
            self.board_wanted.emit(name)
        else:
            self.board.setFocus()

    def board_added(self) -> None:
        """The board is there: its parts come next."""
        self.board.clear()
        self.text.setFocus()

    # --- parts ---------------------------------------------------------------------------------------

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Ctrl+Enter adds the parts."""
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent) and event.key() in ENTER:
            if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                self.add_parts()
                return True
        return False

    def read(self) -> None:
        """Understand the lines as they stand, and show how."""
        self._pause.stop()
        self._lines = read_lines(self.text.toPlainText())
        wrong = [line for line in self._lines if not line.parts]
        good = [line for line in self._lines if line.parts]
        count = sum(len(line.parts) for line in good)
        shown = sorted([*wrong, *good[:MOST_SHOWN]], key=lambda line: line.number)
        self.preview.put(_row_of(line) for line in shown)
        self.preview.setVisible(bool(shown))
        self.faults.clear()
        if wrong:
            self.add.setText(f"{counted(len(wrong), 'line')} to mend first")
        else:
            self.add.setText(f"Add {counted(count, 'part')}" if good else "Add the parts")
        self.add.setEnabled(bool(good) and not wrong)

    def add_parts(self) -> None:
        """Ask for the parts: all of them, or none."""
        self.read()
        entries: list[PartEntry] = [part.entry for line in self._lines for part in line.parts]
        if entries and all(line.parts for line in self._lines) and self.boards.key:
            self.parts_wanted.emit(self.boards.key, entries)

    def parts_added(self) -> None:
        """They are there: room for the next ones."""
        self.text.clear()
        self.read()
        self.text.setFocus()

    def refuse(self, error: BenchlogError) -> None:
        """None was added; what was typed stays."""
        self.faults.tell(error, "Nothing was added.")


def other_side(name: str) -> str:
    """A board's name with its side changed over: left and right, L and R; else the same with a word behind it."""
    for one, other in (("left", "right"), ("Left", "Right"), ("LEFT", "RIGHT"), ("L", "R")):
        for here, there in ((one, other), (other, one)):
            found = re.sub(rf"\b{here}\b", there, name)
            if found != name:
                return found
    return f"{name}, other side"


def _row_of(line: Line) -> Row:
    if not line.parts:
        return Row(str(line.number), f"{line.number}:  {line.text}", line.problem, shape=Shape.DOUBT)
    first, more = line.parts[0], len(line.parts) - 1
    named = f"{describe(first)}, and {more} more up to {line.parts[-1].entry.designator}"
    head = named if more else describe(first)
    return Row(str(line.number), head, first.assumed, f"line {line.number}", Shape.GOOD)
