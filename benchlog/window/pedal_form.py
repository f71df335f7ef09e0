"""The form of a pedal: a contact on a line of a serial port, and what pressing it does."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.errors import BadInput, Fault
from benchlog.instruments.bench import CONTACTS, FEEDS, PEDAL_ACTS, PEDAL_LINES, PedalEntry
from benchlog.window.fault_list import FaultList
from benchlog.window.forms import GAP, Fields, press, row
from benchlog.window.look import Look
from benchlog.window.page import label

DOES = {
    "cut": "cuts, and nothing else",
    "take": "takes the reading of a part",
    "skip": "skips a part",
    "undo": "takes back the last reading of a part",
}
"""What pressing it does, in words."""
PRESSED = {"closed": "its contact closes", "open": "its contact opens; a broken wire cuts too"}
_FEEDS = {"dtr": "DTR, held high", "rts": "RTS, held high", "none": "something else"}

NAMES = {
    "job": "What you call it",
    "address": "Its serial port",
    "does": "Pressing it",
    "pressed": "When it is pressed",
    "line": "The line it is read on",
    "feed": "What feeds its contact",
}

_ABOUT = (
    "It works whatever program has the keys. Its port may be that of the relay, each on lines of its own. "
    "F10 shows how it is wired."
)


class PedalForm(QWidget):
    """A form; `filled` carries a PedalEntry, `left` that it was given up."""

    filled = Signal(object)
    left = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._head = label("", "title")
        self.faults = FaultList(look)
        self.fields = make = Fields(least=240)
        self.job = make.text(NAMES["job"], placeholder="mushroom")
        self.address = make.text(NAMES["address"], placeholder="usb:0403:6001:A12345")
        self.does, self.pressed, self.line, self.feed = (
            make.choice(NAMES[key]) for key in ("does", "pressed", "line", "feed")
        )
        lines = {line: line.upper() for line in PEDAL_LINES}
        for box, choices, said in (
            (self.does, PEDAL_ACTS, DOES),
            (self.pressed, CONTACTS, PRESSED),
            (self.line, PEDAL_LINES, lines),
            (self.feed, FEEDS, _FEEDS),
        ):
            for choice in choices:
                box.addItem(said[choice], choice)
        self._keep = press("Put it on the bench", self.submit, main=True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        for widget in (self._head, self.faults, make, label(_ABOUT, "soft", wrap=True)):
            column.addWidget(widget)
        column.addLayout(row(self._keep, press("Back", self.left.emit)))
        column.addStretch(1)
        make.finished.connect(self.submit)
        make.left.connect(self.left)

    def begin(self, entry: PedalEntry | None = None) -> None:
        """An empty form, or that of a pedal."""
        self._head.setText("Add a pedal" if entry is None else f"Change {entry.job}")
        self._keep.setText("Put it on the bench" if entry is None else "Keep the change")
        self.faults.clear()
        shown = entry or PedalEntry(job="", address="")
        self.job.setText(shown.job)
        self.address.setText(shown.address)
        for box, value in (
            (self.does, shown.does),
            (self.pressed, shown.pressed),
            (self.line, shown.line),
            (self.feed, shown.feed),
        ):
            box.setCurrentIndex(box.findData(value))
        self.fields.begin()

    def submit(self) -> None:
        """Take what stands there; whether it serves is judged with the whole bench."""
        self.faults.clear()
        self.filled.emit(
            PedalEntry(
                job=" ".join(self.job.text().split()),
                address=self.address.text().strip(),
                line=str(self.line.currentData()),
                does=str(self.does.currentData()),
                pressed=str(self.pressed.currentData()),
                feed=str(self.feed.currentData()),
            )
        )

    def refuse(self, faults: tuple[Fault, ...]) -> None:
        """Show what is wrong; what was typed stays."""
        self.faults.tell(BadInput.of(faults), "This wants a look before it can be used.")
        self.job.setFocus()
