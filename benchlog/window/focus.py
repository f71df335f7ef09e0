"""Whether the keys of a live run reach the window: a red strip, a pip and a small CUT on top while they do not."""

from PySide6.QtCore import QObject, Qt, QTimer, Signal
from PySide6.QtGui import QGuiApplication, QWindow
from PySide6.QtWidgets import QWidget

from benchlog.window.cut_strip import CutStrip
from benchlog.window.work import Work

AGAIN = 5_000
"""Milliseconds between two pips."""


class Focus(QObject):
    """Watches one window; `elsewhere` when the keys of a live run go away or come back."""

    elsewhere = Signal(bool)

    def __init__(self, work: Work, window: QWidget) -> None:
        super().__init__(window)
        self._work = work
        self._window = window
        self._away = False
        self.strip = CutStrip(work.look)
        self.strip.cut.connect(self._cut)
        self._pip = QTimer(self)
        self._pip.setInterval(AGAIN)
        self._pip.timeout.connect(self._sound)
        application = QGuiApplication.instance()
        assert isinstance(application, QGuiApplication)  # noqa: S101 - there is a window, so there is one
        self._closed = False
        application.focusWindowChanged.connect(self._moved)
        work.runner.phase_changed.connect(self._moved)

    def _moved(self, _: object) -> None:
        if not self._closed:
            self.look()

    def look(self) -> None:
        """See where the keys go."""
        handle: QWindow | None = self._window.windowHandle()
        here = handle is not None and QGuiApplication.focusWindow() is handle
        away = self._work.runner.view.is_live and not here
        if away == self._away:
            return
        self._away = away
        self.elsewhere.emit(away)
        if away:
            self.strip.show_at_corner()
            self._sound()
            self._pip.start()
        else:
            self.strip.hide()
            self._pip.stop()

    def close(self) -> None:
        """Take the strip off the screen, for good: the focus moves on after the window has gone."""
        if self._closed:
            return
        self._closed = True
        self._pip.stop()
        self.strip.close()
        self.strip.deleteLater()

    def _cut(self) -> None:
        self._work.runner.cut()

    def _sound(self) -> None:
        if self._work.voice is not None:
            self._work.voice.elsewhere()

    @staticmethod
    def is_text(widget: QObject | None) -> bool:
        """Whether a widget takes typed text, so that letters and digits are not keys there."""
        return isinstance(widget, QWidget) and bool(
            widget.testAttribute(Qt.WidgetAttribute.WA_InputMethodEnabled)
        )
