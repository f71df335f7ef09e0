"""All parts at a glance: a shape for each, in rows, board after board; a click goes there."""

from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QFontMetricsF,
    QHelpEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QResizeEvent,
)
from PySide6.QtWidgets import QFrame, QScrollArea, QSizePolicy, QToolTip, QWidget

from benchlog.window import shapes
from benchlog.window.look import Look
from benchlog.window.parts_book import Book
from benchlog.window.parts_list import spoken
from benchlog.window.shapes import Shape

CELLS = (30, 26, 22, 19)
"""Pixels from one shape to the next; the largest with which all are in view, else the smallest."""
LINE = 22
"""Pixels of height of a line of the tally."""
MARK = 0.55
"""The size of a shape as a share of that."""


class _Shapes(QWidget):
    """The shapes themselves; only those in view are drawn."""

    asked = Signal(int)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._book = Book()
        self._at = 0
        self._cells: list[int | None] = []
        self._cell_of: dict[int, int] = {}
        self._stamps: dict[tuple[Shape, float], QPixmap] = {}
        """Each shape as it is drawn here; hundreds of them at every picture would take its time."""
        self.cell = CELLS[-1]
        self.room = 0
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._laid = (0, 0)
        self._order: list[int] = []
        look.changed.connect(self._stamps.clear)
        look.changed.connect(self.update)

    def show_book(self, book: Book, at: int) -> None:
        """Draw other parts."""
        self._book, self._at = book, at
        self.lay()

    def choose(self, at: int) -> None:
        """Another part is at hand."""
        for one in (self._at, at):
            self.update_row(one)
        self._at = at

    def update_row(self, at: int) -> None:
        """Draw the shape of a row anew, and no other."""
        middle, half = self.place_of(at), self.cell // 2
        self.update(middle.x() - half, middle.y() - half, self.cell, self.cell)

    def lay(self, room: int | None = None) -> None:
        """Lay them out in whole rows; `room` is the height that is in view."""
        self.room = self.room if room is None else room
        for cell in CELLS:
            self.cell = cell
            rows = max(1, sum(-(-(end - start) // self.across) for _, start, end in self._book.runs))
            if rows * cell <= self.room:
                break
        laid = (self.cell, self.across)
        if laid != self._laid or self._book.order is not self._order:
            # Not where only its height changed, as it does with each sentence above it.
            self._laid, self._order = laid, self._book.order
            self._cells = self._places()
            self._cell_of = {at: cell for cell, at in enumerate(self._cells) if at is not None}
        self.setMinimumHeight(rows * self.cell)
        self.update()

    def _places(self) -> list[int | None]:
        """A cell for each part; every board begins a row of its own."""
        places: list[int | None] = []
        for _, start, end in self._book.runs:
            places += [None] * (-len(places) % self.across)
            places += self._book.order[start:end]
        return places

    @property
    def across(self) -> int:
        """How many stand in a row."""
        return max(1, self.width() // self.cell)

    def place_of(self, at: int) -> QPoint:
        """Where a part stands."""
        cell = self._cell_of.get(at, 0)
        half = self.cell // 2
        return QPoint(cell % self.across * self.cell + half, cell // self.across * self.cell + half)

    def row_at(self, point: QPoint) -> int | None:
        """The part at a place."""
        across, down = point.x() // self.cell, point.y() // self.cell
        place = down * self.across + across
        inside = 0 <= across < self.across and 0 <= place < len(self._cells)
        return self._cells[place] if inside else None

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width takes other rows."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.lay()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Go to the part that was clicked."""
        at = self.row_at(event.position().toPoint())
        if at is not None:
            self.asked.emit(at)

    def event(self, event: QEvent) -> bool:
        """Tell which part it is where the mouse rests."""
        if isinstance(event, QHelpEvent):
            at = self.row_at(event.pos())
            QToolTip.showText(event.globalPos(), spoken(self._book.rows[at]) if at is not None else "")
            return True
        return super().event(event)

    def _stamp(self, shape: Shape, side: int, mark: float) -> QPixmap:
        """A shape in its cell."""
        dots = self.devicePixelRatioF()
        key = (shape, side * dots)
        if key not in self._stamps:
            made = QPixmap(round(side * dots), round(side * dots))
            made.setDevicePixelRatio(dots)
            made.fill(Qt.GlobalColor.transparent)
            gap = (side - mark) / 2
            painter = QPainter(made)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            shapes.draw(painter, QRectF(gap, gap, mark, mark), shape, self._look.theme)
            painter.end()
            self._stamps[key] = made
        return self._stamps[key]

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the rows that are in view."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme, across, side = self._look.theme, self.across, self.cell
        mark = side * MARK
        first = max(0, event.rect().top() // side) * across
        last = (event.rect().bottom() // side + 1) * across
        left_end, right_end = event.rect().left() // side, event.rect().right() // side
        for place in range(first, min(last, len(self._cells))):
            at = self._cells[place]
            if at is None or not left_end <= place % across <= right_end:
                continue
            left, top = place % across * side, place // across * side
            painter.drawPixmap(left, top, self._stamp(self._book.rows[at].shape, side, mark))
            if at == self._at:
                painter.setPen(QPen(theme.here, 2))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRoundedRect(QRectF(left + 1, top + 1, side - 2, side - 2), 4, 4)
        painter.end()


class Strip(QScrollArea):
    """The shapes, scrolled where there are many; `asked` carries the row that was clicked."""

    asked = Signal(int)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.shapes = _Shapes(look)
        self.shapes.asked.connect(self.asked)
        self.setWidget(self.shapes)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        """Three rows, more where there is room."""
        return QSize(320, 3 * CELLS[-1])

    def minimumSizeHint(self) -> QSize:
        """Two rows at least."""
        return QSize(120, 2 * CELLS[-1])

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Whole rows only: what is left over below stays empty."""
        self.shapes.lay(self.height())
        self.setViewportMargins(0, 0, 0, self.height() % self.shapes.cell)
        super().resizeEvent(event)

    def show_book(self, book: Book, at: int) -> None:
        """Draw other parts."""
        self.shapes.show_book(book, at)
        self.refresh(book)

    def refresh(self, book: Book) -> None:
        """Tell the results as they stand."""
        self.setAccessibleName(book.counted())

    def touch(self, rows: list[int]) -> None:
        """These rows read something else."""
        for at in rows:
            self.shapes.update_row(at)

    def choose(self, at: int) -> None:
        """Another part is at hand; bring it into view."""
        self.shapes.choose(at)
        place = self.shapes.place_of(at)
        self.ensureVisible(place.x(), place.y(), 0, self.shapes.cell // 2)


class Tally(QWidget):
    """How many parts have which result: shapes with numbers, and with their words where there is room.

    So it tells what the shapes mean as well.
    """

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._counts: list[tuple[Shape, str, int]] = []
        self.have_lines(1)
        look.changed.connect(self.update)

    def have_lines(self, lines: int) -> None:
        """Take one line, or two."""
        self.setFixedHeight(lines * LINE)
        self.update()

    def show_book(self, book: Book) -> None:
        """Count anew."""
        self._counts = book.counts()
        said = book.counted()
        self.setAccessibleName(said)
        self.setToolTip(said)
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw them."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(self._look.theme.soft)
        painter.setFont(self._look.font(14))
        middle = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        for place, shape, text in self._flow(QFontMetricsF(painter.font())):
            shapes.draw(painter, QRectF(place.x() + 1, place.y() + 5, 12, 12), shape, self._look.theme)
            box = QRectF(place.x() + 19, place.y(), self.width(), LINE)
            painter.drawText(box, middle, text)
        painter.end()

    def _flow(self, metrics: QFontMetricsF) -> list[tuple[QPointF, Shape, str]]:
        """Where each stands: with words, else without."""
        found: list[tuple[QPointF, Shape, str]] = []
        for words in (True, False):
            found, x, y = [], 0.0, 0.0
            for shape, word, count in self._counts:
                text = f"{count} {word}" if words else str(count)
                wide = 19 + metrics.horizontalAdvance(text)
                if x and x + wide > self.width():
                    x, y = 0.0, y + LINE
                found.append((QPointF(x, y), shape, text))
                x += wide + 18
            if y + LINE <= self.height():
                break
        return found
