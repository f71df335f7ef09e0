"""What the Power-up page says while no bench is open, and the way there."""

from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.window import keys, words
from benchlog.window.keycap import KeyCap
from benchlog.window.keys import Action
from benchlog.window.page import label
from benchlog.window.work import Work


class NoBench(QWidget):
    """A sentence and a key."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        said = label("The bench is not open yet: meters and off-switch come first.", "title", wrap=True)
        self._work = work
        cap = self._cap = KeyCap(work.look, "", "to the bench", main=True)
        cap.setMaximumWidth(260)
        self.name_keys()
        cap.clicked.connect(lambda _=False: work.go_to.emit(words.BENCH))
        column = QVBoxLayout(self)
        column.addStretch(1)
        column.addWidget(said)
        column.addSpacing(10)
        column.addWidget(cap)
        column.addStretch(2)

    def name_keys(self) -> None:
        """The keys are bound otherwise from now on."""
        own = self._work.keys
        names = own.name(Action.GO, keys.POWER_UP), own.name(Action.TO_BENCH, keys.EVERYWHERE)
        self._cap.say("to the bench", key=" or ".join(filter(None, names)))
