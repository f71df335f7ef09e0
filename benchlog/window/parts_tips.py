"""What the tips do, hands-free: a shape and a word that can be read two metres off, and what was taken last."""

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchlog.domain.handsfree import Tips
from benchlog.window import shapes
from benchlog.window.look import Look
from benchlog.window.shapes import Shape

HIGH = 104
MOST, LEAST = 58.0, 30.0
"""Pixels of its word: at 96 to the inch 58 make capitals a centimetre high."""
LAST_FROM = 620
"""Pixels of width from which the last part stands beside; below it has the second line."""


@dataclass(frozen=True, slots=True)
class Said:
    """What goes on: the large word, what to do, what the tips do; `shape` in the place of the drawn tips."""

    word: str = ""
    what: str = ""
    tips: Tips = Tips.NOTHING
    shape: Shape | None = None


class TipsBar(QWidget):
    """Shown while hands-free is on."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.said = Said()
        self.last: tuple[Shape, str, str] | None = None
        self.setFixedHeight(HIGH)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.hide()
        look.changed.connect(self.update)

    def show_tips(self, said: Said, last: tuple[Shape, str, str] | None) -> None:
        """Show something else."""
        if (said, last) != (self.said, self.last):
            self.said, self.last = said, last
            before = f"; last {last[1]}, {last[2]}" if last is not None else ""
            self.setAccessibleName(f"hands-free: {said.word}, {said.what}{before}")
            self.update()

    def sizeHint(self) -> QSize:
        """As wide as there is room."""
        return QSize(400, HIGH)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme, said = self._look.theme, self.said
        box = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        painter.setPen(QPen(self._colour(), 3))
        painter.setBrush(theme.card)
        painter.drawRoundedRect(box, 9, 9)
        mark = QRectF(box.left() + 14, box.top() + 16, 66, box.height() - 32)
        if said.shape is not None:
            shapes.draw(painter, mark.adjusted(4, 4, -4, -4), said.shape, theme)
        else:
            self._tips(painter, mark)
        inside = QRectF(mark.right() + 16, box.top() + 6, box.right() - mark.right() - 30, box.height() - 12)
        if self.last is not None and box.width() >= LAST_FROM:
            beside = QRectF(
                inside.right() - box.width() * 0.36, inside.top(), box.width() * 0.36, inside.height()
            )
            inside.setRight(beside.left() - 12)
            self._two(painter, beside, self.last[1], self.last[2], 26.0, self.last[0])
        self._two(painter, inside, said.word, said.what, MOST, None)
        painter.end()

    def _two(
        self, painter: QPainter, box: QRectF, large: str, small: str, most: float, shape: Shape | None
    ) -> None:
        """A large line over a small one."""
        look, theme = self._look, self._look.theme
        upper = QRectF(box.left(), box.top(), box.width(), box.height() * 0.66)
        lower = QRectF(box.left(), upper.bottom(), box.width(), box.height() - upper.height())
        if shape is not None:
            shapes.draw(painter, QRectF(lower.left(), lower.top() + 6, 18, 18), shape, theme)
            lower.setLeft(lower.left() + 26)
        middle = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        painter.setPen(theme.ink)
        painter.setFont(look.fitting(large, upper.width(), most, least=min(most, LEAST) * 0.6))
        painter.drawText(upper, middle, large)
        painter.setPen(theme.ink if shape is not None else theme.soft)
        painter.setFont(look.fitting(small, lower.width(), 20.0, least=13.0, bold=shape is not None))
        small = painter.fontMetrics().elidedText(small, Qt.TextElideMode.ElideRight, int(lower.width()))
        painter.drawText(lower, middle, small)

    def _colour(self) -> QColor:
        theme, said = self._look.theme, self.said
        if said.shape is not None:
            return shapes.colour_of(said.shape, theme)
        if said.tips in (Tips.WRONG, Tips.SILENT):
            return theme.danger
        return theme.here if said.tips in (Tips.CONTACT, Tips.SETTLING, Tips.KEY) else theme.hairline

    def _tips(self, painter: QPainter, box: QRectF) -> None:
        """Two tips over a board: off it, on it, filled where it is coming to rest; a cross where nothing is known."""
        theme, tips = self._look.theme, self.said.tips
        if tips in (Tips.WRONG, Tips.SILENT):
            shapes.draw(painter, box.adjusted(8, 8, -8, -8), Shape.NOTHING, theme)
            return
        colour = theme.here if tips in (Tips.CONTACT, Tips.SETTLING, Tips.KEY) else theme.soft
        painter.setPen(QPen(colour, 4))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        on = tips in (Tips.CONTACT, Tips.SETTLING, Tips.KEY)
        foot = box.bottom() - (4 if on else box.height() * 0.42)
        painter.setBrush(colour if tips in (Tips.SETTLING, Tips.KEY) else Qt.BrushStyle.NoBrush)
        for x in (box.left() + box.width() * 0.25, box.left() + box.width() * 0.75):
            top, half = foot - box.height() * 0.5, box.width() * 0.14
            corners = [QPointF(x, foot), QPointF(x - half, top), QPointF(x + half, top)]
            painter.drawPolygon(QPolygonF(corners))
        if tips is Tips.LIFT:
            middle = box.center().x()
            for x in (-8.0, 8.0):
                painter.drawLine(QPointF(middle, box.top()), QPointF(middle + x, box.top() + 10))
            painter.drawLine(QPointF(middle, box.top()), QPointF(middle, foot))
