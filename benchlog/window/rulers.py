"""Several measures of one part below each other on one scale, with the reading through all of them."""

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchlog.domain.expectation import Expectation
from benchlog.domain.quantity import Overload
from benchlog.window import shapes
from benchlog.window.look import Look
from benchlog.window.rulers_scale import Band, Scale, scale_of
from benchlog.window.shapes import Shape

ROW, AXIS, TOP = 66, 30, 20
"""Pixels of height of one measure, of the numbers below, and of the reading's name above."""
BAR, EDGE, KEY = 16, 12, 26


@dataclass(frozen=True, slots=True)
class Measure:
    """One row: a key, what should be read, whose that is, how it lies beside what holds, and its shape."""

    key: str
    expectation: Expectation
    whose: str
    beside: str
    shape: Shape
    holds: bool = False

    @property
    def said(self) -> str:
        """The row for those who cannot see it."""
        return f"{self.key}: {self.expectation.shown} from {self.whose}, {self.beside}"


class Rulers(QWidget):
    """The rows; `pressed` carries the place of the one that was clicked, from 0."""

    pressed = Signal(int)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.rows: tuple[Measure, ...] = ()
        self._value: float | Overload | None = None
        self._read = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.update)

    def show_rows(self, rows: Sequence[Measure], value: float | Overload | None, read: str) -> None:
        """Show others; `read` is the reading in words, empty where there is none."""
        self.rows, self._value, self._read = tuple(rows), value, read
        said = "; ".join(row.said for row in self.rows) or "nothing is known"
        self.setAccessibleName(f"should read: {said}{f'; reads {read}' if read else ''}")
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """As tall as its rows."""
        return QSize(280, TOP + ROW * len(self.rows) + AXIS if self.rows else 40)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A row that is clicked is asked for."""
        at = int((event.position().y() - TOP) // ROW)
        if event.button() is Qt.MouseButton.LeftButton and 0 <= at < len(self.rows):
            self.pressed.emit(at)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw them."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, theme = self._look, self._look.theme
        if not self.rows:
            painter.setPen(theme.soft)
            painter.setFont(look.font(15))
            painter.drawText(
                self.rect(), Qt.AlignmentFlag.AlignVCenter, "Nothing elsewhere says what it should read."
            )
            painter.end()
            return
        left, wide = float(KEY + EDGE), float(self.width() - KEY - 2 * EDGE)
        scale = scale_of([row.expectation for row in self.rows], self._value, max(2, int(wide // 70)))
        for at, row in enumerate(self.rows):
            self._row(painter, row, TOP + at * ROW)
            self._bar(painter, scale.bands[at], row, QRectF(left, TOP + at * ROW + 44, wide, BAR), scale)
        self._axis(painter, scale, left, wide)
        self._reading(painter, scale, left, wide)
        painter.end()

    def _row(self, painter: QPainter, row: Measure, top: float) -> None:
        look, theme = self._look, self._look.theme
        whole = float(self.width())
        if row.holds:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.here_pale)
            painter.drawRoundedRect(QRectF(0, top + 1, whole, ROW - 3), 6, 6)
        key = QRectF(4, top + 5, KEY - 4, 22)
        painter.setPen(QPen(theme.hairline, 1))
        painter.setBrush(theme.card)
        painter.drawRoundedRect(key, 5, 5)
        painter.setPen(theme.ink)
        painter.setFont(look.font(14, bold=True))
        painter.drawText(key, Qt.AlignmentFlag.AlignCenter, row.key)
        left = float(KEY + EDGE)
        middle = Qt.AlignmentFlag.AlignVCenter
        painter.setFont(look.font(16, bold=True))
        shown = row.expectation.shown
        painter.drawText(QRectF(left, top + 3, whole - left - EDGE, 22), middle, shown)
        after = left + QFontMetricsF(painter.font()).horizontalAdvance(shown) + 12
        painter.setFont(look.font(14))
        painter.setPen(theme.soft)
        metrics = QFontMetrics(painter.font())
        room = whole - after - EDGE
        whose = metrics.elidedText(row.whose, Qt.TextElideMode.ElideMiddle, int(room))
        painter.drawText(QRectF(after, top + 4, room, 22), Qt.AlignmentFlag.AlignRight | middle, whose)
        shapes.draw(painter, QRectF(left, top + 28, 11, 11), row.shape, theme)
        painter.setPen(theme.ink)
        painter.drawText(QRectF(left + 18, top + 24, whole - left - EDGE - 18, 19), middle, row.beside)

    def _bar(self, painter: QPainter, band: Band, row: Measure, box: QRectF, scale: Scale) -> None:
        theme = self._look.theme
        y = box.center().y()
        end = box.left() + box.width() * (scale.over or 1.0)
        painter.setPen(QPen(theme.hairline, 1))
        painter.drawLine(QPointF(box.left(), y), QPointF(end, y))
        low, high = (box.left() + share * box.width() for share in (band.low, band.high))
        painter.setPen(QPen(theme.good, 1.5, Qt.PenStyle.SolidLine if row.holds else Qt.PenStyle.DashLine))
        painter.setBrush(theme.good_pale)
        painter.drawRoundedRect(QRectF(low, box.top() + 2, max(3.0, high - low), box.height() - 4), 3, 3)
        if band.middle is not None:
            x = box.left() + band.middle * box.width()
            painter.setPen(QPen(theme.good, 2))
            painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))

    def _axis(self, painter: QPainter, scale: Scale, left: float, wide: float) -> None:
        theme = self._look.theme
        y = TOP + ROW * len(self.rows) + 2.0
        painter.setFont(self._look.font(13))
        metrics = QFontMetricsF(painter.font())
        painter.setPen(QPen(theme.ink, 1.2))
        painter.drawLine(QPointF(left, y), QPointF(left + wide * (scale.over or 1.0), y))
        low = y + 6 + metrics.ascent()
        taken = left - EDGE
        for at, text in scale.ticks:
            x = left + at * wide
            painter.setPen(QPen(theme.ink, 1.2))
            painter.drawLine(QPointF(x, y), QPointF(x, y + 5))
            half = metrics.horizontalAdvance(text) / 2
            if x - half > taken + 4 and x + half < left + wide - metrics.horizontalAdvance(scale.unit) - 8:
                painter.setPen(theme.soft)
                painter.drawText(QPointF(x - half, low), text)
                taken = x + half
        painter.setPen(theme.soft)
        said = "OL" if scale.over is not None else scale.unit
        painter.drawText(QPointF(left + wide - metrics.horizontalAdvance(said), low), said)

    def _reading(self, painter: QPainter, scale: Scale, left: float, wide: float) -> None:
        """One line through all rows, with a wedge at its top."""
        if scale.value is None:
            return
        theme, x = self._look.theme, left + scale.value * wide
        painter.setPen(QPen(theme.ink, 1.4))
        for at in range(len(self.rows)):
            top = TOP + at * ROW + 44.0
            painter.drawLine(QPointF(x, top - 2), QPointF(x, top + BAR + 2))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(theme.ink)
        painter.drawPolygon(QPolygonF([QPointF(x, TOP), QPointF(x - 6, TOP - 9), QPointF(x + 6, TOP - 9)]))
        painter.setPen(theme.ink)
        painter.setFont(self._look.font(13))
        text = f"reads {self._read}"
        wide_text = QFontMetricsF(painter.font()).horizontalAdvance(text)
        start = x + 10 if x + 10 + wide_text < self.width() else x - 10 - wide_text
        painter.drawText(QPointF(start, TOP - 5), text)
