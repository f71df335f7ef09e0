"""The dial of the simulated bench's variable transformer: dragged, wheeled, stepped by keys."""

import math

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchlog.window.look import Look

MOST = 110
"""Per cent at its right end."""
FIRST_ANGLE, SWEEP = 225.0, 270.0
"""Degrees, counted as in geometry: zero at the lower left, the end at the lower right."""
KNOB = 0.56
"""The knob's radius as a share of the whole."""
SIDE = 150
BELOW = 0.78
"""Of the radius that is needed below the middle."""
WHEEL_NOTCH = 120
STEPS = {
    Qt.Key.Key_Up: 1,
    Qt.Key.Key_Right: 1,
    Qt.Key.Key_Down: -1,
    Qt.Key.Key_Left: -1,
    Qt.Key.Key_PageUp: 10,
    Qt.Key.Key_PageDown: -10,
}


class Dial(QWidget):
    """Shows where the dial is wanted and where it stands; `turned` with per cent, `typing` with a digit."""

    turned = Signal(float)
    typing = Signal(str)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._wanted = 0.0
        self._stands = 0.0
        self._held_at: float | None = None
        self._moved = False
        self._wheeled = 0
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.setToolTip("Drag, wheel, arrow keys, or type a number.")
        look.changed.connect(self.update)
        self._name()

    @property
    def wanted(self) -> float:
        """Per cent it is turned to."""
        return self._wanted

    def turn_to(self, percent: float) -> None:
        """Turn it, as by hand."""
        percent = min(max(round(percent, 1), 0.0), float(MOST))
        if percent != self._wanted:
            self._wanted = percent
            self.turned.emit(percent)
            self.update()

    def stands(self, percent: float) -> None:
        """Show where the bench says that it stands."""
        if self._held_at is None and self._stands == percent != self._wanted:
            # It rests elsewhere: somebody else turned it.
            self._wanted = percent
        if percent != self._stands:
            self._stands = percent
            self._name()
        self.update()

    def sizeHint(self) -> QSize:
        """A square without what lies below both ends of the scale."""
        return QSize(SIDE, round(SIDE / 2 * (1 + BELOW)))

    # --- by mouse --------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of it."""
        if event.button() is Qt.MouseButton.LeftButton:
            self._held_at = self._angle(event.position())
            self._moved = False

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Turn it with the mouse: by as much as the mouse goes round."""
        if self._held_at is None:
            return
        angle = self._angle(event.position())
        change = (self._held_at - angle + 180.0) % 360.0 - 180.0
        self._held_at = angle
        if change:
            self._moved = True
            self.turn_to(self._wanted + change * MOST / SWEEP)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go; where nothing moved and the scale was pressed, turn it to there."""
        if self._held_at is not None and not self._moved and self._on_scale(event.position()):
            self.turn_to(round((FIRST_ANGLE - self._angle(event.position())) % 360.0 * MOST / SWEEP))
        self._held_at = None

    def wheelEvent(self, event: QWheelEvent) -> None:
        """One per cent a notch."""
        self._wheeled += event.angleDelta().y()
        notches = int(self._wheeled / WHEEL_NOTCH)
        self._wheeled -= notches * WHEEL_NOTCH
        self.turn_to(self._wanted + notches)
        event.accept()

    def _middle(self) -> QPointF:
        return QPointF(self.width() / 2, self.width() / 2)

    def _angle(self, at: QPointF) -> float:
        from_middle = at - self._middle()
        return math.degrees(math.atan2(-from_middle.y(), from_middle.x()))

    def _on_scale(self, at: QPointF) -> bool:
        """Whether it is outside the knob and not in the gap below."""
        from_middle = at - self._middle()
        outside = math.hypot(from_middle.x(), from_middle.y()) > KNOB * self.width() / 2
        return outside and (FIRST_ANGLE - self._angle(at)) % 360.0 <= SWEEP

    # --- by keys ---------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Arrows by one, Page Up and Down by ten, Home to zero; a digit begins a number."""
        step = STEPS.get(Qt.Key(event.key()))
        if step is not None:
            self.turn_to(self._wanted + step)
        elif event.key() == Qt.Key.Key_Home:
            self.turn_to(0)
        elif event.text().isdecimal():
            self.typing.emit(event.text())
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Show the focus."""
        self.update()
        super().focusInEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Show that it is gone."""
        self.update()
        super().focusOutEvent(event)

    # --- the picture -----------------------------------------------------------------------------

    def _name(self) -> None:
        self.setAccessibleName(f"variable transformer, stands at {self._stands:g} %")

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw scale, knob and pointer."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if not self.isEnabled():
            painter.setOpacity(0.4)
        painter.translate(self._middle())
        self._draw_scale(painter, self.width() / 2)
        self._draw_knob(painter, self.width() / 2 * KNOB)
        painter.end()

    def _draw_scale(self, painter: QPainter, radius: float) -> None:
        theme = self._look.theme
        ring = radius * (KNOB + 0.09)
        box = QRectF(-ring, -ring, 2 * ring, 2 * ring)
        painter.setPen(QPen(theme.hairline, 4))
        painter.drawArc(box, round((FIRST_ANGLE - SWEEP) * 16), round(SWEEP * 16))
        painter.setPen(QPen(theme.here, 4))
        swept = SWEEP * self._stands / MOST
        painter.drawArc(box, round((FIRST_ANGLE - swept) * 16), round(swept * 16))
        painter.setFont(self._look.font(12))
        for percent in range(0, MOST + 1, 10):
            painter.setPen(QPen(theme.soft, 1.5))
            painter.drawLine(_at(percent, ring + 4), _at(percent, ring + 8))
            if percent % 20 == 0:
                where = _at(percent, radius - 9)
                painter.setPen(theme.ink)
                text = QRectF(where.x() - 16, where.y() - 9, 32, 18)
                painter.drawText(text, Qt.AlignmentFlag.AlignCenter, f"{percent}")

    def _draw_knob(self, painter: QPainter, radius: float) -> None:
        theme = self._look.theme
        painter.setBrush(theme.chosen)
        edge = QPen(theme.here, 2.5) if self.hasFocus() else QPen(theme.soft, 1)
        painter.setPen(edge)
        painter.drawEllipse(QPointF(0, 0), radius - 2, radius - 2)
        painter.setPen(QPen(theme.ink, 4, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.drawLine(_at(self._wanted, radius * 0.45), _at(self._wanted, radius - 7))


def _at(percent: float, radius: float) -> QPointF:
    angle = math.radians(FIRST_ANGLE - SWEEP * percent / MOST)
    return QPointF(radius * math.cos(angle), -radius * math.sin(angle))
