"""Python's collection of garbage, kept to the GUI thread.

Python collects in whichever thread happens to allocate. A widget that is garbage would then be taken apart in
the library's thread, which Qt answers with a crash some time later. So nothing is collected but here.
"""

import gc

from PySide6.QtCore import QObject, QTimer

EVERY = 250
"""Milliseconds between two looks."""


class Tidy(QObject):
    """Collects as Python would, generation by generation, but on the thread that made it."""

    def __init__(self) -> None:
        super().__init__()
        self._was_on = gc.isenabled()
        gc.disable()
        self._timer = QTimer(self)
        self._timer.setInterval(EVERY)
        self._timer.timeout.connect(self.look)
        self._timer.start()

    def look(self) -> None:
        """Collect the oldest generation that is due, as the interpreter's own thresholds say."""
        due = [
            generation
            for generation, (count, most) in enumerate(zip(gc.get_count(), gc.get_threshold(), strict=True))
            if most and count > most
        ]
        if due:
            gc.collect(max(due))

    def close(self) -> None:
        """Leave collecting to Python again."""
        self._timer.stop()
        if self._was_on:
            gc.enable()
