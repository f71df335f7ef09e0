"""A card for each instrument and each off-switch: what it is, how it stands, what it reads just now."""

from collections.abc import Iterator
from datetime import UTC, datetime

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QSizePolicy, QVBoxLayout

from benchlog.domain.quantity import show
from benchlog.domain.rating import FOR_MAINS, fit_for_mains
from benchlog.domain.reading import Function
from benchlog.errors import Fault
from benchlog.instruments.bench import MeterEntry, OffSwitchEntry, PedalEntry, SupplyEntry
from benchlog.window import words
from benchlog.window.bench_file import Entry, Spot
from benchlog.window.bench_told import mains_side, without_job
from benchlog.window.forms import press, row
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.pedal_form import DOES, PRESSED
from benchlog.window.shapes import Mark, Shape
from benchlog.window.switch_form import KINDS
from benchlog.window.tile import TileFace

NOT_TRIED = "not tried"

_SHAPES = {"open": Shape.GOOD, "opening": Shape.DOUBT, "gone": Shape.NOTHING, "refused": Shape.NOTHING}
_SHAPES["unreadable"] = Shape.DOUBT


class EntryCard(QFrame):
    """One entry of the bench; `trying`, `change` and `remove` carry its spot."""

    trying = Signal(object)
    change = Signal(object)
    remove = Signal(object)

    def __init__(
        self,
        look: Look,
        spot: Spot,
        entry: Entry,
        title: str,
        faults: tuple[Fault, ...] = (),
    ) -> None:
        """`title` says in words what kind of instrument it is."""
        super().__init__()
        self.setProperty("card", True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.job = entry.job or KINDS.get(getattr(entry, "kind", ""), "")
        self.entry = entry
        self._look = look
        self._spot = spot
        self._mark = Mark(look)
        self._state = label("", "soft")
        self._number = label("")
        self._number.setFont(look.font(26, bold=True))
        self._unit = label("", "soft")
        self._age = label("", "soft")
        self._why = label("", "danger", wrap=True)
        self._lay_out(entry, title, faults)
        self.stand("", "")
        self.read(None)

    def _lay_out(self, entry: Entry, title: str, faults: tuple[Fault, ...]) -> None:
        column = QVBoxLayout(self)
        column.setSpacing(5)
        top = QHBoxLayout()
        top.addWidget(self._mark, 0, Qt.AlignmentFlag.AlignVCenter)
        top.addWidget(label(self.job, "head", wrap=True), 1)
        top.addWidget(self._state, 0, Qt.AlignmentFlag.AlignVCenter)
        column.addLayout(top)
        value = QHBoxLayout()
        value.addWidget(self._number)
        value.addWidget(self._unit, 0, Qt.AlignmentFlag.AlignBottom)
        value.addStretch(1)
        value.addWidget(self._age, 0, Qt.AlignmentFlag.AlignBottom)
        column.addLayout(value)
        column.addWidget(self._why)
        for text in about(entry, title):
            column.addWidget(label(text, "soft", wrap=True))
        for text in warnings(entry):
            column.addWidget(label(text, "danger" if text.startswith("Its link is not") else "", wrap=True))
        for fault in faults:
            column.addWidget(label(mending(fault), wrap=True))
        column.addStretch(1)
        buttons = [press("Change", lambda: self.change.emit(self._spot), hint=f"change {self.job}")]
        buttons.append(press("Remove", lambda: self.remove.emit(self._spot), hint=f"remove {self.job}"))
        self.try_it = press("Try it", lambda: self.trying.emit(self._spot), hint=f"try {self.job} by itself")
        self._served = not faults
        if not isinstance(entry, OffSwitchEntry | PedalEntry):
            buttons.insert(0, self.try_it)
        for button in buttons:
            button.setAccessibleName(f"{button.text()}: {self.job}")
        column.addLayout(row(*buttons))
        if isinstance(entry, OffSwitchEntry):
            self._state.setText("")
            self._mark.hide()
        elif faults:
            self._mark.show_shape(Shape.DOUBT)

    def may_try(self, free: bool) -> None:
        """Whether it can be tried just now."""
        self.try_it.setEnabled(free and self._served)

    # --- how it stands -------------------------------------------------------------------------------

    def stand(self, state: str, why: str) -> None:
        """How the instrument is doing: a state of the recorder's, empty where it was not tried."""
        if self._mark.isHidden():
            return
        self._mark.show_shape(_SHAPES.get(state, Shape.TO_DO))
        self._state.setText(words.METER_STATE.get(state, NOT_TRIED))
        bad = state in ("gone", "refused", "unreadable")
        self._why.setText(without_job(self.job, why) if bad else "")
        self._why.setVisible(bad and bool(why))
        self.setAccessibleName(f"{self.job}: {self._state.text()}")

    def read(self, face: TileFace | None) -> None:
        """What it reads just now; nothing where nothing was read."""
        shown = face is not None and bool(face.number)
        for part in (self._number, self._unit, self._age):
            part.setVisible(shown)
        if face is None or not shown:
            return
        rank = "soft" if face.wrong else ""
        if self._number.property("rank") != rank:
            self._number.setProperty("rank", rank)
            self._number.style().polish(self._number)
        self._number.setText(face.number)
        self._unit.setText(face.unit)
        age = "" if face.age is None else f"{face.age:.1f} s ago"
        self._age.setText(face.wrong or age)


def about(entry: Entry, title: str) -> Iterator[str]:
    """What is known of it, a line each."""
    if isinstance(entry, OffSwitchEntry):
        yield KINDS[entry.kind]
        if entry.kind == "relay":
            how = f"beat {entry.beat:g} s"
            if entry.held_by_level:
                how = f"held by {entry.line.upper()} {entry.level}, second best"
            yield f"{entry.address}, {how}, drops after {entry.drop_out:g} s"
        elif entry.supply:
            yield f"switches {entry.supply} off"
        return
    if isinstance(entry, PedalEntry):
        yield f"{DOES[entry.does]}, when {PRESSED[entry.pressed]}"
        fed = "" if entry.feed == "none" else f", fed by {entry.feed.upper()}"
        yield f"{entry.address}, {entry.line.upper()}{fed}"
        return
    if isinstance(entry, MeterEntry):
        measures = words.FUNCTION[entry.function] if entry.function is not None else "walks with you"
        yield f"{measures}, {entry.clipped_to}" if entry.clipped_to else measures
    yield f"{title}, {entry.address}"
    if isinstance(entry, SupplyEntry):
        if entry.cut_address:
            yield f"cut over {entry.cut_address}"
        return
    said = [f"link isolated: {entry.link_isolated}"]
    said += [text for text in (entry.rating, f"error {entry.error}" if entry.error else "") if text]
    said += [f"error in {words.FUNCTION[Function(name)]} {error}" for name, error in entry.errors.items()]
    if entry.range is not None and entry.function is not None:
        said.append(f"stays on {show(entry.range, entry.function.unit)}")
    if entry.null is not None:
        said.append(f"leads nulled at {show(entry.null.value, 'ohm')}, {entry.null.time:%Y-%m-%d %H:%M} UTC")
    if entry.interval:
        said.append(f"every {entry.interval:g} s")
    yield " · ".join(said)


def mending(fault: Fault) -> str:
    """What is to be mended in an entry, as its card says it."""
    if "is a place on the simulated bench" in fault.problem:
        return "Its address is a place on the simulated bench: put your own in."
    fix = f"; {fault.fix}" if fault.fix else ""
    return f"To mend: {fault.problem}{fix}."


def warnings(entry: Entry) -> Iterator[str]:
    """What the bench rules have to say about it before anything is on."""
    if not isinstance(entry, MeterEntry):
        return
    if due := entry.overdue(datetime.now(UTC).date()):
        yield f"It {due}."
    if not mains_side(entry):
        return
    if entry.link_isolated == "no":
        yield "Its link is not isolated: a power-up refuses it on the mains side."
    elif entry.link_isolated == "unknown":
        yield "Mains side: find out whether its link is isolated from its input."
    fit = fit_for_mains(entry.rating)
    if fit is False:
        yield f"Its input is rated {entry.rating}: a power-up refuses it on the mains side."
    elif fit is None:
        yield f"Mains side: input and leads rated {FOR_MAINS}?"
