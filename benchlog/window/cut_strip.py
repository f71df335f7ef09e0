"""A small strip that stays on top of other programs while a run is live and the keys go elsewhere."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from benchlog.window import words
from benchlog.window.look import Look
from benchlog.window.page import label


class CutStrip(QWidget):
    """CUT in a window of its own; on top is best effort, since some desktops forbid it."""

    cut = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__(
            None,
            Qt.WindowType.Tool
            | Qt.WindowType.FramelessWindowHint
            | Qt.WindowType.WindowStaysOnTopHint
            | Qt.WindowType.WindowDoesNotAcceptFocus,
        )
        self.setAttribute(Qt.WidgetAttribute.WA_ShowWithoutActivating)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setAccessibleName("CUT, while the keys go to another program")
        self._look = look
        self._says = label("Live. Keys go elsewhere.")
        self._button = QPushButton(words.CUT)
        self._button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._button.pressed.connect(self.cut)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 6, 6, 6)
        row.addWidget(self._says)
        row.addWidget(self._button)
        look.changed.connect(self._dress)
        self._dress()

    def _dress(self) -> None:
        theme = self._look.theme
        self._button.setFont(self._look.font(20, bold=True))
        self.setStyleSheet(
            f"CutStrip {{ background: {theme.danger.name()}; }}"
            f" QLabel {{ color: {theme.on_danger.name()}; font-weight: bold; }}"
            f" QPushButton {{ background: {theme.card.name()}; color: {theme.danger.name()};"
            " border: none; padding: 8px 22px; }"
        )

    def show_at_corner(self) -> None:
        """Show it at the lower right of the screen, out of the way of a service sheet."""
        self.adjustSize()
        screen = self.screen().availableGeometry()
        self.move(screen.right() - self.width() - 12, screen.bottom() - self.height() - 12)
        self.show()
