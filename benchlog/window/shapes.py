"""A shape for every state, the same in lists, strips, stages and steps: told apart without colour too."""

from collections.abc import Callable
from enum import StrEnum

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from benchlog.domain.verdict import Verdict
from benchlog.window.look import Look, Theme


class Shape(StrEnum):
    """What a mark says."""

    TO_DO = "to do"
    GOOD = "good"
    GOOD_AS_OTHER = "good as other side"
    DRIFTED = "drifted"
    HIGH = "high"
    LOW = "low"
    OPEN = "open"
    SHORT = "short"
    DOUBT = "undecided"
    LIFT = "unproven"
    UNSTEADY = "unsteady"
    NOTHING = "no reading"
    HERE = "here"
    STOP = "tripped"


OF_VERDICT = {
    Verdict.WITHIN: Shape.GOOD,
    Verdict.AS_OTHER_SIDE: Shape.GOOD_AS_OTHER,
    Verdict.DRIFTED: Shape.DRIFTED,
    Verdict.HIGH: Shape.HIGH,
    Verdict.LOW: Shape.LOW,
    Verdict.OPEN: Shape.OPEN,
    Verdict.SHORT: Shape.SHORT,
    Verdict.UNPROVEN: Shape.LIFT,
    Verdict.UNDECIDED: Shape.DOUBT,
    Verdict.UNSTABLE: Shape.UNSTEADY,
    Verdict.NOT_YET: Shape.UNSTEADY,
    Verdict.NO_CONTACT: Shape.NOTHING,
    Verdict.WRONG_FUNCTION: Shape.NOTHING,
}


def colour_of(shape: Shape, theme: Theme) -> QColor:
    """The one meaning its colour has."""
    if shape in (Shape.GOOD, Shape.GOOD_AS_OTHER, Shape.DRIFTED):
        return theme.good
    if shape in (Shape.HIGH, Shape.LOW, Shape.OPEN, Shape.SHORT, Shape.STOP, Shape.NOTHING):
        return theme.danger
    if shape is Shape.HERE:
        return theme.here
    return theme.soft if shape is Shape.TO_DO else theme.doubt


def draw(painter: QPainter, box: QRectF, shape: Shape, theme: Theme) -> None:
    """Draw a mark into the largest square in the middle of `box`."""
    side = min(box.width(), box.height())
    square = QRectF(box.center().x() - side / 2, box.center().y() - side / 2, side, side)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    colour = colour_of(shape, theme)
    painter.setPen(QPen(colour, max(1.5, side * 0.16)))
    painter.setBrush(colour)
    _DRAW[shape](painter, square)
    painter.restore()


def _solid(painter: QPainter, box: QRectF) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    painter.drawRoundedRect(box, box.width() * 0.2, box.width() * 0.2)


def _two_halves(painter: QPainter, box: QRectF) -> None:
    """A square parted in two like ones: this side as the other."""
    painter.setPen(Qt.PenStyle.NoPen)
    width = box.width() * 0.42
    painter.drawRect(QRectF(box.left(), box.top(), width, box.height()))
    painter.drawRect(QRectF(box.right() - width, box.top(), width, box.height()))


def _diamond(painter: QPainter, box: QRectF) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    middle = box.center()
    corners = [
        QPointF(middle.x(), box.top()),
        QPointF(box.right(), middle.y()),
        QPointF(middle.x(), box.bottom()),
        QPointF(box.left(), middle.y()),
    ]
    painter.drawPolygon(QPolygonF(corners))


def _up(painter: QPainter, box: QRectF) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    corners = [QPointF(box.center().x(), box.top()), box.bottomRight(), box.bottomLeft()]
    painter.drawPolygon(QPolygonF(corners))


def _down(painter: QPainter, box: QRectF) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    corners = [QPointF(box.center().x(), box.bottom()), box.topRight(), box.topLeft()]
    painter.drawPolygon(QPolygonF(corners))


def _ring(painter: QPainter, box: QRectF) -> None:
    painter.setBrush(Qt.BrushStyle.NoBrush)
    inset = painter.pen().widthF() / 2
    painter.drawEllipse(box.adjusted(inset, inset, -inset, -inset))


def _half_ring(painter: QPainter, box: QRectF) -> None:
    inset = painter.pen().widthF() / 2
    inner = box.adjusted(inset, inset, -inset, -inset)
    painter.drawPie(inner, 0, 180 * 16)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawEllipse(inner)


