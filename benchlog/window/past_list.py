"""The list of past runs: a shape for how each ended, when, which unit, what was run, why it ended."""

from bisect import bisect_left
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QModelIndex,
    QPersistentModelIndex,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor, QFontMetricsF, QPainter
from PySide6.QtWidgets import (
    QLineEdit,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from benchlog.domain.sought import Found
from benchlog.window import shapes, words
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.past_bin import BinLine
from benchlog.window.past_row import Listed, PastRow
from benchlog.window.tooltip import tip
from benchlog.window.work import Work

Index = QModelIndex | QPersistentModelIndex
ROW = Qt.ItemDataRole.UserRole
LINES = (15.0, 14.0, 13.0, 13.0)
"""Pixel sizes of the lines of a row."""
PAD, MARK, LEFT = 8.0, 16.0, 36.0


class RunModel(QAbstractListModel):
    """The runs that the words in the field let through."""

    def __init__(self, today: Callable[[], date] = date.today) -> None:
        super().__init__()
        self._today = today
        self._all = Listed()
        self.rows: list[PastRow] = []
        self.found = Found(())
        self._sought = ""

    def rowCount(self, parent: Index | None = None) -> int:
        """How many are let through."""
        return 0 if parent is not None and parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """The run itself, or its words for who cannot see it."""
        if not index.isValid():
            return None
        row = self.rows[index.row()]
        if role == ROW:
            return row
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            chosen = "reference" if row.chosen else ""
            texts = (chosen, row.ending, row.when, row.unit, row.plan, row.lasted, row.reason)
            return ", ".join(filter(None, texts))
        if role == Qt.ItemDataRole.ToolTipRole:
            return tip(row.reason)
        return None

    def show_rows(self, listed: Listed) -> None:
        """Show these in place of those before."""
        self._all = listed
        self._sift()

    def seek(self, sought: str) -> None:
        """Let through only those in which every word stands somewhere."""
        self._sought = sought
        self._sift()

    def place(self, file: Path | None) -> int:
        """Where a run stands, -1 where it is not let through."""
        wanted = self._all.places.get(file.name, -1) if file is not None else -1
        at = bisect_left(self.found.places, wanted)
        return at if wanted >= 0 and self.found.places[at : at + 1] == (wanted,) else -1

    def _sift(self) -> None:
        self.beginResetModel()
        self.found = self._all.finder.find(self._sought, self._today())
        self.rows = [self._all.rows[place] for place in self.found.places]
        self.endResetModel()

    @property
    def says(self) -> str:
        """What was understood and what was not; where there is nothing to look through, that."""
        if not self._all.rows:
            return "No run yet. Each one is kept here by itself."
        if not self._sought.split():
            return ""
        count = len(self.rows)
        runs = "no run" if not count else "1 run" if count == 1 else f"{count} runs"
        return f"{runs} of {len(self._all.rows)}: {self.found.says}"


class RunDelegate(QStyledItemDelegate):
    """Draws a run: how it ended and when; what; which unit and how long; why."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look

    def sizeHint(self, _option: QStyleOptionViewItem, _index: Index) -> QSize:
        """Room for its lines."""
        return QSize(160, round(sum(self._heights()) + 2.0 * PAD))

    def _heights(self) -> list[float]:
        return [QFontMetricsF(self._look.font(size, bold=i == 0)).height() for i, size in enumerate(LINES)]

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw it."""
        row: PastRow = index.data(ROW)
        theme = self._look.theme
        box = QRectF(option.rect)
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        if chosen:
            painter.setBrush(theme.chosen)
            painter.drawRoundedRect(box.adjusted(0, 1, -4, -1), 8, 8)
            painter.setBrush(theme.here)
            painter.drawRect(QRectF(box.left(), box.top() + 5, 4, box.height() - 10))
        else:
            painter.fillRect(
                QRectF(box.left() + LEFT, box.bottom() - 1, box.width() - LEFT, 1), theme.hairline
            )
        shapes.draw(painter, QRectF(box.left() + 11, box.top() + PAD + 2, MARK, MARK), row.shape, theme)
        self._write(painter, row, box.adjusted(LEFT, PAD, -10, -PAD))
        painter.restore()

    def _write(self, painter: QPainter, row: PastRow, box: QRectF) -> None:
        theme = self._look.theme
        texts: tuple[tuple[str, str, QColor], ...] = (
            (row.ending, row.when, theme.ink),
            (row.plan if row.readable else "", row.lasted, theme.ink),
            (row.unit or ("no unit" if row.readable else ""), "reference" if row.chosen else "", theme.soft),
            (row.reason, "", theme.soft),
        )
        if not row.readable:
            texts = ((row.ending, row.when, theme.ink), *((text, "", theme.soft) for text in _halves(row)))
        y = box.top()
        for i, ((left, right, colour), height) in enumerate(zip(texts, self._heights(), strict=False)):
            painter.setFont(self._look.font(13))
            painter.setPen(theme.soft)
            line = QRectF(box.left(), y, box.width(), height)
            painter.drawText(line, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, right)
            taken = painter.fontMetrics().horizontalAdvance(right) + 10 if right else 0
            painter.setFont(self._look.font(LINES[i], bold=i == 0))
            painter.setPen(colour)
            shown = painter.fontMetrics().elidedText(
                left, Qt.TextElideMode.ElideRight, round(box.width() - taken)
            )
            painter.drawText(line, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, shown)
            y += height


def _halves(row: PastRow) -> tuple[str, ...]:
    """What is wrong with a file, over the lines that a readable run has."""
    problem, _, fix = row.line.problem.partition("; ")
    return (row.file.name, problem, fix)


class RunList(QWidget):
    """Field and list; `moved` when another run is the current one, `chosen` when one is to be opened."""

    moved = Signal(object)
    chosen = Signal(object)

    def __init__(self, work: Work) -> None:
        super().__init__()
        look = work.look
        self.model = RunModel()
        self.view = QListView()
        self.view.setModel(self.model)
        self._delegate = RunDelegate(look)
        self.view.setItemDelegate(self._delegate)
        self.view.setAccessibleName(words.PAST_RUNS)
        self.view.setUniformItemSizes(True)
        self.view.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.view.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.field = QLineEdit()
        self.field.setPlaceholderText("find: unit, part, outcome, march, words")
        self.field.setAccessibleName("find runs by words")
        self.field.setClearButtonEnabled(True)
        self.field.setToolTip(
            "Any words: a unit, visit, board, part, plan, how it ended, a day or month, or what was noted. "
            "Each one narrows."
        )
        self.says = label(rank="soft", wrap=True)
        self.bin = BinLine(work)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(label(words.PAST_RUNS, "title"))
        column.addWidget(self.field)
        column.addWidget(self.says)
        column.addWidget(self.view, 1)
        column.addWidget(self.bin)
        self.field.textChanged.connect(self._seek)
        self.field.returnPressed.connect(self._take_first)
        self.view.clicked.connect(lambda index: self.chosen.emit(index.data(ROW)))
        self.view.selectionModel().currentChanged.connect(self._moved)
        look.changed.connect(self.view.viewport().update)
        self._quiet = False

    @property
    def current(self) -> PastRow | None:
        """The run the list stands on."""
        index = self.view.currentIndex()
        return index.data(ROW) if index.isValid() else None

    def show_rows(self, listed: Listed, current: Path | None) -> None:
        """Show these, standing on one of them without opening it anew."""
        at = self.view.verticalScrollBar().value()
        self.view.setLayoutMode(QListView.LayoutMode.SinglePass)
        self._quiet = True
        self.model.show_rows(listed)
        self.bin.show_binned(listed.binned, listed.deleted)
        self.stand_on(current)
        self._quiet = False
        self.view.verticalScrollBar().setValue(at)
        self.says.setText(self.model.says)
        self.says.setVisible(bool(self.model.says))

    def stand_on(self, file: Path | None) -> None:
        """Mark a run as the current one, without opening it anew."""
        place = self.model.place(file)
        before, self._quiet = self._quiet, True
        if place >= 0:
            self.view.setCurrentIndex(self.model.index(place))
        self._quiet = before

    def step(self, by: int) -> None:
        """Go to the run above or below."""
        if not self.model.rows:
            return
        index = self.view.currentIndex()
        place = index.row() + by if index.isValid() else 0
        self.view.setCurrentIndex(self.model.index(min(max(place, 0), len(self.model.rows) - 1)))

    def _moved(self, index: QModelIndex, _before: QModelIndex) -> None:
        if index.isValid() and not self._quiet:
            self.moved.emit(index.data(ROW))

    def _seek(self, text: str) -> None:
        current = self.current
        # Laid out as far as is seen first: thousands of rows at every key would be felt.
        self.view.setLayoutMode(QListView.LayoutMode.Batched)
        self._quiet = True
        self.model.seek(text)
        self.stand_on(current.file if current is not None else None)
        self._quiet = False
        self.says.setText(self.model.says)
        self.says.setVisible(bool(self.model.says))

    def _take_first(self) -> None:
        """Enter in the field: on to the first run that was found."""
        if not self.model.rows:
            return
        if self.current is None:
            self.view.setCurrentIndex(self.model.index(0))
        self.view.setFocus()
        self.chosen.emit(self.current)
