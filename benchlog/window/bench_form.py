"""The form of an instrument: its job, how to talk to it, where it is, what it is clipped to."""

from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QLineEdit, QVBoxLayout, QWidget

from benchlog.domain.quantity import plain, quantity
from benchlog.domain.reading import Function
from benchlog.errors import BadInput, Fault
from benchlog.instruments.address import (
    SerialAddress,
    TcpAddress,
    UsbSerialAddress,
    parse_address,
)
from benchlog.instruments.bench import ISOLATED, MeterEntry, SupplyEntry
from benchlog.window import words
from benchlog.window.bench_file import InstrumentKind
from benchlog.window.bench_told import MAINS_CAUTION, mains_side
from benchlog.window.fault_list import FaultList
from benchlog.window.forms import GAP, Fields, press, row
from benchlog.window.look import Look
from benchlog.window.page import label

ADDRESSES = (
    "TCPIP::192.0.2.7::5025::SOCKET",
    "tcp://192.0.2.7:5025",
    "/dev/ttyUSB0",
    "COM3",
    "usb:0403:6001:A12345",
    "socket://192.0.2.9:4000",
    "TCPIP::192.0.2.7::hislip0::INSTR",
)
"""One of each kind, as a person writes it."""

USUAL = "scpi-multimeter"
"""The kind a new instrument most likely is."""

TO_CHOOSE = "not known yet: choose one"

WALKS = "walks with you, part to part"

NAMES = {
    "job": "Its job",
    "profile": "Kind of instrument",
    "address": "Its address",
    "cut_address": "Second connection, for the cut",
    "function": "What it measures",
    "interval": "Seconds between readings",
    "clipped_to": "Clipped to",
    "link_isolated": "Link isolated from its input",
    "rating": "Rating of its input",
    "error": "Its error",
}
"""Keys of a bench file as the form calls them."""


