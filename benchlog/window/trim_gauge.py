"""A figure that is set by a trimmer: a large pointer on its band, to be read from the trimmer without any tone."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchlog.domain.trim import BEHIND_LAMP, Homing, Stand
from benchlog.window import shapes
from benchlog.window.adjust_view import TrimFace
from benchlog.window.elided import shortened
from benchlog.window.look import Look
from benchlog.window.shapes import Shape
from benchlog.window.tile import TileFace

BAND = 0.22
"""Half the band's width, as a share of half the scale: what lies beyond is drawn ever closer together."""
MOST = 52.0
"""Pixels of the digits where there is room."""
FOOT = 17.0
"""Pixels of a line below the band."""
TALL, LEAST = 132, 104
SHAPES = {Stand.WITHIN: Shape.GOOD, Stand.HIGH: Shape.HIGH, Stand.LOW: Shape.LOW, Stand.LOST: Shape.NOTHING}
SAYS = {Stand.HIGH: "high", Stand.LOW: "low", Stand.WITHIN: "in band", Stand.LOST: "no reading"}
_LEFT = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
_RIGHT = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)


def share_of(stands: Homing) -> float:
    """Where the pointer stands, from -1 at the left end of the scale to 1 at the right."""
    if stands.stand is Stand.WITHIN:
        return BAND * stands.within
    side = 1.0 if stands.distance > 0.0 else -1.0
    return side * (BAND + (1.0 - BAND) * abs(stands.distance))


