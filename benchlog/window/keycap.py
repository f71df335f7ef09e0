"""A key drawn where it acts: what is printed on it, and what it does just now; it can be clicked as well."""

from PySide6.QtCore import QEvent, QRectF, QSize, Qt
from PySide6.QtGui import QEnterEvent, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QSizePolicy

from benchlog.window.look import Look


class KeyCap(QAbstractButton):
    """One key; `main` marks the one the eye should find first."""

    def __init__(self, look: Look, key: str, does: str, *, main: bool = False) -> None:
        super().__init__()
        self._look = look
        self._key = key
        self._does = does
        self._main = main
        self._under = False
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.update)
        self._name()

    def say(self, does: str, *, key: str | None = None, main: bool | None = None) -> None:
        """What it does just now."""
        self._does = does
        self._key = self._key if key is None else key
        self._main = self._main if main is None else main
        self._name()
        self.updateGeometry()
        self.update()

    @property
    def does(self) -> str:
        """What it does just now."""
        return self._does

    def _name(self) -> None:
        self.setAccessibleName(f"{self._does} ({self._key})")

    def sizeHint(self) -> QSize:
        """Room for both words."""
        wide = max(
            QFontMetricsF(self._look.font(15, bold=True)).horizontalAdvance(self._key),
            QFontMetricsF(self._look.font(13)).horizontalAdvance(self._does),
        )
        return QSize(round(wide) + 22, 52)

    def minimumSizeHint(self) -> QSize:
        """The same: a key whose word is cut off says nothing."""
        return self.sizeHint()

    def enterEvent(self, event: QEnterEvent) -> None:
        """The mouse is on it."""
        self._under = True
        self.update()
        super().enterEvent(event)

    def leaveEvent(self, event: QEvent) -> None:
        """The mouse is gone."""
        self._under = False
        self.update()
        super().leaveEvent(event)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw the cap."""
        theme = self._look.theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -1.5)
        edge = theme.here if self._main and self.isEnabled() else theme.hairline
        painter.setPen(QPen(edge, 2 if self._main else 1))
        pressed = self.isDown() or self._under
        painter.setBrush(theme.chosen if pressed and self.isEnabled() else theme.card)
        painter.drawRoundedRect(box, 8, 8)
        painter.setPen(theme.ink if self.isEnabled() else theme.soft)
        painter.setFont(self._look.font(15, bold=True))
        top = QRectF(box.left(), box.top() + 5, box.width(), box.height() / 2 - 3) if self._does else box
        painter.drawText(top, Qt.AlignmentFlag.AlignCenter, self._key)
        painter.setPen(theme.ink if self._main and self.isEnabled() else theme.soft)
        painter.setFont(self._look.font(13))
        low = QRectF(box.left(), box.center().y(), box.width(), box.height() / 2 - 4)
        painter.drawText(low, Qt.AlignmentFlag.AlignCenter, self._does)
        painter.end()
