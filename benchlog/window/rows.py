"""A list of rows to choose from: a mark, a name, and a line in small below it; as tall as what stands in it."""

from collections.abc import Iterable
from dataclasses import dataclass

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics, QKeyEvent, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListWidget,
    QListWidgetItem,
    QSizePolicy,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
)

from benchlog.window import shapes
from benchlog.window.forms import ENTER
from benchlog.window.look import Look
from benchlog.window.shapes import Shape

_ROW = Qt.ItemDataRole.UserRole
_PAD, _MARK = 8, 14
_WRAP = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)


@dataclass(frozen=True, slots=True)
class Row:
    """What one row shows; `key` is what it stands for, `right` a word at its end."""

    key: str
    head: str
    below: str = ""
    right: str = ""
    shape: Shape | None = None


class _Drawn(QStyledItemDelegate):
    """Draws a row; long text goes on in the next line."""

    def __init__(self, look: Look, view: "Rows") -> None:
        super().__init__(view)
        self._look = look
        self._view = view

    def _texts(self, row: Row, width: int) -> tuple[QRect, QRect]:
        """Where name and small line stand, as if the row began at the top left."""
        left = _PAD + (_MARK + 10 if row.shape is not None else 0)
        metrics = QFontMetrics(self._look.font(15))
        right = metrics.horizontalAdvance(row.right) + (12 if row.right else 0)
        room = max(60, width - left - _PAD)
        bold = QFontMetrics(self._look.font(15, bold=True))
        head = bold.boundingRect(QRect(left, 6, max(40, room - right), 10_000), _WRAP, row.head)
        if not row.below:
            return head, QRect(left, head.bottom() + 1, 0, 0)
        small = QFontMetrics(self._look.font(14))
        below = small.boundingRect(QRect(left, head.bottom() + 3, room, 10_000), _WRAP, row.below)
        return head, below

    def sizeHint(self, _option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        """Room for every line."""
        width = self._view.viewport().width()
        _, below = self._texts(index.data(_ROW), width)
        return QSize(60, below.bottom() + 8)

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        """Draw mark, name, word and small line."""
        row: Row = index.data(_ROW)
        theme = self._look.theme
        box: QRect = option.rect
        state: QStyle.StateFlag = option.state
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if state & QStyle.StateFlag.State_Selected and self._view.chooses:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.here_pale)
            painter.drawRoundedRect(QRectF(box).adjusted(1, 1, -1, -1), 6, 6)
            if self._view.hasFocus():
                painter.setBrush(theme.here)
                painter.drawRect(QRectF(box.left() + 1, box.top() + 4, 3, box.height() - 8))
        head, below = self._texts(row, box.width())
        if row.shape is not None:
            mark = QRectF(box.left() + _PAD, box.top() + head.top() + 3, _MARK, _MARK)
            shapes.draw(painter, mark, row.shape, theme)
        painter.setPen(theme.ink)
        painter.setFont(self._look.font(15, bold=True))
        painter.drawText(head.translated(box.topLeft()).adjusted(0, 0, 2, 0), _WRAP, row.head)
        painter.setPen(theme.soft)
        painter.setFont(self._look.font(15))
        right = QRect(box.left(), box.top() + head.top(), box.width() - _PAD, head.height())
        painter.drawText(right, int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop), row.right)
        painter.setFont(self._look.font(14))
        painter.drawText(below.translated(box.topLeft()).adjusted(0, 0, 2, 0), _WRAP, row.below)
        painter.restore()


class Rows(QListWidget):
    """Rows of which one can be chosen by arrow keys; `taken` carries its key at Enter or a click."""

    taken = Signal(str)

    def __init__(self, look: Look, name: str, *, most: int = 9, chooses: bool = True) -> None:
        """`most` rows are shown at once; one that `chooses` nothing only shows."""
        super().__init__()
        self._most = most
        self.chooses = chooses
        self.setAccessibleName(name)
        self.setItemDelegate(_Drawn(look, self))
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus if chooses else Qt.FocusPolicy.ClickFocus)
        self.itemClicked.connect(lambda _: self.taken.emit(self.key))
        look.changed.connect(self.viewport().update)

    def put(self, rows: Iterable[Row]) -> None:
        """Show these; the chosen one stays chosen where it is still among them."""
        before = self.key
        self.clear()
        for row in rows:
            item = QListWidgetItem()
            item.setData(_ROW, row)
            said = ", ".join(text for text in (row.head, row.right, row.below) if text)
            item.setData(Qt.ItemDataRole.AccessibleTextRole, said)
            self.addItem(item)
            if before and row.key == before:
                self.setCurrentItem(item)
        self._fit()

    @property
    def rows(self) -> list[Row]:
        """What is shown."""
        return [self.item(at).data(_ROW) for at in range(self.count())]

    @property
    def key(self) -> str:
        """What the chosen row stands for, empty where none is."""
        at = self.currentRow()
        return str(self.item(at).data(_ROW).key) if at >= 0 else ""

    def choose(self, key: str) -> None:
        """Choose the row that stands for this."""
        for at, row in enumerate(self.rows):
            if row.key == key:
                self.setCurrentRow(at)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter takes the chosen row."""
        if event.key() in ENTER and self.key:
            self.taken.emit(self.key)
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width breaks lines elsewhere."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.scheduleDelayedItemsLayout()
            self._fit()

    def _fit(self) -> None:
        heights = [self.sizeHintForRow(at) for at in range(min(self.count(), self._most))]
        self.setFixedHeight(sum(heights) + 2 * self.frameWidth() + 2)
