"""The probes of the parts meter on the simulated bench's panel: put on a part, turned round, lifted."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
)

ROWS = 4
"""Of the list, at the least."""


class Probes(QFrame):
    """The list of parts with what the probes can do; `moved` with the part, empty for the air, and turned round."""

    moved = Signal(str, bool)

    def __init__(self) -> None:
        super().__init__()
        self.setProperty("card", True)
        self._on = ""
        self._turned = False
        self.where = ranked("", "soft")
        self.named = QLineEdit()
        self.named.setPlaceholderText("part, such as R101")
        self.named.setAccessibleName("part to put the probes on")
        self.named.textEdited.connect(self._find)
        self.named.returnPressed.connect(self._put_on)
        self.list = QListWidget()
        self.list.setAccessibleName("parts")
        self.list.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        self.list.setMinimumHeight(ROWS * (self.list.fontMetrics().height() + 6))
        self.list.itemActivated.connect(self._put_on)
        self.put_on = QPushButton("Put on")
        self.put_on.clicked.connect(self._put_on)
        self.lift = QPushButton("Lift")
        self.lift.clicked.connect(lambda: self.moved.emit("", False))
        self.turn_round = QPushButton("Turn round")
        self.turn_round.setToolTip("the leads the other way round, on the same part")
        self.turn_round.clicked.connect(lambda: self.moved.emit(self._on, not self._turned))
        self._lay_out()
        self.stand("", turned_round=False)

    def _lay_out(self) -> None:
        whole = QVBoxLayout(self)
        whole.setContentsMargins(10, 6, 10, 8)
        whole.setSpacing(6)
        head = QHBoxLayout()
        head.addWidget(ranked("Probes", "head"))
        head.addStretch()
        head.addWidget(self.where)
        whole.addLayout(head)
        left = QVBoxLayout()
        left.addWidget(self.named)
        left.addWidget(self.list, 1)
        right = QVBoxLayout()
        for button in (self.put_on, self.turn_round, self.lift):
            button.setProperty("mark", True)
            right.addWidget(button)
        right.addStretch()
        both = QHBoxLayout()
        both.addLayout(left, 3)
        both.addLayout(right, 2)
        whole.addLayout(both, 1)

    def offer(self, parts: tuple[str, ...]) -> None:
        """The parts there are."""
        self.list.clear()
        self.list.addItems(parts)
        if parts:
            self.list.setCurrentRow(0)

    def stand(self, on: str, *, turned_round: bool) -> None:
        """Show where the probes are."""
        self._on = on
        self._turned = turned_round
        self.where.setText(f"on {on}{', turned round' if turned_round else ''}" if on else "in the air")
        self.turn_round.setEnabled(bool(on))
        self.lift.setEnabled(bool(on))

    def _find(self, typed: str) -> None:
        """Choose the first part that begins so."""
        wanted = _plain(typed)
        for row in range(self.list.count()):
            if wanted and _plain(self.list.item(row).text()).startswith(wanted):
                self.list.setCurrentRow(row)
                return

    def _put_on(self) -> None:
        """On what is chosen; what is typed and fits nothing is for the bench to refuse."""
        row = self.list.currentRow()
        part = self.list.item(row).text() if row >= 0 else ""
        typed = self.named.text()
        if typed and not _plain(part).startswith(_plain(typed)):
            part = typed
        if part:
            self.moved.emit(part, False)
            self.named.clear()


def _plain(name: str) -> str:
    return name.replace(" ", "").casefold()


def ranked(text: str, rank: str) -> QLabel:
    """A text of a rank of the style sheet."""
    made = QLabel(text)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setProperty("rank", rank)
    return made
