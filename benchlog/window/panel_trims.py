"""The trimmers of the simulated unit: which one is under the screwdriver, and a bit less or more of it."""

from collections.abc import Mapping

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QFrame, QHBoxLayout, QPushButton, QVBoxLayout

from benchlog.window.panel_probes import ranked

FACTOR = 1.03
"""By how much one turn changes an idle: about a millivolt in thirty."""
VOLTS = 0.001
"""By how much one turn changes an offset, V."""
ENDS = {"idle": (0.02, 4.0), "offset": (-0.1, 0.1)}


class Trims(QFrame):
    """A trimmer chosen from a list, and two buttons that turn it while they are held; `turned` says where to."""

    turned = Signal(str, float)

    def __init__(self) -> None:
        super().__init__()
        self.setProperty("card", True)
        self._stand: dict[str, float] = {}
        self.which = QComboBox()
        self.which.setAccessibleName("trimmer under the screwdriver")
        self.less, self.more = QPushButton("\N{MINUS SIGN}"), QPushButton("+")
        for button, way, said in ((self.less, -1, "turn it down"), (self.more, 1, "turn it up")):
            button.setAutoRepeat(True)
            button.setAccessibleName(said)
            button.setProperty("small", True)
            button.clicked.connect(lambda _=False, way=way: self._turn(way))
        row = QHBoxLayout()
        row.addWidget(ranked("Trimmer", "head"))
        row.addWidget(self.which, 1)
        row.addWidget(self.less)
        row.addWidget(self.more)
        column = QVBoxLayout(self)
        column.setContentsMargins(10, 6, 10, 8)
        column.addLayout(row)
        self.hide()

    def stand(self, presets: Mapping[str, float]) -> None:
        """How they stand; nothing where the bench has none."""
        if list(presets) != [self.which.itemText(at) for at in range(self.which.count())]:
            self.which.clear()
            self.which.addItems(list(presets))
            self.setVisible(bool(presets))
        self._stand = dict(presets)

    def _turn(self, way: int) -> None:
        name = self.which.currentText()
        if name not in self._stand:
            return
        what = name.partition(" ")[0]
        now = self._stand[name]
        wanted = now * FACTOR**way if what == "idle" else now + way * VOLTS
        low, high = ENDS[what]
        self._stand[name] = min(max(wanted, low), high)
        self.turned.emit(name, self._stand[name])
