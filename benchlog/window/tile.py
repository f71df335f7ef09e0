"""One meter along the foot: its job, its value as large as there is room, its age, and when not to believe it."""

from dataclasses import dataclass

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QFont, QFontMetrics, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchlog.window.elided import shortened
from benchlog.window.look import Look
from benchlog.window.tooltip import tip

NOT_KNOWN = "- -"
"""What stands in the place of a number that is not known."""
LEAST_NAME = 10.0
"""Pixels of a name's letters at least, before it is cut short."""
NARROW = 130
"""Pixels of width below which the edges give way to what stands between them."""


@dataclass(frozen=True, slots=True)
class TileFace:
    """What a tile shows: `age` in seconds, `wrong` why the value may not be believed, empty where it may."""

    name: str
    number: str = ""
    unit: str = ""
    age: float | None = None
    wrong: str = ""
    brief: str = ""
    """The same where there is no room for it."""
    idle: str = ""
    """What stands there where nothing is read yet, and nothing is wrong with that."""
    tip: str = ""
    """More to say, for a hand that rests on it."""


class Tile(QWidget):
    """A meter of the foot."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._face = TileFace("")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        look.changed.connect(self.update)

    def show_face(self, face: TileFace) -> None:
        """Show something else."""
        if face != self._face:
            self._face = face
            said = face.wrong or (f"{face.number} {face.unit}" if face.number else face.idle)
            self.setAccessibleName(f"{face.name}: {face.tip or said}")
            self.setToolTip(tip(face.tip))
            self.update()

    def sizeHint(self) -> QSize:
        """As wide as a value with four digits."""
        return QSize(170, 88)

    def minimumSizeHint(self) -> QSize:
        """Never so narrow that a value cannot be read."""
        return QSize(70, 54)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it."""
        theme, face = self._look.theme, self._face
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        bad = bool(face.wrong)
        painter.setPen(QPen(theme.danger if bad else theme.hairline, 3 if bad else 1))
        painter.setBrush(theme.card)
        painter.drawRoundedRect(box, 8, 8)
        if bad:
            hatch = QBrush(theme.hairline, Qt.BrushStyle.BDiagPattern)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(hatch)
            painter.drawRoundedRect(box.adjusted(3, 3, -3, -3), 6, 6)
        side = 6 if box.width() < NARROW else 10
        self._write(painter, box.adjusted(side, 6, -side, -6), bad=bad)
        painter.end()

    def _write(self, painter: QPainter, box: QRectF, *, bad: bool) -> None:
        face = self._face
        small = box.height() < 50
        head = QRectF(box.left(), box.top(), box.width(), 15 if small else 20)
        low = QRectF(box.left(), head.bottom(), box.width(), box.height() - head.height())
        right = "" if face.age is None else f"{face.age:.0f} s" if small else f"{face.age:.1f} s"
        if bad and small and crowded(self._look, face, box.width(), 11.0):
            self._write_head(painter, head, "", bad=bad, small=small)
            write_wrong(self._look, painter, low, face)
            return
        if bad and small:
            right = face.brief or face.wrong
        elif bad and box.width() < 190:
            # Too narrow for both in one line: what is wrong takes the foot of the tile.
            right = ""
            foot = QRectF(box.left(), box.bottom() - 16, box.width(), 18)
            low.setBottom(foot.top())
            painter.setPen(self._look.theme.danger)
            said = face.wrong
            painter.setFont(self._look.fitting(said, box.width(), 13))
            if painter.fontMetrics().horizontalAdvance(said) > box.width():
                said = face.brief or face.wrong
                painter.setFont(self._look.fitting(said, box.width(), 13))
            painter.drawText(foot, Qt.AlignmentFlag.AlignCenter, said)
        elif bad:
            right = face.wrong
        self._write_head(painter, head, right, bad=bad, small=small)
        self._write_number(painter, low, bad=bad)

    def _write_head(self, painter: QPainter, head: QRectF, right: str, *, bad: bool, small: bool) -> None:
        theme = self._look.theme
        least = QFontMetricsF(self._look.font(LEAST_NAME)).horizontalAdvance(self._face.name)
        beside = max(head.width() - least - 6, head.width() / 2)
        font, right = said_in(self._look, right, beside, 11.0 if small else 13.0, bold=bad)
        painter.setFont(font)
        room = head.width() - painter.fontMetrics().horizontalAdvance(right) - 6
        painter.setPen(theme.danger if bad else theme.soft)
        painter.drawText(head, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, right)
        painter.setPen(theme.soft)
        font, name = named(self._look, self._face.name, room, small=small)
        painter.setFont(font)
        painter.drawText(head, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, name)

    def _write_number(self, painter: QPainter, low: QRectF, *, bad: bool) -> None:
        theme, face = self._look.theme, self._face
        if not face.number:
            painter.setPen(theme.soft)
            painter.setFont(self._look.fitting(face.idle, low.width(), 15, least=9.0, bold=False))
            painter.drawText(low, Qt.AlignmentFlag.AlignCenter, face.idle)
            return
        painter.setFont(self._look.font(16))
        unit_width = painter.fontMetrics().horizontalAdvance(face.unit) + 6 if face.unit else 0
        painter.setPen(theme.soft)
        flags = Qt.AlignmentFlag.AlignRight
        painter.drawText(low.adjusted(0, 0, 0, -2), flags | Qt.AlignmentFlag.AlignBottom, face.unit)
        painter.setPen(theme.soft if bad else theme.ink)
        most = min(44.0, low.height())
        painter.setFont(self._look.fitting(face.number, low.width() - unit_width, most, least=12))
        painter.drawText(
            low.adjusted(0, 0, -unit_width, 0), flags | Qt.AlignmentFlag.AlignVCenter, face.number
        )


def named(look: Look, name: str, room: float, *, small: bool) -> tuple[QFont, str]:
    """A name in so many pixels, in its font: a little smaller rather than cut short."""
    font = look.fitting(name, max(10.0, room), 12.0 if small else 13.0, least=LEAST_NAME, bold=False)
    return font, shortened(name, QFontMetrics(font), max(10.0, room))


def crowded(look: Look, face: TileFace, room: float, pixels: float) -> bool:
    """Whether what is wrong has no room beside the name, and stands where a number would, of which there is none."""
    if face.number != NOT_KNOWN:
        return False
    name = QFontMetricsF(look.font(LEAST_NAME)).horizontalAdvance(face.name)
    said = QFontMetricsF(look.font(pixels, bold=True)).horizontalAdvance(face.brief or face.wrong)
    return name + said + 6 > room


def said_in(look: Look, text: str, room: float, most: float, *, bold: bool) -> tuple[QFont, str]:
    """What stands at the right of a name in so many pixels, in its font: smaller, and at last cut short."""
    font = look.fitting(text, room, most, least=9.0, bold=bold)
    return font, QFontMetrics(font).elidedText(text, Qt.TextElideMode.ElideRight, int(max(room, 0.0)))


def write_wrong(look: Look, painter: QPainter, low: QRectF, face: TileFace) -> None:
    """Write what is wrong where the number would stand."""
    font, said = said_in(look, face.brief or face.wrong, low.width(), 15.0, bold=True)
    painter.setFont(font)
    painter.setPen(look.theme.danger)
    painter.drawText(low, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, said)
