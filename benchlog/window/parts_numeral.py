"""The large numeral: what the part reads, what is typed, or that it is being read; its unit smaller and grey."""

from dataclasses import dataclass
from enum import Enum

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchlog.window.look import Look

MOST = 110.0
"""The size of its letters at most, pixels."""
QUIET = 52.0
"""The same where it is no reading."""
LEAST_HIGH, MOST_HIGH = 84, 138


class Mood(Enum):
    """What the numeral is."""

    READ = "read"
    TYPED = "typed"
    WAITING = "being read"
    LOOK = "look again"
    NOTHING = "not read"


@dataclass(frozen=True, slots=True)
class Face:
    """What it shows; `below` stands small under the number."""

    number: str = ""
    unit: str = ""
    mood: Mood = Mood.NOTHING
    below: str = ""


class Numeral(QWidget):
    """The numeral of the part at hand."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.face = Face()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.be_high(MOST_HIGH)
        look.changed.connect(self.update)

    def show_face(self, face: Face) -> None:
        """Show something else."""
        if face != self.face:
            self.face = face
            said = f"{face.number} {face.unit}".strip() or face.mood.value
            self.setAccessibleName(f"{face.mood.value}: {said} {face.below}".strip())
            self.update()

    def be_high(self, pixels: int) -> None:
        """Take so much room, within reason."""
        self.setFixedHeight(max(LEAST_HIGH, min(MOST_HIGH, pixels)))

    def sizeHint(self) -> QSize:
        """Room for the largest letters."""
        return QSize(400, self.minimumHeight())

    def minimumSizeHint(self) -> QSize:
        """Smaller letters do where there is no room."""
        return QSize(180, self.minimumHeight())

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(0, 1, -1, -1)
        face, theme = self.face, self._look.theme
        if face.mood in (Mood.LOOK, Mood.TYPED):
            painter.setPen(QPen(theme.doubt if face.mood is Mood.LOOK else theme.here, 2))
            painter.setBrush(theme.card)
            painter.drawRoundedRect(box.adjusted(1, 0, 0, 0), 9, 9)
            box.adjust(14, 2, -14, -2)
        if face.below:
            low = QRectF(box.left(), box.bottom() - 27, box.width(), 24)
            painter.setPen(theme.ink)
            painter.setFont(self._look.fitting(face.below, low.width(), 16, least=13, bold=False))
            text = painter.fontMetrics().elidedText(face.below, Qt.TextElideMode.ElideRight, int(low.width()))
            painter.drawText(low, Qt.AlignmentFlag.AlignVCenter, text)
            box.setBottom(low.top())
        self._number(painter, box)
        painter.end()

    def _number(self, painter: QPainter, box: QRectF) -> None:
        face, look = self.face, self._look
        caret = face.mood is Mood.TYPED
        # A font's line is higher than its digits: these may fill the box.
        quiet = face.mood in (Mood.NOTHING, Mood.WAITING)
        most = min(QUIET if quiet else MOST, box.height() * 0.98)
        small = look.font(max(18.0, most * 0.42))
        unit = QFontMetricsF(small).horizontalAdvance(face.unit) + 14 if face.unit else 0.0
        room = box.width() - unit - (14 if caret else 0)
        font = look.fitting(face.number or "0", room, most, least=22, bold=not quiet)
        metrics = QFontMetricsF(font)
        wide = metrics.horizontalAdvance(face.number)
        base = box.center().y() + metrics.capHeight() / 2
        painter.setFont(font)
        painter.setPen(self._colour())
        painter.drawText(int(box.left()), int(base), face.number)
        if caret:
            x = box.left() + wide + 5
            painter.fillRect(QRectF(x, base - metrics.capHeight(), 4, metrics.capHeight()), look.theme.here)
        painter.setFont(small)
        painter.setPen(look.theme.soft)
        painter.drawText(int(box.left() + wide + (20 if caret else 14)), int(base), face.unit)

    def _colour(self) -> QColor:
        theme = self._look.theme
        return {Mood.NOTHING: theme.hairline, Mood.WAITING: theme.soft}.get(self.face.mood, theme.ink)
