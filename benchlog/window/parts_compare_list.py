"""Every part in two passes and on the other side, a line each: shape, number and word of each, and what matters."""

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QAbstractListModel, QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QMouseEvent, QPainter, QResizeEvent
from PySide6.QtWidgets import QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from benchlog.store.query_unit import KeptReading
from benchlog.window import shapes
from benchlog.window.look import Look
from benchlog.window.parts_book import in_words
from benchlog.window.parts_card import result_of, shape_of
from benchlog.window.parts_compared import Comparison, Line
from benchlog.window.tooltip import tip

HIGH = 44
"""Pixels of height of a line: number above, word below."""
MARK = 13
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter

Index = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True, slots=True)
class Column:
    """A column and its place, pixels from the left."""

    name: str
    left: float
    width: float


def columns(width: float, comparison: Comparison) -> list[Column]:
    """Part, earlier, later, other side, and what matters, which has what is left."""
    part = 58.0 if width < 700 else 80.0
    cell = min(190.0, (width - part) * (0.215 if width < 700 else 0.19))
    names = ("part", comparison.earlier, comparison.later, "other side", "what matters")
    lefts = [8.0, 8.0 + part, 8.0 + part + cell, 8.0 + part + 2 * cell, 8.0 + part + 3 * cell]
    ends = [*lefts[1:], width - 6.0]
    return [Column(name, left, end - left - 8.0) for name, left, end in zip(names, lefts, ends, strict=True)]