class InstrumentForm(QWidget):
    """A form; `filled` carries a MeterEntry or a SupplyEntry, `left` that it was given up."""

    filled = Signal(object)
    left = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._kinds: dict[str, InstrumentKind] = {}
        self._wanted_kind, self._wanted_function = "", ""
        self._before = MeterEntry(job="", profile="", address="")
        self._head = label("", "title")
        self.faults = FaultList(look)
        self.fields = Fields(least=240)
        make = self.fields
        self.job = make.text(NAMES["job"], placeholder="lamp, +B, offset L, parts meter")
        self.kind = make.choice(NAMES["profile"])
        self.address = make.text(NAMES["address"], placeholder=ADDRESSES[0])
        self.function = make.choice(NAMES["function"])
        self.clipped_to = make.text(NAMES["clipped_to"], placeholder="across the series lamp")
        self.isolated = make.choice(NAMES["link_isolated"])
        self.isolated.addItems(list(ISOLATED))
        self.rating = make.text(NAMES["rating"], placeholder="CAT II 300 V")
        self.interval = make.text(NAMES["interval"], placeholder="as fast as it answers")
        self.error = make.text(NAMES["error"], placeholder="0.5%+2@0.1, or 50 mV")
        self.cut_address = make.text(NAMES["cut_address"], placeholder="the same address")
        self._says = label("", "soft", wrap=True)
        self._caution = label(MAINS_CAUTION, wrap=True)
        self._keep = press("Put it on the bench", self.submit, main=True)
        self._lay_out()
        self.kind.currentIndexChanged.connect(lambda _: self._kind_chosen())
        for field in (self.job, self.clipped_to, self.address):
            field.textChanged.connect(lambda _: self._look())
        self.function.currentIndexChanged.connect(lambda _: self._look())
        make.finished.connect(self.submit)
        make.left.connect(self.left)

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        for widget in (self._head, self.faults, self.fields, self._says, self._caution):
            column.addWidget(widget)
        column.addLayout(row(self._keep, press("Back", self.left.emit)))
        examples = "An address is written as one of these:\n" + "\n".join(f"    {one}" for one in ADDRESSES)
        column.addWidget(label(examples, "soft", wrap=True))
        column.addStretch(1)

    # --- what it shows -------------------------------------------------------------------------------

    def know(self, kinds: tuple[InstrumentKind, ...]) -> None:
        """The kinds of instruments there are; what is chosen stays chosen."""
        chosen = self.kind.currentData() or self._wanted_kind
        self._kinds = {kind.name: kind for kind in kinds}
        self.kind.blockSignals(True)
        self.kind.clear()
        for kind in kinds:
            own = ", your own" if kind.own else ""
            title = f"{kind.name}: not usable" if kind.trouble else f"{kind.title}{own}"
            self.kind.addItem(title, kind.name)
        if chosen not in self._kinds:
            self.kind.addItem(f"{chosen}: not known" if chosen else TO_CHOOSE, chosen)
        self.kind.setCurrentIndex(max(0, self.kind.findData(chosen)))
        self.kind.blockSignals(False)
        self._kind_chosen()

    def begin(self, entry: MeterEntry | SupplyEntry | None = None) -> None:
        """An empty form, or that of an instrument of the bench."""
        self._head.setText("Attach an instrument" if entry is None else f"Change {entry.job}")
        self._keep.setText("Put it on the bench" if entry is None else "Keep the change")
        self.faults.clear()
        meter = entry if isinstance(entry, MeterEntry) else MeterEntry(job="", profile="", address="")
        self._before = meter
        self.job.setText(entry.job if entry is not None else "")
        self.address.setText(entry.address if entry is not None else "")
        self._choose_kind(entry.profile if entry is not None else USUAL)
        interval = entry.interval if entry is not None else None
        self.interval.setText("" if interval is None else plain(interval))
        self.clipped_to.setText(meter.clipped_to)
        self.isolated.setCurrentText(meter.link_isolated)
        self.rating.setText(meter.rating)
        self.error.setText(meter.error)
        self.cut_address.setText(entry.cut_address if isinstance(entry, SupplyEntry) else "")
        self._wanted_function = meter.function.value if meter.function is not None else ""
        self.function.clear()
        self._kind_chosen()
        self.fields.begin()

    def offer(self, address: str, profile: str) -> None:
        """Fill in where it is, and how to talk to it where that is known; else it is left to be chosen."""
        self.address.setText(address)
        self._choose_kind(profile)

    def _choose_kind(self, name: str) -> None:
        self._wanted_kind = name
        if name and (unknown := self.kind.findData("")) >= 0:
            self.kind.removeItem(unknown)
        at = self.kind.findData(name)
        if at < 0:
            self.kind.addItem(f"{name}: not known" if name else TO_CHOOSE, name)
            at = self.kind.count() - 1
        self.kind.setCurrentIndex(max(at, 0))

    def _kind_chosen(self) -> None:
        """What has a meaning for this kind of instrument, and what it can measure."""
        kind = self._kinds.get(self.kind.currentData() or "")
        supply = kind is not None and kind.kind == "supply"
        for field in (self.function, self.clipped_to, self.isolated, self.rating, self.error):
            self.fields.want(_cell(field), not supply)
        self.fields.want(_cell(self.cut_address), supply)
        streams = kind is not None and kind.kind == "stream"
        self.fields.want(_cell(self.interval), not streams)
        self.address.setPlaceholderText(ADDRESSES[2] if streams else ADDRESSES[0])
        self.interval.setPlaceholderText("0.1" if supply else "as fast as it answers")
        self._offer_functions(kind.functions if kind is not None else ())
        self._look()

    def _offer_functions(self, functions: tuple[Function, ...]) -> None:
        chosen = self.function.currentData() or self._wanted_function
        self.function.blockSignals(True)
        self.function.clear()
        self.function.addItem(WALKS, "")
        wanted = [Function(chosen)] if chosen and chosen not in functions else []
        for function in (*functions, *wanted):
            self.function.addItem(words.FUNCTION[function], function.value)
        self.function.setCurrentIndex(max(0, self.function.findData(chosen)))
        self.function.blockSignals(False)

    def _look(self) -> None:
        """Say what the address is understood as, and whether the mains side wants its caution."""
        kind = self._kinds.get(self.kind.currentData() or "")
        said = [understood(self.address.text())]
        if kind is not None and kind.trouble:
            said.append(kind.trouble)
        elif kind is not None and kind.kind == "supply" and kind.single:
            said.append("It takes one connection: the cut goes out between its readings.")
        self._says.setText("\n".join(text for text in said if text))
        self._says.setVisible(bool(self._says.text()))
        entry = self._entry(None)
        self._caution.setVisible(isinstance(entry, MeterEntry) and mains_side(entry))

    # --- what stands in it ---------------------------------------------------------------------------

    def _entry(self, interval: float | None) -> MeterEntry | SupplyEntry:
        job = " ".join(self.job.text().split())
        profile, address = str(self.kind.currentData() or ""), self.address.text().strip()
        kind = self._kinds.get(profile)
        if kind is not None and kind.kind == "supply":
            cut = self.cut_address.text().strip()
            every = 0.1 if interval is None else interval
            return SupplyEntry(job=job, profile=profile, address=address, cut_address=cut, interval=every)
        chosen = self.function.currentData()
        function = Function(chosen) if chosen else None
        return replace(
            _still_true(self._before, profile, function),
            job=job,
            profile=profile,
            address=address,
            function=function,
            interval=interval,
            clipped_to=" ".join(self.clipped_to.text().split()),
            link_isolated=self.isolated.currentText(),
            rating=" ".join(self.rating.text().split()),
            error=self.error.text().strip(),
        )

    def submit(self) -> None:
        """Take what stands there; whether it serves is judged with the whole bench."""
        streams = not self.fields.wants(_cell(self.interval))
        try:
            interval = None if streams else seconds(self.interval.text(), NAMES["interval"])
        except BadInput as error:
            self.refuse(error.faults)
            return
        if self.kind.currentData() == "":
            fix = "choose the one that fits your instrument, or write a profile for it"
            self.refuse((Fault(NAMES["profile"], "is not chosen yet", fix),))
            return
        self.faults.clear()
        self.filled.emit(self._entry(interval))

    def refuse(self, faults: tuple[Fault, ...]) -> None:
        """Show what is wrong; what was typed stays."""
        self.faults.tell(BadInput.of(faults), "This wants a look before it can be attached.")
        by_name: dict[str, QLineEdit | QComboBox] = {
            NAMES["job"]: self.job,
            NAMES["address"]: self.address,
            NAMES["interval"]: self.interval,
            NAMES["error"]: self.error,
            NAMES["cut_address"]: self.cut_address,
            NAMES["function"]: self.function,
            NAMES["profile"]: self.kind,
        }
        by_name.get(faults[0].place, self.job).setFocus()