class TrimGauge(QWidget):
    """One figure."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.face = TrimFace(TileFace(""), Homing(Stand.LOST), "")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumHeight(LEAST)
        self.setMaximumHeight(TALL + 40)
        look.changed.connect(self.update)

    def show_face(self, face: TrimFace) -> None:
        """Show how it stands now."""
        if face != self.face:
            self.face = face
            self.setAccessibleName(face.said)
            self.update()

    def sizeHint(self) -> QSize:
        """Room for the number, the band and what stands below."""
        return QSize(360, TALL)

    def minimumSizeHint(self) -> QSize:
        """Still to be read at arm's length."""
        return QSize(200, LEAST)

    @property
    def shape(self) -> Shape:
        """How it stands, as a shape: behind a lamp nothing is good."""
        if self.face.face.wrong:
            return Shape.NOTHING
        if self.face.settled == BEHIND_LAMP and self.face.stands.stand is Stand.WITHIN:
            return Shape.DOUBT
        return SHAPES[self.face.stands.stand]

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it."""
        theme, face = self._look.theme, self.face
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5)
        lost = bool(face.face.wrong)
        painter.setPen(
            QPen(
                theme.danger if lost else theme.here if face.here else theme.hairline, 3 if face.here else 1.5
            )
        )
        painter.setBrush(theme.here_pale if face.in_hand else theme.card)
        painter.drawRoundedRect(box, 8, 8)
        if lost:
            painter.setBrush(QBrush(theme.hairline, Qt.BrushStyle.BDiagPattern))
            painter.drawRoundedRect(box, 8, 8)
        inner = box.adjusted(12, 5, -12, -6)
        lines = 2 if face.beside else 1
        foot = FOOT * lines
        bar = max(20.0, inner.height() * 0.22)
        top = QRectF(inner.left(), inner.top(), inner.width(), inner.height() - foot - bar)
        self._top(painter, top)
        self._bar(painter, QRectF(inner.left(), top.bottom(), inner.width(), bar))
        self._foot(painter, QRectF(inner.left(), inner.bottom() - foot, inner.width(), foot))
        painter.end()

    def _top(self, painter: QPainter, box: QRectF) -> None:
        """Name and how it stands at the left, the number at the right."""
        look, theme, face = self._look, self._look.theme, self.face
        digits = look.fitting(
            face.face.number or "- -", box.width() * 0.52, min(MOST, box.height()), least=18
        )
        unit = look.font(16)
        painter.setFont(unit)
        wide = painter.fontMetrics().horizontalAdvance("mV") + 6.0
        number = QRectF(box.left(), box.top(), box.width() - wide, box.height())
        painter.setPen(theme.soft)
        painter.drawText(
            QRectF(number.right() + 6.0, box.top(), wide, box.height() * 0.82), _RIGHT, face.face.unit
        )
        painter.setPen(theme.soft if face.face.wrong else theme.ink)
        painter.setFont(digits)
        painter.drawText(number, _RIGHT, face.face.number or "- -")
        room = number.width() - QFontMetricsF(digits).horizontalAdvance(face.face.number or "- -") - 14.0
        half = box.height() / 2.0
        painter.setPen(theme.ink)
        name = f"\N{BLACK RIGHT-POINTING TRIANGLE} {face.face.name}" if face.in_hand else face.face.name
        painter.setFont(look.fitting(name, room, 19.0, least=12, bold=face.here))
        painter.drawText(
            QRectF(box.left(), box.top(), room, half), _LEFT, shortened(name, painter.fontMetrics(), room)
        )
        side = 15.0
        shapes.draw(
            painter, QRectF(box.left(), box.top() + half + (half - side) / 2, side, side), self.shape, theme
        )
        says = face.face.wrong or SAYS[face.stands.stand]
        painter.setPen(theme.danger if face.face.wrong else theme.ink)
        painter.setFont(
            look.fitting(says, room - 22.0, 17.0, least=9, bold=face.stands.stand is not Stand.WITHIN)
        )
        painter.drawText(QRectF(box.left() + 22.0, box.top() + half, room - 22.0, half), _LEFT, says)

    def _bar(self, painter: QPainter, box: QRectF) -> None:
        """The scale with its band, the middle, and the pointer."""
        theme, face = self._look.theme, self.face
        middle = box.center().x()
        half = box.width() / 2.0 - 8.0
        line = QRectF(middle - half, box.center().y() - 5.0, 2.0 * half, 10.0)
        painter.setPen(QPen(theme.hairline, 1))
        painter.setBrush(theme.page)
        painter.drawRoundedRect(line, 4, 4)
        band = QRectF(middle - BAND * half, box.top() + 2.0, 2.0 * BAND * half, box.height() - 4.0)
        painter.setBrush(theme.good_pale)
        painter.setPen(QPen(theme.good, 2))
        painter.drawRect(band)
        painter.setPen(QPen(theme.good, 1, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(middle, band.top()), QPointF(middle, band.bottom()))
        if face.stands.stand is Stand.LOST or face.face.wrong:
            return
        at = middle + half * share_of(face.stands)
        painter.setPen(QPen(theme.card, 1.5))
        painter.setBrush(theme.ink)
        wide = 9.0
        painter.drawPolygon(
            QPolygonF(
                [
                    QPointF(at - wide, box.top() - 2.0),
                    QPointF(at + wide, box.top() - 2.0),
                    QPointF(at + 2.5, box.center().y()),
                    QPointF(at + 2.5, box.bottom()),
                    QPointF(at - 2.5, box.bottom()),
                    QPointF(at - 2.5, box.center().y()),
                ]
            )
        )

    def _foot(self, painter: QPainter, box: QRectF) -> None:
        """The band in figures and whether it is settled; below that the current."""
        look, theme, face = self._look, self._look.theme, self.face
        painter.setPen(theme.doubt if face.settled == BEHIND_LAMP else theme.soft)
        right = face.settled
        if face.beside:
            below = QRectF(box.left(), box.bottom() - FOOT, box.width(), FOOT)
            painter.setFont(look.fitting(face.beside, box.width(), 14.0, least=10, bold=False))
            painter.setPen(theme.soft)
            painter.drawText(below, _LEFT, shortened(face.beside, painter.fontMetrics(), box.width()))
            box = QRectF(box.left(), box.top(), box.width(), FOOT)
            painter.setPen(theme.doubt if face.settled == BEHIND_LAMP else theme.soft)
        painter.setFont(
            look.fitting(right, box.width() * 0.42, 14.0, least=10, bold=face.settled == BEHIND_LAMP)
        )
        painter.drawText(box, _RIGHT, right)
        room = box.width() - painter.fontMetrics().horizontalAdvance(right) - 12.0
        left = f"band {face.band}"
        painter.setPen(theme.soft)
        painter.setFont(look.fitting(left, room, 14.0, least=10, bold=False))
        painter.drawText(box, _LEFT, shortened(left, painter.fontMetrics(), room))
