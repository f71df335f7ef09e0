"""The ladder: power grows upward, the present stage is the blue rung, and each says what was told or seen there."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchlog.window import shapes
from benchlog.window.climb import Rung
from benchlog.window.elided import shortened
from benchlog.window.look import Look
from benchlog.window.shapes import Shape

WIDE, SLIM = 232, 92
TALLEST, LEAST = 112.0, 30.0
WRAPS = 13.0
"""Pixels below which a name is broken in two lines instead, where they are not smaller still."""
GAP = 8.0
_LEFT = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
_RIGHT = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)


class Ladder(QWidget):
    """The stages of a plan, drawn from the foot; `be_slim` leaves the names and shapes alone."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._rungs: tuple[Rung, ...] = ()
        self._slim = False
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.setFixedWidth(WIDE)
        self.setAccessibleName("the stages")
        look.changed.connect(self.update)

    @property
    def rungs(self) -> tuple[Rung, ...]:
        """What is shown, the lowest first."""
        return self._rungs

    def show_rungs(self, rungs: tuple[Rung, ...]) -> None:
        """Show how the stages stand."""
        if rungs == self._rungs:
            return
        self._rungs = rungs
        told = "; ".join(
            f"{rung.name}: {'here, ' if rung.here else ''}{rung.line or rung.shape.value}" for rung in rungs
        )
        self.setAccessibleDescription(told)
        self.update()

    def be_slim(self, *, slim: bool) -> None:
        """No more than name and shape, where there is little room."""
        self._slim = slim
        self.setFixedWidth(SLIM if slim else WIDE)
        self.update()

    def sizeHint(self) -> QSize:
        """Tall enough for the names."""
        return QSize(self.width(), round(len(self._rungs) * (LEAST + GAP)))

    def minimumSizeHint(self) -> QSize:
        """A few of the stages will do: those about the present one are drawn."""
        return QSize(self.width(), 120)

    def _shown(self) -> tuple[int, int]:
        """The first and last stage there is room for; about the present one where it is not all."""
        room = max(1, int((self.height() + GAP) // (LEAST + GAP)))
        count = len(self._rungs)
        if room >= count:
            return 0, count
        here = next((at for at, rung in enumerate(self._rungs) if rung.here), 0)
        first = min(max(0, here - room // 2), count - room)
        return first, first + room

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw the rungs."""
        first, last = self._shown()
        rungs = self._rungs[first:last]
        if not rungs:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        tall = min(TALLEST, (self.height() - GAP * (len(rungs) - 1)) / len(rungs))
        for at, rung in enumerate(rungs):
            top = self.height() - (at + 1) * tall - at * GAP
            self._draw(painter, QRectF(1.5, top + 1.5, self.width() - 3, tall - 3), rung)
        painter.end()

    def _draw(self, painter: QPainter, box: QRectF, rung: Rung) -> None:
        theme = self._look.theme
        painter.setPen(QPen(theme.here if rung.here else theme.hairline, 2 if rung.here else 1))
        painter.setBrush(theme.here_pale if rung.here else theme.card)
        painter.drawRoundedRect(box, 8, 8)
        inner = box.adjusted(12, 4, -12, -4) if not self._slim else box.adjusted(8, 3, -8, -3)
        if self._slim or inner.height() < 44:
            self._draw_brief(painter, inner, rung)
        else:
            self._draw_whole(painter, inner, rung)

    def _draw_brief(self, painter: QPainter, box: QRectF, rung: Rung) -> None:
        """A shape and the name, and a bar for the dwell along the foot."""
        theme, look = self._look.theme, self._look
        side = min(14.0, box.height() * 0.5)
        mark = QRectF(box.left(), box.center().y() - side / 2, side, side)
        shapes.draw(painter, mark, rung.shape, theme)
        text = box.adjusted(side + 7, 0, 0, 0)
        most = min(20.0, box.height() * 0.7)
        painter.setPen(theme.ink if rung.here or rung.shape is not Shape.TO_DO else theme.soft)
        if not self._slim:
            painter.setFont(look.font(14))
            aside = rung.line or rung.setting
            painter.drawText(text, _RIGHT, aside)
            text.setRight(text.right() - painter.fontMetrics().horizontalAdvance(aside) - 8)
        self._name(painter, text, rung.name, most)
        if rung.here:
            self._bar(painter, QRectF(box.left(), box.bottom() - 3, box.width(), 4), rung.share)

    def _name(self, painter: QPainter, box: QRectF, name: str, most: float) -> None:
        """The name in a line, or in two where it would be small, between its words; dots where there is no room."""
        look = self._look
        font = look.fitting(name, box.width(), most, least=11)
        head, _, tail = name.rpartition(" ")
        two = f"{head}\n{tail}"
        if head and font.pixelSize() < WRAPS:
            longer = max(head, tail, key=len)
            broken = look.fitting(longer, box.width(), min(most, box.height() / 2.0 - 3.0), least=11)
            if broken.pixelSize() >= font.pixelSize():
                painter.setFont(broken)
                painter.drawText(box, _LEFT, two)
                return
        painter.setFont(font)
        painter.drawText(box, _LEFT, shortened(name, painter.fontMetrics(), box.width() + 1.0))

    def _draw_whole(self, painter: QPainter, box: QRectF, rung: Rung) -> None:
        """Name, setting and dwell above; below how it stands, and what was told and seen."""
        theme, look = self._look.theme, self._look
        ahead = rung.shape is Shape.TO_DO
        rows = 3 if rung.known and box.height() >= 74 else 2
        head = QRectF(box.left(), box.top(), box.width(), box.height() * (0.42 if rows == 3 else 0.54))
        painter.setPen(theme.soft)
        painter.setFont(look.font(14))
        aside = "   ".join(part for part in (rung.setting, rung.dwell) if part)
        painter.drawText(head, _RIGHT, aside)
        room = head.width() - painter.fontMetrics().horizontalAdvance(aside) - 10
        painter.setPen(theme.soft if ahead else theme.ink)
        painter.setFont(look.fitting(rung.name, room, min(25.0, head.height()), least=13))
        painter.drawText(head, _LEFT, rung.name)
        low = QRectF(box.left(), head.bottom(), box.width(), box.bottom() - head.bottom())
        line = QRectF(low.left(), low.top(), low.width(), low.height() / (rows - 1))
        if rung.here:
            bar = QRectF(line.left(), line.top() + 1, line.width(), 6)
            self._bar(painter, bar, rung.share)
            line.setTop(line.top() + 10)
        self._line(painter, line, rung)
        if rows == 3:
            below = QRectF(low.left(), low.center().y() + 2, low.width(), low.height() / 2)
            painter.setPen(theme.soft)
            painter.setFont(look.fitting(rung.known, below.width(), 13, least=10, bold=False))
            painter.drawText(below, _LEFT, rung.known)

    def _line(self, painter: QPainter, box: QRectF, rung: Rung) -> None:
        theme, look = self._look.theme, self._look
        if not rung.here:
            mark = QRectF(box.left(), box.center().y() - 7, 14, 14)
            shapes.draw(painter, mark, rung.shape, theme)
            box = box.adjusted(22, 0, 0, 0)
        painter.setPen(theme.ink)
        painter.setFont(look.font(14))
        painter.drawText(box, _LEFT, rung.line)

    def _bar(self, painter: QPainter, box: QRectF, share: float) -> None:
        theme = self._look.theme
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(theme.hairline)
        painter.drawRoundedRect(box, box.height() / 2, box.height() / 2)
        if share > 0.0:
            painter.setBrush(theme.here)
            done = QRectF(box.left(), box.top(), max(box.height(), box.width() * share), box.height())
            painter.drawRoundedRect(done, box.height() / 2, box.height() / 2)
