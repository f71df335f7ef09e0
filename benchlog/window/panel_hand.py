"""What else a hand is laid on at the simulated bench's panel: the wall switch, and the lamp to look at."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QLabel, QSizePolicy, QWidget

from benchlog.window.look import Look

GLOWING = QColor("#f0e442")
"""The yellow of the same palette, which means nothing in the window: here it is the lamp."""
FLASH = 2
"""Looks at the bench for which the alarm's band stays in each of its two colours."""


class Rocker(QAbstractButton):
    """A switch with two halves, off and on; `stands` shows how it stands, a click asks for the other half."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__()
        self._look = look
        self._called = name
        self.on = False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.update)
        self.stands(False)

    def stands(self, on: bool) -> None:
        """Show how it stands."""
        self.on = on
        self.setAccessibleName(f"{self._called}, {'on' if on else 'off'}")
        self.update()

    def sizeHint(self) -> QSize:
        """Room for both words."""
        return QSize(104, 38)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw both halves, the pressed one dark."""
        theme = self._look.theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if not self.isEnabled():
            painter.setOpacity(0.4)
        box = QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5)
        painter.setPen(QPen(theme.here, 2.5) if self.hasFocus() else QPen(theme.soft, 1))
        painter.setBrush(theme.card)
        painter.drawRoundedRect(box, 7, 7)
        painter.setFont(self._look.font(16, bold=True))
        half = box.adjusted(3, 3, -3, -3)
        half.setWidth(half.width() / 2)
        for word, pressed in (("OFF", not self.on), ("ON", self.on)):
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.ink if pressed else Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(half, 5, 5)
            painter.setPen(theme.card if pressed else theme.soft)
            painter.drawText(half, Qt.AlignmentFlag.AlignCenter, word)
            half.translate(half.width(), 0)
        painter.end()


class Lamp(QWidget):
    """The lamp in series as the eye sees it: the brighter, the fuller its colour and the longer its rays."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._bright = 0.0
        self._fitted = True
        self.setFixedSize(64, 64)
        look.changed.connect(self.update)
        self.looks("dark", 0.0)

    def looks(self, word: str, bright: float) -> None:
        """Show how it glows; `none` where a plain wire is in its place."""
        self._fitted = word != "none"
        # The eye sees a tenth of the power as a good third of the light.
        self._bright = min(1.0, max(0.0, bright)) ** 0.5
        self.setAccessibleName(f"lamp: {word}")
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw bulb, filament and rays, or the wire."""
        theme = self._look.theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        middle = QRectF(self.rect()).center()
        painter.translate(middle)
        radius = 17.0
        painter.setPen(QPen(theme.ink, 1.5))
        if not self._fitted:
            painter.drawLine(QPointF(-30, 0), QPointF(30, 0))
            painter.end()
            return
        for side in (-1, 1):
            painter.drawLine(QPointF(side * 30, radius + 8), QPointF(side * 5, radius + 8))
        painter.save()
        painter.setPen(QPen(theme.ink if not theme.dark else GLOWING, 2.0))
        for turn in range(8 if self._bright > 0.1 else 0):
            painter.save()
            painter.rotate(22.5 + turn * 45)
            painter.drawLine(QPointF(0, -radius - 3), QPointF(0, -radius - 3 - 10 * self._bright))
            painter.restore()
        painter.restore()
        painter.setBrush(_between(theme.card, GLOWING, self._bright))
        painter.drawEllipse(QPointF(0, 0), radius, radius)
        painter.setBrush(theme.soft)
        painter.drawRect(QRectF(-6, radius - 1, 12, 10))
        filament = QColor("#1f2329") if self._bright > 0.35 else theme.ink
        painter.setPen(QPen(filament, 1.5))
        points = [
            QPointF(-6, 8),
            QPointF(-5, -2),
            QPointF(-2, 3),
            QPointF(0, -2),
            QPointF(2, 3),
            QPointF(5, -2),
        ]
        painter.drawPolyline([*points, QPointF(6, 8)])
        painter.end()


class AlarmBand(QLabel):
    """Says whether the alarm sounds, for a machine without a loudspeaker: it flashes while it does."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.sounding = False
        self._rests = "alarm: quiet"
        self._looks = 0
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.setFixedHeight(40)
        look.changed.connect(self._show)
        self._show()

    def hears(self, sounding: bool) -> None:
        """Take the next look at the bench."""
        self._looks = self._looks + 1 if sounding else 0
        if sounding or self.sounding:
            self.sounding = sounding
            self._show()

    def end(self, sentence: str) -> None:
        """Say from now on why nothing is heard any more."""
        self.sounding = False
        self._rests = sentence
        self._show()

    def _show(self) -> None:
        theme = self._look.theme
        if not self.sounding:
            self.setText(self._rests)
            self.setStyleSheet(f"color: {theme.soft.name()}; background: transparent;")
            return
        self.setText("ALARM SOUNDS")
        ground = theme.danger if self._looks // FLASH % 2 else theme.danger_deep
        ink = theme.on_danger if ground is theme.danger else QColor("#ffffff")
        self.setStyleSheet(
            f"color: {ink.name()}; background: {ground.name()}; font-size: 20px; font-weight: bold;"
            " border-radius: 7px;"
        )


def _between(low: QColor, high: QColor, share: float) -> QColor:
    """A colour between two."""
    return QColor.fromRgbF(
        low.redF() + (high.redF() - low.redF()) * share,
        low.greenF() + (high.greenF() - low.greenF()) * share,
        low.blueF() + (high.blueF() - low.blueF()) * share,
    )
