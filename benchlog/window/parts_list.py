"""The list of parts: its model, how a row is drawn, and the view; ten thousand rows cost no more than those seen."""

from dataclasses import dataclass

from PySide6.QtCore import (
    QAbstractListModel,
    QModelIndex,
    QPersistentModelIndex,
    QPointF,
    QRect,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QMouseEvent, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from benchlog.window import shapes, words
from benchlog.window.look import Look
from benchlog.window.parts_book import Book, Row, in_words
from benchlog.window.tooltip import tip

HIGH = 34
"""Pixels of height of every line."""
MARK, CAP = 14, 10
ALL_FROM, OTHER_FROM = 290, 376
"""Pixels of width from which there is room for what it should read, and for the other side."""

Index = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the list: a board's heading, or a part."""

    heading: str = ""
    row: Row | None = None


class PartsModel(QAbstractListModel):
    """The lines of a book; `touched` carries one that is to be drawn anew."""

    touched = Signal(QModelIndex)

    def __init__(self) -> None:
        super().__init__()
        self.book = Book()
        self._lines: list[int | str] = []
        """Each line as the row of the book, or a heading."""
        self._of_row: dict[int, int] = {}
        self._should: dict[tuple[int, str], str] = {}
        """What each row should read as it is shown, which is asked again and again; by the reading that counts."""

    def set_book(self, book: Book) -> None:
        """Show another book, or the same in another order."""
        self.beginResetModel()
        if book is not self.book:
            self._should.clear()
        self.book = book
        self._lines, self._of_row = [], {}
        for heading, start, end in book.runs:
            if heading:
                self._lines.append(heading)
            first = len(self._lines)
            self._lines += book.order[start:end]
            self._of_row.update(zip(book.order[start:end], range(first, len(self._lines)), strict=True))
        self.endResetModel()

    def touch(self, rows: list[int]) -> None:
        """These rows changed; their other sides show it too."""
        for at in rows:
            for one in (at, self.book.rows[at].other):
                if one is not None and one in self._of_row:
                    # Not `dataChanged`: all that looks at it would be laid out anew.
                    self.touched.emit(self.index_of(one))

    def index_of(self, at: int) -> QModelIndex:
        """The index of a row of the book; none where the list does not hold it."""
        return self.index(self._of_row[at]) if at in self._of_row else QModelIndex()

    def line(self, index: Index) -> Line:
        """The line at an index."""
        found = self._lines[index.row()]
        return Line(heading=found) if isinstance(found, str) else Line(row=self.book.rows[found])

    def should_read(self, row: Row) -> str:
        """What a row should read, as a sheet prints it; empty where nobody knows."""
        kept = row.kept
        key = row.at, kept.reading.id if kept is not None else ""
        if key not in self._should:
            expectation = row.expectation
            self._should[key] = expectation.shown if expectation is not None else ""
        return self._should[key]

    def rowCount(self, parent: Index | None = None) -> int:
        """How many lines there are."""
        return 0 if parent is not None and parent.isValid() else len(self._lines)

    def flags(self, index: Index) -> Qt.ItemFlag:
        """A heading cannot be chosen."""
        if not index.isValid() or self.line(index).row is None:
            return Qt.ItemFlag.ItemIsEnabled
        return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> str | None:
        """The name, and for those who cannot see it the whole line."""
        line = self.line(index)
        if line.row is None:
            return line.heading if role == Qt.ItemDataRole.DisplayRole else None
        if role == Qt.ItemDataRole.DisplayRole:
            return line.row.designator
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return spoken(line.row)
        if role == Qt.ItemDataRole.ToolTipRole:
            return tip(spoken(line.row))
        return None


def spoken(row: Row) -> str:
    """A part in one phrase."""
    expectation = row.expectation
    should = f", should read {expectation.shown}" if expectation is not None else ""
    read = f", read {in_words(row.kept.reading)}" if row.kept is not None else ""
    if row.kept is not None and row.kept.reading.typed:
        read += f", {words.TYPED}"
    return f"{row.designator}{should}{read}: {row.result}"


class _Drawer(QStyledItemDelegate):
    """Draws a line in the fonts and colours of the look."""

    def __init__(self, look: Look, model: PartsModel) -> None:
        super().__init__()
        self._look = look
        self._model = model
        self._fonts: dict[tuple[str, float, bool], tuple[QFont, QFontMetricsF]] = {}
        look.changed.connect(self._fonts.clear)

    def sizeHint(self, _option: QStyleOptionViewItem, _index: Index) -> QSize:
        """All lines are equally high."""
        return QSize(160, HIGH)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw one line."""
        line = self._model.line(index)
        rect: QRect = option.rect
        box = QRectF(rect)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if line.row is None:
            painter.setPen(self._look.theme.ink)
            painter.setFont(self._look.fitting(line.heading, box.width() - 12, 16, least=12))
            painter.drawText(box.adjusted(6, 6, -6, 0), Qt.AlignmentFlag.AlignVCenter, line.heading)
        else:
            state = option.state
            self._part(painter, box, line.row, chosen=bool(state & QStyle.StateFlag.State_Selected))
        painter.restore()

    def _part(self, painter: QPainter, box: QRectF, row: Row, *, chosen: bool) -> None:
        theme = self._look.theme
        if chosen:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.here_pale)
            painter.drawRoundedRect(box.adjusted(1, 1, -1, -1), 5, 5)
        mark = QRectF(box.left() + 9, box.center().y() - MARK / 2, MARK, MARK)
        shapes.draw(painter, mark, row.shape, theme)
        if self._model.book.is_lifted(row):
            self._leg(painter, mark)
        for column in columns(box.width()):
            text, colour = self._cell(column.name, row)
            font, metrics = self._font(column, bold=chosen and column.name in (PART, READ))
            wide = metrics.horizontalAdvance(text) if text else 0.0
            area = QRectF(box.left() + column.left, box.top(), column.width, box.height())
            if self._was_typed(column.name, row):
                area.setLeft(area.left() + CAP + 4)
                self._cap(painter, area.right() - min(wide, area.width()) - CAP - 4, box.center().y())
            painter.setPen(colour)
            painter.setFont(font)
            if wide > area.width():
                text = painter.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, int(area.width()))
            side = Qt.AlignmentFlag.AlignRight if column.right else Qt.AlignmentFlag.AlignLeft
            painter.drawText(area, side | Qt.AlignmentFlag.AlignVCenter, text)

    def _font(self, column: "Column", *, bold: bool) -> tuple[QFont, QFontMetricsF]:
        """One size for all of a column, in which its long ones fit: figures are compared by looking down it."""
        key = (column.name, column.width, bold)
        if key not in self._fonts:
            font = self._fitting(column, bold=bold)
            self._fonts[key] = font, QFontMetricsF(font)
        return self._fonts[key]

    def _fitting(self, column: "Column", *, bold: bool) -> QFont:
        # Sizes are whole pixels: what just fits may be rounded up.
        room = 0.95 * (column.width - (CAP + 4 if column.right else 0))
        widest, most = FITS[column.name]
        size = self._look.fitting(widest, room, most, least=LEAST).pixelSize()
        return self._look.font(size, bold=bold)

    def _cell(self, name: str, row: Row) -> tuple[str, QColor]:
        theme = self._look.theme
        if name == PART:
            return row.designator, theme.ink
        if name == SHOULD:
            return self._model.should_read(row), theme.soft
        of = row if name == READ else self._model.book.other(row)
        kept = of.kept if of is not None else None
        return in_words(kept.reading) if kept is not None else "", theme.ink if of is row else theme.soft

    def _was_typed(self, name: str, row: Row) -> bool:
        read = {READ: row, OTHER: self._model.book.other(row)}.get(name)
        return read is not None and read.kept is not None and read.kept.reading.typed

    def _cap(self, painter: QPainter, left: float, middle: float) -> None:
        """A small key before a number: it was typed."""
        painter.setPen(QPen(self._look.theme.soft, 1))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRoundedRect(QRectF(left, middle - CAP / 2, CAP, CAP), 2.5, 2.5)
        painter.drawLine(
            QPointF(left + 3, middle + CAP / 2 - 3), QPointF(left + CAP - 3, middle + CAP / 2 - 3)
        )

    def _leg(self, painter: QPainter, mark: QRectF) -> None:
        """A lifted leg: a stroke that stands up beside the mark."""
        painter.setPen(QPen(self._look.theme.ink, 1.6))
        x = mark.left() - 4
        painter.drawLine(int(x), int(mark.bottom()), int(x), int(mark.top()) - 1)
        painter.drawLine(int(x), int(mark.top()) - 1, int(x + 3), int(mark.top()) - 1)


PART, SHOULD, READ, OTHER = "part", "should read", "read", "other side"

FITS = {
    PART: ("C105 esr", 16),
    SHOULD: ("100 µF +50/-20 %", 13),
    READ: ("-0.6123 V", 15),
    OTHER: ("-0.6123 V", 14),
}
"""What must fit into each column, and the size of its letters where there is room, pixels."""
LEAST = 11
"""The smallest letters, pixels."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column and its place, in pixels from the left of the line."""

    name: str
    left: float
    width: float
    right: bool = False


def columns(width: float) -> list[Column]:
    """The columns there is room for."""
    first, gap, end = 32.0, 8.0, width - 6.0
    free = end - first
    if width < ALL_FROM:
        read = free * 0.54
        return [Column(PART, first, free - read - 4.0), Column(READ, end - read, read, right=True)]
    if width < OTHER_FROM:
        part, read = (free - 2 * gap) * 0.24, (free - 2 * gap) * 0.34
        should = free - part - read - 2 * gap
        return [
            Column(PART, first, part),
            Column(SHOULD, first + part + gap, should),
            Column(READ, end - read, read, right=True),
        ]
    part, read, other = ((free - 3 * gap) * share for share in (0.185, 0.255, 0.225))
    should = free - part - read - other - 3 * gap
    return [
        Column(PART, first, part),
        Column(SHOULD, first + part + gap, should),
        Column(READ, end - other - gap - read, read, right=True),
        Column(OTHER, end - other, other, right=True),
    ]


class Heads(QWidget):
    """The words above the columns."""

    def __init__(self, look: Look, view: QWidget) -> None:
        """`view` is what they stand above."""
        super().__init__()
        self._look = look
        self._view = view
        self.setFixedHeight(24)
        look.changed.connect(self.update)

    def paintEvent(self, _event: object) -> None:
        """Draw them where the columns are."""
        painter = QPainter(self)
        painter.setPen(self._look.theme.soft)
        painter.setFont(self._look.font(13))
        for column in columns(self._view.width()):
            area = QRectF(column.left, 0, column.width, self.height())
            side = Qt.AlignmentFlag.AlignRight if column.right else Qt.AlignmentFlag.AlignLeft
            painter.drawText(area, side | Qt.AlignmentFlag.AlignVCenter, column.name)
        painter.end()


class PartsList(QTableView):
    """The list; `asked` carries the row that was clicked.

    A table of one column: it lays nothing out line by line, as a list would at every change of ten thousand.
    """

    asked = Signal(int)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.lines = PartsModel()
        self._drawer = _Drawer(look, self.lines)
        self.setModel(self.lines)
        self.setItemDelegate(self._drawer)
        across, down = self.horizontalHeader(), self.verticalHeader()
        across.hide()
        across.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        down.hide()
        down.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        down.setMinimumSectionSize(HIGH)
        down.setDefaultSectionSize(HIGH)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setCornerButtonEnabled(False)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.lines.touched.connect(self.update)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerItem)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        # Keys are the page's: the list would search for what is typed.
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName(words.PARTS)
        look.changed.connect(self.viewport().update)

    def show_book(self, book: Book) -> None:
        """Show other parts."""
        self.lines.set_book(book)

    def choose(self, at: int) -> None:
        """Mark a row and bring it into view."""
        index = self.lines.index_of(at)
        if not index.isValid():
            # What is at hand is not in the list as it is narrowed.
            self.clearSelection()
            self.setCurrentIndex(QModelIndex())
        elif index != self.currentIndex():
            self.setCurrentIndex(index)
            self.scrollTo(index)
            above = self.lines.index(index.row() - 1)
            if above.isValid() and self.lines.line(above).row is None:
                self.scrollTo(above)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Whole lines only: what is left over below stays empty."""
        self.setViewportMargins(0, 0, 0, self.height() % HIGH)
        super().resizeEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Ask for the part; it is marked only where it comes in hand, so that the two never differ."""
        index = self.indexAt(event.position().toPoint())
        row = self.lines.line(index).row if index.isValid() else None
        if row is not None and event.button() is Qt.MouseButton.LeftButton:
            self.asked.emit(row.at)

    def mouseMoveEvent(self, _event: QMouseEvent) -> None:
        """Drawing the mouse along marks nothing."""

    def mouseReleaseEvent(self, _event: QMouseEvent) -> None:
        """Nor does letting go."""

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Twice is once more."""
        self.mousePressEvent(event)