def _broken_line(painter: QPainter, box: QRectF) -> None:
    """Two ends that do not meet."""
    y = box.center().y()
    painter.drawLine(QPointF(box.left(), y), QPointF(box.left() + box.width() * 0.3, y))
    painter.drawLine(QPointF(box.right() - box.width() * 0.3, y), QPointF(box.right(), y))
    x = box.left() + box.width() * 0.3
    painter.drawLine(
        QPointF(x, box.top() + box.height() * 0.2), QPointF(x, box.bottom() - box.height() * 0.2)
    )
    x = box.right() - box.width() * 0.3
    painter.drawLine(
        QPointF(x, box.top() + box.height() * 0.2), QPointF(x, box.bottom() - box.height() * 0.2)
    )


def _bar(painter: QPainter, box: QRectF) -> None:
    """One thick bar right across."""
    painter.setPen(Qt.PenStyle.NoPen)
    height = box.height() * 0.4
    painter.drawRect(QRectF(box.left(), box.center().y() - height / 2, box.width(), height))


def _wave(painter: QPainter, box: QRectF) -> None:
    painter.setBrush(Qt.BrushStyle.NoBrush)
    y, quarter = box.center().y(), box.width() / 4
    points = [
        QPointF(box.left(), y),
        QPointF(box.left() + quarter, box.top() + box.height() * 0.15),
        QPointF(box.left() + 3 * quarter, box.bottom() - box.height() * 0.15),
        QPointF(box.right(), y),
    ]
    painter.drawPolyline(points)


def _cross(painter: QPainter, box: QRectF) -> None:
    inset = painter.pen().widthF() / 2
    inner = box.adjusted(inset, inset, -inset, -inset)
    painter.drawLine(inner.topLeft(), inner.bottomRight())
    painter.drawLine(inner.topRight(), inner.bottomLeft())


def _empty_box(painter: QPainter, box: QRectF) -> None:
    painter.setPen(QPen(painter.pen().color(), max(1.2, box.width() * 0.1)))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRoundedRect(box.adjusted(1, 1, -1, -1), box.width() * 0.2, box.width() * 0.2)


def _disc(painter: QPainter, box: QRectF) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    painter.drawEllipse(box)


def _octagon(painter: QPainter, box: QRectF) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    cut = box.width() * 0.29
    corners = [
        QPointF(box.left() + cut, box.top()),
        QPointF(box.right() - cut, box.top()),
        QPointF(box.right(), box.top() + cut),
        QPointF(box.right(), box.bottom() - cut),
        QPointF(box.right() - cut, box.bottom()),
        QPointF(box.left() + cut, box.bottom()),
        QPointF(box.left(), box.bottom() - cut),
        QPointF(box.left(), box.top() + cut),
    ]
    painter.drawPolygon(QPolygonF(corners))


_DRAW: dict[Shape, Callable[[QPainter, QRectF], None]] = {
    Shape.TO_DO: _empty_box,
    Shape.GOOD: _solid,
    Shape.GOOD_AS_OTHER: _two_halves,
    Shape.DRIFTED: _diamond,
    Shape.HIGH: _up,
    Shape.LOW: _down,
    Shape.OPEN: _broken_line,
    Shape.SHORT: _bar,
    Shape.DOUBT: _ring,
    Shape.LIFT: _half_ring,
    Shape.UNSTEADY: _wave,
    Shape.NOTHING: _cross,
    Shape.HERE: _disc,
    Shape.STOP: _octagon,
}


class Mark(QWidget):
    """One shape as a widget."""

    def __init__(self, look: Look, shape: Shape = Shape.TO_DO, side: int = 16) -> None:
        super().__init__()
        self._look = look
        self._shape = shape
        self.setFixedSize(QSize(side, side))
        self.setAccessibleName(shape.value)
        look.changed.connect(self.update)

    def show_shape(self, shape: Shape) -> None:
        """Show another shape."""
        if shape is not self._shape:
            self._shape = shape
            self.setAccessibleName(shape.value)
            self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it."""
        painter = QPainter(self)
        draw(painter, QRectF(self.rect()).adjusted(1, 1, -1, -1), self._shape, self._look.theme)
        painter.end()
