"""The rows of a sheet as they were understood: a shape and the row's number, its cells, and what each column holds."""

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFont, QKeyEvent, QPainter
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
)

from benchlog.domain.partsheet import PartSheet
from benchlog.domain.sheetheads import Column
from benchlog.window import shapes
from benchlog.window.look import Look
from benchlog.window.shapes import Shape
from benchlog.window.tooltip import tip

Index = QModelIndex | QPersistentModelIndex

LEFT_OUT = "not a part"
HIGH, MARK = 32, 14
"""Pixels of a row's height, and of its shape."""
FIRST = 74
"""Pixels of width of the column with shape and number."""
WIDEST = 220

LETTERS = {
    "p": Column.PART, "b": Column.BOARD, "k": Column.KIND, "s": Column.SHOULD_READ, "v": Column.VALUE,
    "t": Column.TOLERANCE, "l": Column.LOW, "h": Column.HIGH, "m": Column.MARKING, "r": Column.RATING,
    "c": Column.COUNT, "n": Column.NOTE, "x": Column.LEFT_OUT,
}  # fmt: skip
"""The letter that says what the column at hand holds."""


class SheetModel(QAbstractTableModel):
    """A sheet's rows that are not blank; the first column is their number."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._sheet: PartSheet | None = None
        self._rows: list[int] = []
        self._state: dict[int, tuple[Shape | None, str]] = {}

    def show_sheet(self, sheet: PartSheet | None) -> None:
        """Show another sheet, or the same understood otherwise."""
        self.beginResetModel()
        self._sheet = sheet
        self._rows, self._state = [], {}
        if sheet is not None:
            self._rows = [at for at, row in enumerate(sheet.grid.rows) if not row.blank]
            self._state = _states(sheet)
        self.endResetModel()

    def rowCount(self, parent: Index | None = None) -> int:
        """How many rows there are."""
        return 0 if parent is not None and parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index | None = None) -> int:
        """Their number, and as many as the sheet is wide."""
        if self._sheet is None or (parent is not None and parent.isValid()):
            return 0
        return 1 + len(self._sheet.layout.headings)

    def number(self, row: int) -> int:
        """The number of a row as its file counts."""
        assert self._sheet is not None  # noqa: S101 - there are no rows otherwise
        return self._sheet.grid.rows[self._rows[row]].number

    def state(self, row: int) -> tuple[Shape | None, str]:
        """The shape and the sentence of a row."""
        return self._state.get(self.number(row), (None, ""))

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """A cell's text; soft where the row is no part."""
        if self._sheet is None:
            return None
        shape, said = self.state(index.row())
        if role == Qt.ItemDataRole.DisplayRole:
            return self._text(index)
        if role == Qt.ItemDataRole.ForegroundRole and shape is None:
            return self._look.theme.soft
        if role == Qt.ItemDataRole.ToolTipRole:
            return tip(said)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{self._text(index)}: {said}" if index.column() == 0 else self._text(index)
        return None

    def _text(self, index: Index) -> str:
        assert self._sheet is not None  # noqa: S101 - asked only then
        row = self._sheet.grid.rows[self._rows[index.row()]]
        if index.column() == 0:
            return str(row.number)
        at = index.column() - 1
        return row.cells[at] if at < len(row.cells) else ""

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        """What a column holds, and below it its heading as it is written."""
        if self._sheet is None or orientation is not Qt.Orientation.Horizontal:
            return None
        heads = self._sheet.layout.headings
        if section == 0 or section > len(heads):
            return self._sheet.grid.counts if role == Qt.ItemDataRole.DisplayRole else None
        one = heads[section - 1]
        if role == Qt.ItemDataRole.DisplayRole:
            return f"{'typed lines' if self._sheet.layout.lines else one.column}\n{one.text}"
        if role == Qt.ItemDataRole.FontRole:
            return self._look.font(14, bold=one.column is not Column.LEFT_OUT)
        if role == Qt.ItemDataRole.ForegroundRole:
            theme = self._look.theme
            return theme.soft if one.column is Column.LEFT_OUT else theme.ink
        return None

    def next_faulty(self, row: int) -> int | None:
        """The next row that stays out, round the end to the beginning; None where none does."""
        count = len(self._rows)
        for step in range(1, count + 1):
            at = (row + step) % count
            if self.state(at)[0] is Shape.DOUBT:
                return at
        return None


