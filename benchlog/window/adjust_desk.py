"""The desk of an adjustment: minutes on, mains and sinks in large, a pointer for each figure, the drift cold to hot."""

from collections.abc import Sequence

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from benchlog.window.adjust_view import DriftRow, TrimFace, heads
from benchlog.window.forms import scrolled
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.trim_gauge import TrimGauge

NARROW = 400
"""Pixels of width below which the figures stand below each other."""
LOW = 340
"""Pixels of height below which there is no room for the drift."""
ROW = 22
BESIDE = 22
"""Pixels of what stands beside the trimmer."""
_LEFT = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
_RIGHT = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)


class DriftTable(QWidget):
    """What each figure read so many minutes after switching on, an earlier run's line beneath."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.rows: tuple[DriftRow, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.update)

    def show_rows(self, rows: Sequence[DriftRow]) -> None:
        """Show these."""
        if tuple(rows) != self.rows:
            tall = len(rows) != len(self.rows)
            self.rows = tuple(rows)
            said = (f"{row.trace} {row.whose}: {', '.join(row.texts)}" for row in self.rows)
            self.setAccessibleName(f"cold to hot at {', '.join(heads())}; {'; '.join(said)}")
            if tall:
                self.updateGeometry()
            self.update()

    def sizeHint(self) -> QSize:
        """A line each, and the heads."""
        return QSize(420, ROW * (len(self.rows) + 1))

    def minimumSizeHint(self) -> QSize:
        """As tall as that, and narrower."""
        return QSize(280, ROW * (len(self.rows) + 1))

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it."""
        theme, look = self._look.theme, self._look
        painter = QPainter(self)
        columns = len(heads())
        first = min(190.0, self.width() * 0.32)
        wide = (self.width() - first) / columns
        painter.setPen(theme.soft)
        painter.setFont(look.font(14))
        painter.drawText(QRectF(0, 0, first, ROW), _LEFT, "cold to hot")
        for at, head in enumerate(heads()):
            painter.drawText(QRectF(first + at * wide, 0, wide, ROW), _RIGHT, head)
        for at, row in enumerate(self.rows, start=1):
            earlier = row.whose != "now"
            top = at * ROW
            painter.setPen(theme.soft if earlier else theme.ink)
            name = f"   {row.whose}" if earlier else row.trace
            painter.setFont(look.font(14, bold=not earlier))
            painter.drawText(QRectF(0, top, first, ROW), _LEFT, name)
            for column, text in enumerate(row.texts):
                painter.setFont(look.fitting(text, wide - 8.0, 15.0, least=10, bold=not earlier))
                painter.drawText(QRectF(first + column * wide, top, wide, ROW), _RIGHT, text)
        painter.end()


class AdjustDesk(QWidget):
    """Everything that is looked at while a trimmer is turned."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.gauges: list[TrimGauge] = []
        self.beside = label()
        self.beside.setFont(look.font(BESIDE, bold=True))
        self.table = DriftTable(look)
        self._columns = 2
        self._grid = QGridLayout()
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(8)
        top = QHBoxLayout()
        top.addWidget(self.beside, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addLayout(top)
        column.addLayout(self._grid, 3)
        inside = QWidget()
        below = QVBoxLayout(inside)
        below.setContentsMargins(0, 0, 8, 0)
        below.addWidget(self.table)
        below.addStretch(1)
        self.area = scrolled(inside)
        column.addWidget(self.area, 2)

    def show_run(
        self, faces: Sequence[TrimFace], beside: Sequence[tuple[str, str]], rows: Sequence[DriftRow]
    ) -> None:
        """Show how everything stands now."""
        if len(faces) != len(self.gauges):
            self._make(len(faces))
        for gauge, face in zip(self.gauges, faces, strict=True):
            gauge.show_face(face)
        said = "    ".join(f"{name} {value}" for name, value in beside)
        self.beside.setText(said)
        self.beside.setFont(self._look.fitting(said, max(self.width() - 10, 100), BESIDE, least=13))
        self.table.show_rows(rows)

    def resizeEvent(self, event: object) -> None:
        """Below each other where it is narrow."""
        super().resizeEvent(event)  # type: ignore[arg-type]  # the event is handed on as it came
        # Where there is little room the pointers have it.
        self.area.setVisible(self.height() >= LOW)
        columns = 1 if self.width() < NARROW else 2
        if columns != self._columns:
            self._columns = columns
            self._place()

    def _make(self, count: int) -> None:
        for old in self.gauges:
            self._grid.removeWidget(old)
            old.hide()
            old.deleteLater()
        self.gauges = [TrimGauge(self._look) for _ in range(count)]
        self._place()

    def _place(self) -> None:
        for gauge in self.gauges:
            self._grid.removeWidget(gauge)
        for at, gauge in enumerate(self.gauges):
            self._grid.addWidget(gauge, at // self._columns, at % self._columns)
            gauge.show()
