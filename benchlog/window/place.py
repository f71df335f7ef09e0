"""Where a window stands on the screen: no larger than there is room, and clear of one that stands beside it."""

from PySide6.QtCore import QEvent, QObject, QRect
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QWidget

TITLE = 32
"""Pixels that the window manager's own title takes; how many it will be cannot be asked before."""


def stand(window: QWidget, beside: int = 0) -> None:
    """Fit a window that is not shown yet to its screen, never below its least size.

    With `beside` it begins at the left edge, and that many pixels at the right are left to another window: also
    where it is made larger later, as long as what is left of it is no less than its least size.
    """
    room = window.screen().availableGeometry()
    width = min(window.width(), room.width() - beside)
    height = min(window.height(), room.height() - TITLE)
    # Its least size holds by itself.
    window.resize(width, height)
    if beside:
        window.move(room.topLeft())
        KeptClear(window, beside)


class KeptClear(QObject):
    """Keeps what a window shows out of the strip at the screen's right edge where another window stands in front."""

    def __init__(self, window: QWidget, beside: int) -> None:
        super().__init__(window)
        self._window = window
        self._beside = beside
        window.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """It was moved or made larger."""
        if watched is self._window and event.type() in (QEvent.Type.Move, QEvent.Type.Resize):
            self._window.setContentsMargins(0, 0, self._covered(), 0)
        return False

    def _covered(self) -> int:
        """Pixels at its right edge that would be covered; 0 where too little would be left."""
        room = QGuiApplication.primaryScreen().availableGeometry()
        strip = QRect(room.right() + 1 - self._beside, room.top(), self._beside, room.height())
        own = self._window.geometry()
        covered = own.right() - strip.left() + 1 if own.intersects(strip) else 0
        return covered if own.width() - covered >= self._window.minimumWidth() else 0