def _states(sheet: PartSheet) -> dict[int, tuple[Shape | None, str]]:
    """The shape and the sentence of each row by its number."""
    layout = sheet.layout
    heads = sheet.grid.rows[layout.body - layout.heads : layout.body]
    found: dict[int, tuple[Shape | None, str]] = {row.number: (None, "headings") for row in heads}
    names: dict[int, list[str]] = {}
    for part in sheet.parts:
        names.setdefault(part.number, []).append(part.entry.designator)
        if part.number not in found:
            entry = part.entry
            expectation = entry.expectation
            should = f", should read {expectation.shown}" if expectation is not None else ""
            found[part.number] = (Shape.GOOD, f"{entry.kind.replace('_', ' ')}{should}, on {part.board}")
    for number, several in names.items():
        named = several[0] if len(several) == 1 else f"{several[0]} to {several[-1]}, {len(several)} parts"
        found[number] = (Shape.GOOD, f"{named}: {found[number][1]}")
    for beside in sheet.beside:
        found[beside.number] = (None, f"{LEFT_OUT}: {beside.why}")
    for fault in sheet.faulty:
        fix = f" {fault.fix[:1].upper()}{fault.fix[1:]}." if fault.fix else ""
        found[fault.number] = (Shape.DOUBT, f"{fault.problem}.{fix}")
    return found


class _Drawer(QStyledItemDelegate):
    """Draws the first column: the shape, and the row's number."""

    def __init__(self, look: Look, model: SheetModel) -> None:
        super().__init__()
        self._look = look
        self._model = model

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw it."""
        box = QRectF(option.rect)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        shape, _ = self._model.state(index.row())
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(box, self._look.theme.here_pale)
        if shape is not None:
            mark = QRectF(box.left() + 8, box.center().y() - MARK / 2, MARK, MARK)
            shapes.draw(painter, mark, shape, self._look.theme)
        painter.setPen(self._look.theme.soft)
        painter.setFont(self._look.font(14))
        right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(box.adjusted(0, 0, -10, 0), right, str(self._model.number(index.row())))
        painter.restore()

    def sizeHint(self, _option: QStyleOptionViewItem, _index: Index) -> QSize:
        """All are equally large."""
        return QSize(FIRST, HIGH)


class SheetTable(QTableView):
    """The table; `moved` when another cell is at hand, `meant` carries a column and what it holds, `entered` Enter."""

    moved = Signal()
    meant = Signal(int, object)
    entered = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.sheet = SheetModel(look)
        self._drawer = _Drawer(look, self.sheet)
        self.setModel(self.sheet)
        self.setItemDelegateForColumn(0, self._drawer)
        self.setAccessibleName("the rows of the list")
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerItem)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.verticalHeader().hide()
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.verticalHeader().setDefaultSectionSize(HIGH)
        across = self.horizontalHeader()
        across.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        across.setHighlightSections(False)
        across.setResizeContentsPrecision(60)
        font = QFont(look.font(15))
        self.setFont(font)

    def show_sheet(self, sheet: PartSheet | None) -> None:
        """Show another sheet; the cell at hand stays where the sheet is the same."""
        index = self.currentIndex()
        at = (index.row(), index.column()) if index.isValid() else (0, 1)
        self.sheet.show_sheet(sheet)
        if sheet is None:
            return
        self.resizeColumnsToContents()
        for column in range(self.sheet.columnCount()):
            self.setColumnWidth(column, min(WIDEST, self.columnWidth(column) + 12))
        self.setColumnWidth(0, FIRST)
        self.go(min(at[0], self.sheet.rowCount() - 1), min(at[1], self.sheet.columnCount() - 1))

    def go(self, row: int, column: int | None = None) -> None:
        """Take a cell in hand and bring it into view."""
        here = self.currentIndex().column() if self.currentIndex().isValid() else 1
        index = self.sheet.index(row, max(1, here if column is None else column))
        self.setCurrentIndex(index)
        self.scrollTo(index)

    def currentChanged(self, current: Index, previous: Index) -> None:
        """Another cell is at hand."""
        super().currentChanged(current, previous)
        self.moved.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """A letter says what the column holds, Space the next meaning, `/` goes to the next faulty row."""
        if not self.key(event):
            super().keyPressEvent(event)

    def key(self, event: QKeyEvent) -> bool:
        """Do what a key asks for; false where it moves about, or means nothing here."""
        index, letter = self.currentIndex(), event.text().casefold()
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.entered.emit()
            return True
        if not index.isValid():
            return False
        if letter == "/":
            found = self.sheet.next_faulty(index.row())
            if found is not None:
                self.go(found)
        elif letter in LETTERS:
            self.meant.emit(index.column() - 1, LETTERS[letter])
        elif letter == " ":
            self.meant.emit(index.column() - 1, None)
        else:
            return False
        return True