def _still_true(before: MeterEntry, profile: str, function: Function | None) -> MeterEntry:
    """The entry with what the form does not show, as far as it fits the kind and the function chosen now."""
    if profile != before.profile:
        return MeterEntry(job="", profile="", address="", calibrated=before.calibrated)
    return before if function == before.function else replace(before, range=None)


def _cell(field: QWidget) -> QWidget:
    cell = field.parentWidget()
    assert cell is not None  # noqa: S101 - every field of a form stands in its cell
    return cell


def seconds(text: str, place: str) -> float | None:
    """A time as it was typed; None where nothing was."""
    if not text.strip():
        return None
    try:
        found = quantity(text, "s")
    except BadInput as error:
        raise BadInput(place, f"{error.place} {error.problem}", "write seconds, as in 0.25") from None
    if found.unit not in ("", "s"):
        raise BadInput(place, f'"{text.strip()}" is no time', "write seconds, as in 0.25")
    return found.value


def understood(address: str) -> str:
    """What an address is understood as, in words; what is wrong with it; nothing where none is written yet."""
    if not address.strip():
        return ""
    try:
        found = parse_address(address, "address")
    except BadInput as error:
        return f"{error.problem}."
    if isinstance(found, TcpAddress):
        return f"Network: {found.host}, port {found.port}."
    if isinstance(found, SerialAddress):
        return f"Serial port {found.device}."
    if isinstance(found, UsbSerialAddress):
        return f"USB serial adapter {found.vendor:04x}:{found.product:04x}, number {found.serial}."
    return "Through VISA, in a process of its own."
