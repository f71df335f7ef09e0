"""The form of an off-switch: a supply of the bench, a relay on a pumped line, or the hand."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.domain.quantity import plain
from benchlog.errors import BadInput, Fault
from benchlog.instruments.bench import HOLDS, LEVELS, SWITCHES, OffSwitchEntry
from benchlog.window.bench_form import seconds
from benchlog.window.bench_told import RELAY_CAUTION
from benchlog.window.fault_list import FaultList
from benchlog.window.forms import GAP, Fields, press, row
from benchlog.window.look import Look
from benchlog.window.page import label

KINDS = {
    "supply": "a supply of this bench",
    "relay": "a relay held in by a serial line",
    "hand": "your hand on a switch",
}
"""Kinds of off-switches in words."""

_ABOUT = {
    "supply": "Its output is switched off over a connection of its own, and read back.",
    "pump": "Bytes at a fixed beat hold the relay in through a diode pump; it drops when they stop. F10 shows how.",
    "level": (
        "Second best: a program that hangs, a computer that sleeps or an adapter that inverts holds the relay in. "
        "F10 shows how it is wired, and what a pump does better."
    ),
    "hand": "The alarm calls, you switch off. A drill at the lowest stage shows that it works.",
}

_HOLDS = {"pump": "bytes at a beat, pumped", "rts": "the level of RTS", "dtr": "the level of DTR"}
_LEVELS = {"high": "high", "low": "low, as a dead program leaves it"}

NAMES = {
    "kind": "Kind of off-switch",
    "job": "What you call it",
    "supply": "Which supply",
    "address": "Serial port of the relay",
    "line": "What holds it in",
    "level": "The level that holds it in",
    "beat": "Beat, s",
    "drop_out": "It drops within, s",
}


class SwitchForm(QWidget):
    """A form; `filled` carries an OffSwitchEntry, `left` that it was given up."""

    filled = Signal(object)
    left = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._head = label("", "title")
        self.faults = FaultList(look)
        self.fields = make = Fields(least=240)
        self.kind = make.choice(NAMES["kind"])
        for kind in reversed(SWITCHES):
            self.kind.addItem(KINDS[kind], kind)
        self.job = make.text(NAMES["job"], placeholder="wall switch")
        self.supply = make.choice(NAMES["supply"])
        self.address = make.text(NAMES["address"], placeholder="usb:0403:6001:A12345")
        self.line = make.choice(NAMES["line"])
        for hold in HOLDS:
            self.line.addItem(_HOLDS[hold], hold)
        self.level = make.choice(NAMES["level"])
        for level in LEVELS:
            self.level.addItem(_LEVELS[level], level)
        self.beat = make.text(NAMES["beat"], placeholder="0.05")
        self.drop_out = make.text(NAMES["drop_out"], placeholder="0.5")
        self._about = label("", "soft", wrap=True)
        self._caution = label(RELAY_CAUTION, wrap=True)
        self._keep = press("Put it on the bench", self.submit, main=True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        for widget in (self._head, self.faults, make, self._about, self._caution):
            column.addWidget(widget)
        column.addLayout(row(self._keep, press("Back", self.left.emit)))
        column.addStretch(1)
        self.kind.currentIndexChanged.connect(lambda _: self._kind_chosen())
        self.line.currentIndexChanged.connect(lambda _: self._kind_chosen())
        make.finished.connect(self.submit)
        make.left.connect(self.left)

    def begin(self, supplies: tuple[str, ...], entry: OffSwitchEntry | None = None) -> None:
        """An empty form, or that of an off-switch; `supplies` are the jobs of the bench's supplies."""
        self._head.setText("Add an off-switch" if entry is None else f"Change {entry.job or entry.kind}")
        self._keep.setText("Put it on the bench" if entry is None else "Keep the change")
        self.faults.clear()
        self.supply.clear()
        self.supply.addItems(list(supplies))
        if entry is not None and entry.supply and entry.supply not in supplies:
            self.supply.addItem(entry.supply)
        shown = entry or OffSwitchEntry(kind="supply" if supplies else "hand")
        self.kind.setCurrentIndex(self.kind.findData(shown.kind))
        self.job.setText(shown.job)
        self.address.setText(shown.address)
        self.supply.setCurrentIndex(max(0, self.supply.findText(shown.supply)))
        self.line.setCurrentIndex(self.line.findData(shown.line))
        self.level.setCurrentIndex(self.level.findData(shown.level))
        self.beat.setText(plain(shown.beat))
        self.drop_out.setText(plain(shown.drop_out))
        self._kind_chosen()
        self.fields.begin()

    def _kind_chosen(self) -> None:
        kind = str(self.kind.currentData())
        relay = kind == "relay"
        pumped = str(self.line.currentData()) == "pump"
        for field, wanted in (
            (self.supply, kind == "supply"),
            (self.address, relay),
            (self.line, relay),
            (self.level, relay and not pumped),
            (self.beat, relay and pumped),
            (self.drop_out, relay),
        ):
            cell = field.parentWidget()
            if cell is not None:
                self.fields.want(cell, wanted)
        how = "pump" if pumped else "level"
        self._about.setText(_ABOUT[how if relay else kind])
        self._caution.setVisible(kind == "relay")

    def submit(self) -> None:
        """Take what stands there; whether it serves is judged with the whole bench."""
        kind, job = str(self.kind.currentData()), " ".join(self.job.text().split())
        usual = OffSwitchEntry(kind=kind)
        try:
            line = str(self.line.currentData()) if kind == "relay" else usual.line
            pumped = kind == "relay" and line == "pump"
            beat = seconds(self.beat.text(), NAMES["beat"]) if pumped else None
            drop_out = seconds(self.drop_out.text(), NAMES["drop_out"]) if kind == "relay" else None
        except BadInput as error:
            self.refuse(error.faults)
            return
        self.faults.clear()
        self.filled.emit(
            OffSwitchEntry(
                kind=kind,
                job=job,
                address=self.address.text().strip() if kind == "relay" else "",
                supply=self.supply.currentText() if kind == "supply" else "",
                line=line,
                level=str(self.level.currentData()) if line != "pump" else usual.level,
                beat=usual.beat if beat is None else beat,
                drop_out=usual.drop_out if drop_out is None else drop_out,
            )
        )

    def refuse(self, faults: tuple[Fault, ...]) -> None:
        """Show what is wrong; what was typed stays."""
        self.faults.tell(BadInput.of(faults), "This wants a look before it can be used.")
        self.kind.setFocus()
