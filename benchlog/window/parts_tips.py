"""What the tips do, hands-free: a shape and a word that can be read two metres off."""

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
        self.setFixedHeight(HIGH)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.hide()
        look.changed.connect(self.update)

    def show_tips(self, said: Said) -> None:
        """Show something else."""
        if said != self.said:
            self.said = said
            self.setAccessibleName(f"hands-free: {said.word}, {said.what}")
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
        upper = QRectF(inside.left(), inside.top(), inside.width(), inside.height() * 0.66)
        lower = QRectF(inside.left(), upper.bottom(), inside.width(), inside.height() - upper.height())
        # A g reaches below its line: it is not cut off there.
        middle = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextDontClip
        painter.setPen(theme.ink)
        painter.setFont(self._look.fitting(said.word, upper.width(), MOST, least=LEAST))
        painter.drawText(upper, middle, said.word)
        painter.setPen(theme.soft)
        painter.setFont(self._look.fitting(said.what, lower.width(), 20.0, least=14.0, bold=False))
        what = painter.fontMetrics().elidedText(said.what, Qt.TextElideMode.ElideRight, int(lower.width()))
        painter.drawText(lower, middle, what)
        painter.end()

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
