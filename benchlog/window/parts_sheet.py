"""Parts from a list: a file or a pasted table, shown row by row before anything is taken in; one act, one undo."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from benchlog import sheetfile
from benchlog.domain.designator import fold
from benchlog.domain.partsheet import PartSheet, read_sheet
from benchlog.domain.sheetheads import Column, Layout, guess
from benchlog.errors import BadInput, BenchlogError
from benchlog.sheetfile import Grid
from benchlog.store import edit_boards
from benchlog.store.edit_boards import FIRST_BOARD, Placed
from benchlog.window.choose_file import ChooseFile
from benchlog.window.fault_list import FaultList, counted
from benchlog.window.forms import GAP, Fields, Views, press, row
from benchlog.window.page import label
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_sheet_table import SheetTable
from benchlog.window.shapes import Mark

SUFFIXES = (".csv", ".tsv", ".txt", ".xlsx")
KEYS = (
    "Arrow keys go about, / to the next row with something wrong. What a column holds: Space, or its letter: "
    "Part, Value, Tolerance, Lowest, Highest, Should read, Kind, Board, Marking, Rating, Note, How many is C, "
    "X leaves it out."
)


class SheetIn(QWidget):
    """Choosing a list, the look at it, and taking it in; `left` when it is over, with parts or without."""

    left = Signal()

    def __init__(self, hand: InHand) -> None:
        super().__init__()
        self._hand = hand
        self._work = hand.work
        self._grid: Grid | None = None
        self._layout: Layout | None = None
        self._path: Path | None = None
        self._sure = False
        self._asked = 0
        """How often the sheet was asked to be understood: only the newest answer counts."""
        self.found: PartSheet | None = None
        look = hand.work.look
        self.choose = ChooseFile(look, hand.work.shelf, "Parts from a list", suffixes=SUFFIXES)
        self.table = SheetTable(look)
        self.board, self.tolerance = QLineEdit(), QLineEdit()
        self._head = label("", "title")
        self._about = label("", "soft", wrap=True)
        self._mark = Mark(look, side=15)
        self._says = label("", wrap=True)
        self.faults = FaultList(look)
        self.take = press("", self.submit, main=True)
        self._next_sheet = press("Next sheet", self._another_sheet)
        self.views = Views()
        self._preview = QWidget()
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        column = QVBoxLayout(self._preview)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        fields = Fields(least=210, most=2)
        fields.add("Board, where the list names none", self.board)
        fields.add("Tolerance, where the list says none", self.tolerance)
        self.tolerance.setPlaceholderText("5%")
        fields.finished.connect(self.table.setFocus)
        fields.left.connect(self.leave)
        said = row(self._mark, stretch=False)
        said.addWidget(self._says, 1)
        for widget in (self._head, self._about, self.table):
            column.addWidget(widget, 1 if widget is self.table else 0)
        column.addLayout(said)
        column.addWidget(self.faults)
        column.addWidget(fields)
        column.addWidget(label(KEYS, "soft", wrap=True))
        column.addLayout(row(self.take, press("Back", self.leave), self._next_sheet))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(GAP)
        outer.addWidget(self.views, 1)
        for view in (self.choose, self._preview):
            self.views.add(view)

    def _connect(self) -> None:
        self.choose.chosen.connect(self.open_file)
        self.choose.left.connect(self.leave)
        self.table.moved.connect(self._tell_row)
        self.table.meant.connect(self._mean)
        self.table.entered.connect(self.submit)
        for field in (self.board, self.tolerance):
            field.textEdited.connect(lambda _: self._understand())

    # --- where it comes from -------------------------------------------------------------------------

    def begin_file(self) -> None:
        """Ask for a file."""
        self.found = None
        self.views.show_only(self.choose)
        self.choose.begin()

    def begin_text(self, text: str) -> None:
        """Look at a pasted table."""
        self._path = None
        self._read(lambda: sheetfile.from_text(text))

    def open_file(self, path: Path, sheet: str = "") -> None:
        """Look at a file."""
        self._path = path
        self._read(lambda: sheetfile.read(path, sheet))

    def _read(self, read: Callable[[], Grid]) -> None:
        def work() -> tuple[Grid, Layout]:
            grid = read()
            return grid, guess(grid)

        def done(made: tuple[Grid, Layout]) -> None:
            self._grid, self._layout = made
            self.faults.clear()
            self.board.setText(self._usual_board())
            self.views.show_only(self._preview)
            self.table.setFocus()
            self._understand()

        self._work.shelf.off_thread(work, done, self._unread, owner=self, key="sheet", says="Reading a list")

    def _unread(self, error: BenchlogError) -> None:
        if self.views.shown is self.choose:
            self.choose.says.setText(str(error))
        else:
            self._hand.say(str(error), refused=True)
            self.left.emit()

    def _usual_board(self) -> str:
        at_hand, boards = self._hand.row, self._hand.book.boards
        return at_hand.line.board.name if at_hand is not None else boards[0].name if boards else FIRST_BOARD

    def _another_sheet(self) -> None:
        grid = self._grid
        if grid is not None and self._path is not None and len(grid.sheets) > 1:
            at = grid.sheets.index(grid.sheet)
            self.open_file(self._path, grid.sheets[(at + 1) % len(grid.sheets)])

    # --- how it is understood ------------------------------------------------------------------------

    def _mean(self, at: int, column: Column | None) -> None:
        """What a column holds, as a person says; None is the next meaning."""
        if self._layout is None or self._layout.lines or not 0 <= at < len(self._layout.headings):
            return
        order = list(Column)
        now = self._layout.headings[at].column
        self._layout = self._layout.with_column(at, column or order[(order.index(now) + 1) % len(order)])
        self._understand()

    def _understand(self) -> None:
        """Read every row anew, away from the GUI's thread."""
        grid, layout = self._grid, self._layout
        if grid is None or layout is None:
            return
        self._sure = False
        self._asked += 1
        asked, board = self._asked, " ".join(self.board.text().split()) or FIRST_BOARD
        tolerance, rows = self.tolerance.text().strip(), list(self._hand.book.rows)

        def work() -> PartSheet:
            known: dict[str, set[str]] = {}
            for one in rows:
                known.setdefault(fold(one.line.board.name), set()).add(fold(one.designator))
            return read_sheet(grid, layout, known, board=board, tolerance=tolerance)

        def done(found: PartSheet) -> None:
            if asked == self._asked:
                self._show(found)

        self._work.shelf.off_thread(work, done, self._work.say_error, owner=self, key="sheet rows")

    def _show(self, found: PartSheet) -> None:
        self.found = found
        self.table.show_sheet(found)
        grid = found.grid
        sheet = f", sheet {grid.sheet}" if len(grid.sheets) > 1 else ""
        self._head.setText(f"{grid.name}{sheet}: nothing is changed yet")
        told = [counted(len(found.parts), "part"), *([self._out()] if found.faulty else [])]
        if found.beside:
            count = len(found.beside)
            told.append(f"{counted(count, grid.counts)} that {'is' if count == 1 else 'are'} no part")
        self._about.setText(". ".join([", ".join(told), *found.said]) + ".")
        self._next_sheet.setVisible(len(grid.sheets) > 1)
        self._tell_row()
        self._name_take()

    def _out(self) -> str:
        count = len(self.found.faulty) if self.found is not None else 0
        return f"{counted(count, self.found.grid.counts if self.found is not None else 'row')} with something wrong"

    def _tell_row(self) -> None:
        """Say what the row at hand was understood as."""
        index = self.table.currentIndex()
        if self.found is None or not index.isValid():
            self._says.clear()
            return
        if self.found.lacking:
            self._mark.hide()
            self._says.setText(
                f"{self.found.lacking[:1].upper()}{self.found.lacking[1:]}: go to it and press P."
            )
            return
        shape, said = self.table.sheet.state(index.row())
        self._mark.setVisible(shape is not None)
        if shape is not None:
            self._mark.show_shape(shape)
        number = self.table.sheet.number(index.row())
        self._says.setText(f"{self.found.grid.counts} {number}: {said}")

    def _name_take(self) -> None:
        found = self.found
        if found is None:
            return
        parts = counted(len(found.parts), "part")
        out = f", leave {counted(len(found.faulty), found.grid.counts)} out" if found.faulty else ""
        self.take.setText(f"Take in {parts}{out}")
        self.take.setEnabled(bool(found.parts))

    # --- taking it in --------------------------------------------------------------------------------

    def submit(self) -> None:
        """Take the parts in; where rows would stay out, only at the second Enter."""
        found, unit = self.found, self._hand.book.unit
        if found is None or not found.parts or unit is None:
            if self._work.voice is not None:
                self._work.voice.refused()
            return
        if found.faulty and not self._sure:
            self._sure = True
            out = counted(len(found.faulty), found.grid.counts)
            self._mark.hide()
            self._says.setText(f"{out} will stay out. Enter once more takes in the other {len(found.parts)}.")
            return
        parts = [Placed(one.board, one.entry) for one in found.parts]
        said = counted(len(parts), "part")
        label_ = f"{said} of {found.grid.name}"
        self.take.setEnabled(False)

        def failed(error: BenchlogError) -> None:
            self.take.setEnabled(True)
            if isinstance(error, BadInput):
                self.faults.tell(error, "Nothing was taken in.")
            else:
                self._work.say_error(error)

        def done(_: int) -> None:
            self._work.say(
                f"{said} taken in from {found.grid.name}. The Unit page (F2) takes them back in one go."
            )
            self.leave()

        self._hand.edit(
            lambda library: edit_boards.take_in(library, unit.id, parts, label_), done, failed, again=True
        )

    def leave(self) -> None:
        """Back to the parts."""
        self.found = self._grid = self._layout = None
        self.table.show_sheet(None)
        self.faults.clear()
        self.left.emit()

    def typed(self, event: QKeyEvent) -> bool:
        """Keys of the page while this is shown: those of the table; Escape and Backspace leave."""
        if self.views.shown is not self._preview:
            return False
        if event.key() in (Qt.Key.Key_Escape, Qt.Key.Key_Backspace):
            self.leave()
            return True
        return self.table.key(event)
