"""What happened in a run, line by line with its time: events, and the notes among them."""

from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QModelIndex,
    QPersistentModelIndex,
    QPointF,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QFontMetricsF, QPainter, QPen, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem

from benchlog.window import shapes
from benchlog.window.event_words import Told
from benchlog.window.look import Look
from benchlog.window.past_row import clock

Index = QModelIndex | QPersistentModelIndex
LINE = Qt.ItemDataRole.UserRole
TEXT = 14.0
PAD = 3.0
_WRAP = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop


class ToldModel(QAbstractListModel):
    """The lines that are shown: all of them, or the notes alone."""

    def __init__(self) -> None:
        super().__init__()
        self._all: tuple[Told, ...] = ()
        self.lines: list[Told] = []
        self.notes_only = False

    def rowCount(self, parent: Index | None = None) -> int:
        """How many there are."""
        return 0 if parent is not None and parent.isValid() else len(self.lines)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """The line itself, or its words."""
        if not index.isValid():
            return None
        line = self.lines[index.row()]
        if role == LINE:
            return line
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            return f"{clock(line.t)} {'note: ' if line.note else ''}{line.text}"
        return None

    def show_lines(self, lines: tuple[Told, ...]) -> None:
        """Show these in place of those before."""
        self._all = lines
        self._sift()

    def only_notes(self, on: bool) -> None:
        """Show the notes alone, or everything."""
        self.notes_only = on
        self._sift()

    def _sift(self) -> None:
        self.beginResetModel()
        self.lines = [line for line in self._all if line.note or not self.notes_only]
        self.endResetModel()


class ToldDelegate(QStyledItemDelegate):
    """Draws a line: time, shape, words over as many lines as they need."""

    def __init__(self, look: Look, view: QListView) -> None:
        super().__init__(view)
        self._look = look
        self._view = view

    def _left(self, index: Index) -> float:
        """Where words begin: behind the longest time and the shape."""
        last: Told = index.model().index(index.model().rowCount() - 1, 0).data(LINE)
        longest = max(clock(last.t), "00:00", key=len)
        return QFontMetricsF(self._look.font(TEXT)).horizontalAdvance("0" * len(longest)) + 24.0

    def sizeHint(self, _option: QStyleOptionViewItem, index: Index) -> QSize:
        """As high as its words need in the width there is."""
        line: Told = index.data(LINE)
        wide = max(60.0, self._view.viewport().width() - self._left(index) - 6.0)
        metrics = QFontMetricsF(self._look.font(TEXT, bold=line.note))
        high = metrics.boundingRect(QRectF(0, 0, wide, 10_000), int(_WRAP), line.text).height()
        return QSize(100, round(high + 2 * PAD))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw it."""
        line: Told = index.data(LINE)
        theme = self._look.theme
        box = QRectF(option.rect)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if option.state & QStyle.StateFlag.State_Selected:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.chosen)
            painter.drawRoundedRect(box, 6, 6)
        font = self._look.font(TEXT)
        high = QFontMetricsF(font).height()
        left = self._left(index)
        painter.setFont(font)
        painter.setPen(theme.soft)
        time = QRectF(box.left(), box.top() + PAD, left - 26.0, high)
        painter.drawText(time, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, clock(line.t))
        mark = QRectF(box.left() + left - 19.0, box.top() + PAD + (high - 11.0) / 2.0, 11.0, 11.0)
        if line.note:
            _pennant(painter, mark, QPen(theme.ink, 1.3))
        elif line.shape is not None:
            shapes.draw(painter, mark, line.shape, theme)
        painter.setFont(self._look.font(TEXT, bold=line.note))
        painter.setPen(theme.soft if line.minor else theme.ink)
        words = QRectF(box.left() + left, box.top() + PAD, box.width() - left - 6.0, box.height())
        painter.drawText(words, int(_WRAP), line.text)
        painter.restore()


def _pennant(painter: QPainter, box: QRectF, pen: QPen) -> None:
    """The hollow pennant of a note, as in the graph."""
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    x, y = box.left() + 2.0, box.top()
    painter.drawPolygon(
        QPolygonF([QPointF(x, y), QPointF(box.right(), y + 3.5), QPointF(x, y + 7.0)]),
    )
    painter.drawLine(QPointF(x, y), QPointF(x, box.bottom()))


class ToldList(QListView):
    """The list of what happened; `went_to` carries the time of a line that was clicked or entered."""

    went_to = Signal(float)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.told = ToldModel()
        self.setModel(self.told)
        self.setItemDelegate(ToldDelegate(look, self))
        self.setAccessibleName("what happened in the run")
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.clicked.connect(self._go)
        look.changed.connect(self.viewport().update)

    @property
    def moment(self) -> float | None:
        """The time of the line it stands on."""
        index = self.currentIndex()
        return index.data(LINE).t if index.isValid() else None

    def show_lines(self, lines: tuple[Told, ...]) -> None:
        """Show these, staying on the line it stood on."""
        at, place = self.verticalScrollBar().value(), self.currentIndex().row()
        self.told.show_lines(lines)
        if 0 <= place < len(self.told.lines):
            self.setCurrentIndex(self.told.index(place))
        self.verticalScrollBar().setValue(at)

    def enter(self) -> None:
        """Go to the line it stands on."""
        self._go(self.currentIndex())

    def _go(self, index: QModelIndex) -> None:
        if index.isValid():
            self.went_to.emit(index.data(LINE).t)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Words break elsewhere in another width."""
        super().resizeEvent(event)
        self.scheduleDelayedItemsLayout()