class CompareModel(QAbstractListModel):
    """The lines in the order they are shown."""

    def __init__(self) -> None:
        super().__init__()
        self.comparison = Comparison()
        self.lines: tuple[Line, ...] = ()

    def show_lines(self, comparison: Comparison, lines: Sequence[Line]) -> None:
        """Show others."""
        self.beginResetModel()
        self.comparison, self.lines = comparison, tuple(lines)
        self.endResetModel()

    def rowCount(self, parent: Index | None = None) -> int:
        """How many there are."""
        return 0 if parent is not None and parent.isValid() else len(self.lines)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> str | None:
        """The name, and the whole line for those who cannot see it."""
        line = self.lines[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return line.designator
        said = spoken(line, self.comparison)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return said
        return tip(said) if role == Qt.ItemDataRole.ToolTipRole else None


def spoken(line: Line, comparison: Comparison) -> str:
    """A line in one phrase."""
    said = [line.designator]
    for name, kept in (
        (comparison.earlier, line.earlier),
        (comparison.later, line.later),
        (line.other_name, line.other),
    ):
        if kept is not None:
            said.append(f"{name} {in_words(kept.reading)}, {result_of(kept)}")
    return f"{'; '.join(said)}: {', '.join(line.says) or 'nothing stands out'}"


class _Drawer(QStyledItemDelegate):
    """Draws a line in the fonts and colours of the look."""

    def __init__(self, look: Look, model: CompareModel) -> None:
        super().__init__()
        self._look, self._model = look, model

    def sizeHint(self, _option: QStyleOptionViewItem, _index: Index) -> QSize:
        """All lines are equally high."""
        return QSize(300, HIGH)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw one line."""
        look, theme, line = self._look, self._look.theme, self._model.lines[index.row()]
        box = QRectF(option.rect)
        state: QStyle.StateFlag = option.state
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if state & QStyle.StateFlag.State_Selected:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.here_pale)
            painter.drawRoundedRect(box.adjusted(1, 1, -1, -1), 5, 5)
        part, earlier, later, other, what = columns(box.width(), self._model.comparison)
        painter.setPen(theme.ink)
        painter.setFont(look.fitting(line.designator, part.width, 16, least=11))
        painter.drawText(self._cell(box, part), _LEFT, line.designator)
        for column, kept, ink in (
            (earlier, line.earlier, theme.soft),
            (later, line.later, theme.ink),
            (other, line.other, theme.soft),
        ):
            self._reading(painter, self._cell(box, column), kept, ink)
        self._matters(painter, self._cell(box, what), line)
        painter.restore()

    @staticmethod
    def _cell(box: QRectF, column: Column) -> QRectF:
        return QRectF(box.left() + column.left, box.top() + 2, column.width, box.height() - 4)

    def _reading(self, painter: QPainter, cell: QRectF, kept: KeptReading | None, ink: QColor) -> None:
        """Shape and number, and the word below."""
        look, theme = self._look, self._look.theme
        painter.setPen(theme.soft)
        painter.setFont(look.font(14))
        if kept is None:
            painter.drawText(cell, _LEFT, "—")
            return
        half = cell.height() / 2
        shapes.draw(
            painter,
            QRectF(cell.left(), cell.top() + half / 2 - MARK / 2 + 1, MARK, MARK),
            shape_of(kept),
            theme,
        )
        text = in_words(kept.reading)
        room = cell.width() - MARK - 7
        painter.setPen(ink)
        painter.setFont(look.fitting(text, room, 16, least=11, bold=False))
        painter.drawText(QRectF(cell.left() + MARK + 7, cell.top(), room, half + 2), _LEFT, text)
        painter.setPen(theme.soft)
        painter.setFont(look.fitting(result_of(kept), room, 13, least=10, bold=False))
        painter.drawText(
            QRectF(cell.left() + MARK + 7, cell.top() + half, room, half), _LEFT, result_of(kept)
        )

    def _matters(self, painter: QPainter, cell: QRectF, line: Line) -> None:
        """The gravest in ink, the rest below it."""
        look, theme = self._look, self._look.theme
        if not line.says:
            return
        half = cell.height() / 2
        rest = " · ".join(line.says[1:])
        top = QRectF(cell.left(), cell.top(), cell.width(), half + 2) if rest else cell
        for text, area, font, ink in (
            (line.says[0], top, look.font(15, bold=True), theme.ink),
            (rest, QRectF(cell.left(), cell.top() + half, cell.width(), half), look.font(13), theme.soft),
        ):
            painter.setFont(font)
            painter.setPen(ink)
            shown = QFontMetrics(font).elidedText(text, Qt.TextElideMode.ElideRight, int(area.width()))
            painter.drawText(area, _LEFT, shown)


class CompareHeads(QWidget):
    """The words above the columns."""

    def __init__(self, look: Look, view: "CompareList") -> None:
        super().__init__()
        self._look, self._view = look, view
        self.setFixedHeight(24)
        look.changed.connect(self.update)

    def paintEvent(self, _event: object) -> None:
        """Draw them where the columns are."""
        painter = QPainter(self)
        painter.setPen(self._look.theme.soft)
        for column in columns(self._view.viewport().width(), self._view.lines.comparison):
            painter.setFont(self._look.fitting(column.name, column.width, 13, least=10, bold=False))
            shown = painter.fontMetrics().elidedText(
                column.name, Qt.TextElideMode.ElideRight, int(column.width)
            )
            painter.drawText(QRectF(column.left, 0, column.width, self.height()), _LEFT, shown)
        painter.end()


class CompareList(QListView):
    """The list; `asked` carries the place in the book of the line that was clicked."""

    asked = Signal(int)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.lines = CompareModel()
        self._drawer = _Drawer(look, self.lines)
        self.setModel(self.lines)
        self.setItemDelegate(self._drawer)
        self.setUniformItemSizes(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        # Keys are the page's: the list would search for what is typed.
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName("parts in two passes")
        look.changed.connect(self.viewport().update)

    @property
    def chosen(self) -> Line | None:
        """The line that is marked."""
        at = self.currentIndex().row()
        return self.lines.lines[at] if 0 <= at < len(self.lines.lines) else None

    def choose(self, at: int) -> None:
        """Mark a line by its place in the list and bring it into view."""
        if self.lines.lines:
            index = self.lines.index(min(max(0, at), len(self.lines.lines) - 1))
            self.setCurrentIndex(index)
            self.scrollTo(index)

    def choose_row(self, row: int) -> None:
        """Mark the line of a row of the book, else the first."""
        found = [at for at, line in enumerate(self.lines.lines) if line.at == row]
        self.choose(found[0] if found else 0)

    def move_by(self, step: int) -> None:
        """Mark a line so many further down."""
        self.choose(self.currentIndex().row() + step)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Whole lines only: what is left over below stays empty."""
        self.setViewportMargins(0, 0, 0, self.height() % HIGH)
        super().resizeEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A line that is clicked is marked; twice leads to its part."""
        index = self.indexAt(event.position().toPoint())
        if index.isValid() and event.button() is Qt.MouseButton.LeftButton:
            self.choose(index.row())

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """To the part."""
        index = self.indexAt(event.position().toPoint())
        if index.isValid():
            self.asked.emit(self.lines.lines[index.row()].at)
