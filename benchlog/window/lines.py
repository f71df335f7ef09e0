"""Lines of text with a shape before and a number behind, as many rows as each needs for its words."""

from collections.abc import Iterable
from dataclasses import dataclass

from PySide6.QtCore import QRect, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetrics, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchlog.window import shapes
from benchlog.window.look import Look
from benchlog.window.shapes import Shape
from benchlog.window.unbroken import unbroken

_WRAP = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
_ASIDE = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
_LONGEST = 10_000


@dataclass(frozen=True, slots=True)
class Line:
    """One line: a shape or none, the text, what stands at its right end, and whether it is a heading or bold."""

    text: str
    right: str = ""
    shape: Shape | None = None
    bold: bool = False
    soft: bool = False


BESIDE = 0.45
"""Of the width at most for what stands at the right end; where it needs more it goes below the text."""


class Lines(QWidget):
    """As tall as its text; `said` is all of it in words."""

    def __init__(self, look: Look, pixels: float = 15.0, *, gap: int = 7, name: str = "") -> None:
        super().__init__()
        self._look = look
        self._pixels = pixels
        self._gap = gap
        self._lines: tuple[Line, ...] = ()
        self._boxes: list[QRect] = []
        self._rights: list[QRect] = []
        self._name = name
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.update)

    @property
    def lines(self) -> tuple[Line, ...]:
        """What is shown."""
        return self._lines

    def show_lines(self, lines: Iterable[Line]) -> None:
        """Show these."""
        wanted = tuple(lines)
        if wanted == self._lines:
            return
        self._lines = wanted
        said = "; ".join(f"{line.text} {line.right}".strip() for line in wanted)
        self.setAccessibleName(f"{self._name}: {said}" if self._name else said)
        self._place()
        self.update()

    def sizeHint(self) -> QSize:
        """Wide enough for a short sentence."""
        return QSize(200, self.height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width breaks lines elsewhere."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self._place()

    def _metrics(self, line: Line) -> QFontMetrics:
        return QFontMetrics(self._look.font(self._pixels, bold=line.bold))

    def _side(self) -> int:
        return round(self._pixels * 0.85)

    def _indent(self, line: Line) -> int:
        """Texts stand below each other, whether a shape stands before them or not; headings at the edge."""
        if line.bold and line.shape is None:
            return 0
        return self._side() + 9 if any(one.shape is not None for one in self._lines) else 0

    def _right(self, line: Line) -> int:
        return self._metrics(line).horizontalAdvance(line.right) + 10 if line.right else 0

    def _place(self) -> None:
        """Where each text stands, and how tall that makes all of them."""
        y, self._boxes, self._rights = 0, [], []
        for line in self._lines:
            left, metrics, right = self._indent(line), self._metrics(line), self._right(line)
            whole = max(60, self.width() - left)
            below = right > BESIDE * whole and right + metrics.horizontalAdvance(line.text) > whole
            room = whole if below else max(60, whole - right)
            box = metrics.boundingRect(QRect(left, y, room, _LONGEST), _WRAP, unbroken(line.text))
            box.setWidth(room)
            self._boxes.append(box)
            aside = QRect(0, box.top(), self.width() - 1, metrics.height())
            if below:
                aside = metrics.boundingRect(
                    QRect(left, box.bottom() + 1, whole, _LONGEST), _WRAP, line.right
                )
                aside.setWidth(whole - 1)
            self._rights.append(aside)
            y = max(box.bottom(), aside.bottom()) + 1 + self._gap
        self.setFixedHeight(max(0, y - self._gap))

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw them."""
        theme = self._look.theme
        painter = QPainter(self)
        for line, box, aside in zip(self._lines, self._boxes, self._rights, strict=True):
            tall = self._metrics(line).height()
            if line.shape is not None:
                side = self._side()
                mark = QRectF(1, box.top() + (tall - side) / 2, side, side)
                shapes.draw(painter, mark, line.shape, theme)
            painter.setFont(self._look.font(self._pixels, bold=line.bold))
            painter.setPen(theme.soft if line.soft else theme.ink)
            painter.drawText(box, _WRAP, unbroken(line.text))
            painter.setPen(theme.ink if line.bold else theme.soft)
            painter.drawText(aside, _ASIDE, line.right)
        painter.end()
