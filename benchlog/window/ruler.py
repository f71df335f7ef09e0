"""The tolerance ruler: band, nominal, the reading with the meter's error, the other side; one look tells why."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchlog.window import shapes
from benchlog.window.look import Look, Theme
from benchlog.window.ruler_scale import Pointer, Ruled, Scale, Tick, Zone, described, scale_of
from benchlog.window.shapes import Shape

EDGE = 22.0
"""Pixels left and right of the ruler, for numbers that stand at its ends."""


class Ruler(QWidget):
    """The ruler of the part at hand."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._ruled = Ruled()
        self._shape = Shape.TO_DO
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.update)

    def show_ruled(self, ruled: Ruled, shape: Shape) -> None:
        """Draw another part; `shape` is the result of its reading."""
        self._ruled, self._shape = ruled, shape
        self.setAccessibleName(f"ruler: {described(ruled)}")
        self.update()

    def sizeHint(self) -> QSize:
        """Room for the words above, the band, and the numbers below."""
        return QSize(420, 90)

    def minimumSizeHint(self) -> QSize:
        """Narrower it has fewer numbers."""
        return QSize(220, 90)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        wide = self.width() - 2 * EDGE
        scale = scale_of(self._ruled, max(2, int(wide // 64)))
        if scale.band is None and scale.pointer is None and scale.other is None:
            painter.setPen(self._look.theme.soft)
            painter.setFont(self._look.font(15))
            painter.drawText(
                QRectF(self.rect()), Qt.AlignmentFlag.AlignVCenter, "Nothing says what it should read."
            )
        else:
            _Drawing(painter, self._look, QRectF(EDGE, 0, wide, self.height()), scale, self._shape).draw()
        painter.end()


class _Drawing:
    """One drawing of one scale in one box."""

    def __init__(self, painter: QPainter, look: Look, box: QRectF, scale: Scale, shape: Shape) -> None:
        self.painter, self.look, self.box, self.scale, self.shape = painter, look, box, scale, shape
        self.theme: Theme = look.theme
        self.band = QRectF(box.left(), box.top() + 30, box.width(), 28)

    def draw(self) -> None:
        """Everything, from the back to the front."""
        self._zones()
        self._axis()
        self._nominal()
        if self.scale.other is not None:
            self._other(self.scale.other)
        self._error()
        if self.scale.pointer is not None:
            self._pointer(self.scale.pointer)

    def _x(self, share: float) -> float:
        return self.box.left() + share * self.box.width()

    def _area(self, zone: Zone, inset: float = 0.0) -> QRectF:
        left, right = self._x(zone[0]), self._x(zone[1])
        return QRectF(left, self.band.top() + inset, right - left, self.band.height() - 2 * inset)

    def _zones(self) -> None:
        painter, theme = self.painter, self.theme
        painter.setPen(Qt.PenStyle.NoPen)
        for zone in self.scale.drifted:
            # Lower than the band: it may stay, and is not what is wanted.
            pale = QColor(theme.good_pale)
            pale.setAlphaF(0.55)
            painter.setBrush(pale)
            painter.drawRect(self._area(zone, 9))
        if self.scale.band is not None:
            painter.setBrush(theme.good_pale)
            painter.drawRoundedRect(self._area(self.scale.band), 3, 3)
        for zone in self.scale.guards:
            painter.setBrush(QBrush(theme.good, Qt.BrushStyle.BDiagPattern))
            painter.drawRect(self._area(zone))

    def _axis(self) -> None:
        painter, theme, scale = self.painter, self.theme, self.scale
        y = self.band.bottom() + 8
        painter.setPen(QPen(theme.ink, 1.2))
        right = self._x(scale.over[0]) - 10 if scale.over is not None and scale.ticks else self.box.right()
        if scale.ticks:
            painter.drawLine(QPointF(self.box.left(), y), QPointF(right, y))
        painter.setFont(self.look.font(13))
        metrics = QFontMetricsF(painter.font())
        bearer = self._unit_bearer(metrics)
        for tick in scale.ticks:
            x = self._x(tick.at)
            painter.setPen(QPen(theme.ink, 1.2))
            painter.drawLine(QPointF(x, y), QPointF(x, y + 5))
            painter.setPen(theme.soft)
            wide = metrics.horizontalAdvance(tick.text)
            low = y + 8 + metrics.ascent()
            painter.drawText(QPointF(x - wide / 2, low), tick.text)
            if tick is bearer:
                painter.drawText(QPointF(x + wide / 2 + 4, low), scale.unit)
        if scale.over is not None:
            painter.setPen(theme.soft)
            area = self._area(scale.over)
            painter.drawText(
                QRectF(area.left(), y + 6, area.width(), 20), Qt.AlignmentFlag.AlignHCenter, "OL"
            )
            painter.setPen(QPen(theme.hairline, 1, Qt.PenStyle.DashLine))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(area)

    def _unit_bearer(self, metrics: QFontMetricsF) -> Tick | None:
        """The last number behind which there is room for the unit."""
        wide = metrics.horizontalAdvance(self.scale.unit) + 6
        end = self._x(self.scale.over[0]) if self.scale.over is not None else self.box.right() + EDGE
        for tick in reversed(self.scale.ticks):
            if self._x(tick.at) + metrics.horizontalAdvance(tick.text) / 2 + wide <= end:
                return tick
        return None

    def _nominal(self) -> None:
        if self.scale.nominal is not None:
            x = self._x(self.scale.nominal)
            self.painter.setPen(QPen(self.theme.good, 2))
            self.painter.drawLine(QPointF(x, self.band.top() - 4), QPointF(x, self.band.bottom() + 8))

    def _other(self, other: Pointer) -> None:
        """A tick of its own colour; its words keep away from the pointer."""
        painter = self.painter
        colour = self.theme.traces[2]
        x = self._x(other.at)
        painter.setPen(QPen(colour, 3))
        painter.drawLine(QPointF(x, self.band.top() + 4), QPointF(x, self.band.bottom() - 4))
        painter.setFont(self.look.font(13))
        text = "other side" if not other.beyond else ("◂ other side" if other.beyond < 0 else "other side ▸")
        wide = QFontMetricsF(painter.font()).horizontalAdvance(text)
        pointer = self.scale.pointer
        left = x - wide / 2
        if pointer is not None and abs(self._x(pointer.at) - x) < wide / 2 + 16:
            left = x - wide - 14 if other.at <= pointer.at else x + 14
            if pointer.at == other.at or left < self.box.left() - EDGE:
                left = x + 14
            if left + wide > self.box.right() + EDGE:
                left = min(x, self._x(pointer.at)) - wide - 14
        left = min(max(left, self.box.left() - EDGE), self.box.right() + EDGE - wide)
        painter.drawText(QPointF(left, self.band.top() - 10), text)

    def _error(self) -> None:
        if self.scale.error is None:
            return
        y = self.band.center().y()
        left, right = (self._x(share) for share in self.scale.error)
        painter = self.painter
        painter.setPen(QPen(self.theme.ink, 4, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
        painter.drawLine(QPointF(left, y), QPointF(right, y))
        painter.setPen(QPen(self.theme.ink, 1.5))
        for x in (left, right):
            painter.drawLine(QPointF(x, y - 6), QPointF(x, y + 6))

    def _pointer(self, pointer: Pointer) -> None:
        """A wedge above the band, or an arrow at the edge that says which way it went."""
        painter, x, top = self.painter, self._x(pointer.at), self.band.top()
        painter.setPen(Qt.PenStyle.NoPen)
        if pointer.beyond:
            painter.setBrush(shapes.colour_of(self.shape, self.theme))
            tip = x + pointer.beyond * 12
            y = self.band.center().y()
            painter.drawPolygon(
                QPolygonF(
                    [
                        QPointF(tip, y),
                        QPointF(tip - pointer.beyond * 18, y - 12),
                        QPointF(tip - pointer.beyond * 18, y + 12),
                    ]
                )
            )
            return
        painter.setBrush(self.theme.ink)
        painter.drawPolygon(
            QPolygonF([QPointF(x, top + 1), QPointF(x - 8, top - 13), QPointF(x + 8, top - 13)])
        )
        painter.setPen(QPen(self.theme.ink, 2))
        painter.drawLine(QPointF(x, top), QPointF(x, self.band.bottom()))
