"""The bench as it stands: its name, cards of its instruments and off-switches, and the transcript."""

from collections.abc import Callable, Mapping

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from benchlog.instruments.bench import MeterEntry, OffSwitchEntry, PedalEntry, SupplyEntry
from benchlog.window.bench_card import EntryCard
from benchlog.window.bench_file import Draft, InstrumentKind, Spot, Table, entries
from benchlog.window.forms import GAP, Columns, TwoSides, press, row
from benchlog.window.look import Look
from benchlog.window.page import card, label
from benchlog.window.tile import TileFace
from benchlog.window.tooltip import tip
from benchlog.window.transcript import Transcript
from benchlog.window.work import Work

LARGEST, BESIDE_NAME = 18, 60
"""Pixels of height of the name's letters at most, and of what its field's edges take from its width."""

EMPTY = (
    "Nothing is attached yet. Attach each instrument by its job: what it is clipped to. "
    "Then add the way the power is cut, even if it is your hand."
)


class Name(QLineEdit):
    """The bench's name, in letters small enough for all of it to be read."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.setPlaceholderText("what this bench is called")
        self.setAccessibleName("what this bench is called")
        self.textChanged.connect(self._fit)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """As large as there is room."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        self.setFont(self._look.fitting(self.text(), self.width() - BESIDE_NAME, LARGEST, least=12))
        self.setToolTip(tip(self.text()))


class BenchView(QWidget):
    """The first view of the page; its signals say what is asked for."""

    attach = Signal()
    look = Signal()
    add_switch = Signal()
    add_pedal = Signal()
    change = Signal(object)
    remove = Signal(object)
    trying = Signal(object)
    open = Signal()
    save = Signal()
    try_all = Signal()
    put_back = Signal()
    renamed = Signal(str)

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._look = work.look
        self._named = ""
        self.cards: dict[str, EntryCard] = {}
        self.switch_cards: list[EntryCard] = []
        self.name = Name(work.look)
        self.name.editingFinished.connect(lambda: self.renamed.emit(" ".join(self.name.text().split())))
        self.try_button = press("Try the bench", self.try_all.emit, main=True)
        self.attach_button = press("Attach an instrument", self.attach.emit)
        self.save_button = press("Save", self.save.emit)
        self.back_button = press("", self.put_back.emit)
        self.back_button.hide()
        self.says = label("", "soft", wrap=True)
        self.transcript = Transcript(work.look)
        self._instruments = Columns(least=280, most=3)
        self._switches = Columns(least=280, most=3)
        self._pedals = Columns(least=280, most=3)
        self._empty = label(EMPTY, wrap=True)
        self._lay_out()

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(8)
        top.addWidget(self.name, 1)
        buttons = row(
            self.try_button, press("Open a bench", self.open.emit), self.save_button, self.back_button
        )
        sides = TwoSides(narrow=900, shares=(1, 1))
        left = sides.left
        left.addWidget(self._empty)
        left.addWidget(label("Instruments", "head"))
        left.addWidget(self._instruments)
        left.addLayout(row(self.attach_button, press("Look for instruments", self.look.emit)))
        left.addSpacing(GAP)
        left.addWidget(label("Off-switches and pedals", "head"))
        left.addWidget(self._switches)
        left.addWidget(self._pedals)
        add_switch = press("Add an off-switch", self.add_switch.emit)
        left.addLayout(row(add_switch, press("Add a pedal", self.add_pedal.emit)))
        left.addStretch(1)
        told = card()
        QVBoxLayout(told).addWidget(self.transcript)
        sides.right.addWidget(told, 1)
        self._told = sides.other
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addLayout(top)
        column.addLayout(buttons)
        column.addWidget(self.says)
        column.addWidget(sides, 1)

    # --- what is shown -------------------------------------------------------------------------------

    def put(self, draft: Draft, kinds: Mapping[str, InstrumentKind]) -> None:
        """Show a bench."""
        if draft.bench.name != self._named:
            self._named = draft.bench.name
            self.name.setText(draft.bench.name)
            self.name.setCursorPosition(0)
        self.cards = {}
        shown = [self._card(draft, kinds, Table.METER, at) for at in range(len(draft.bench.meter))]
        shown += [self._card(draft, kinds, Table.SUPPLY, at) for at in range(len(draft.bench.supply))]
        self._instruments.put(shown)
        self.switch_cards = [
            self._card(draft, kinds, Table.OFF_SWITCH, at) for at in range(len(draft.bench.off_switch))
        ]
        self._switches.put(self.switch_cards)
        pedals = [self._card(draft, kinds, Table.PEDAL, at) for at in range(len(draft.bench.pedal))]
        self._pedals.put(pedals)
        self._pedals.setVisible(bool(pedals))
        self._instruments.setVisible(bool(shown))
        self._switches.setVisible(bool(self.switch_cards))
        self._empty.setVisible(draft.empty)
        self._told.setVisible(not draft.empty or bool(self.transcript.lines))
        _make_main(self.attach_button, draft.empty)
        _make_main(self.try_button, not draft.empty)

    def _card(self, draft: Draft, kinds: Mapping[str, InstrumentKind], table: Table, at: int) -> EntryCard:
        entry = entries(draft.bench, table)[at]
        spot = Spot(table, at)
        title = ""
        if not isinstance(entry, OffSwitchEntry | PedalEntry):
            title = kinds[entry.profile].title if entry.profile in kinds else entry.profile
        made = EntryCard(self._look, spot, entry, title, draft.faults_of(spot))
        made.trying.connect(self.trying)
        made.change.connect(self.change)
        made.remove.connect(self.remove)
        if not isinstance(entry, OffSwitchEntry):
            self.cards[entry.job] = made
        return made

    def stand(
        self, state_of: Callable[[MeterEntry | SupplyEntry | PedalEntry], tuple[str, str]], *, free: bool
    ) -> None:
        """How each instrument is doing: state and why; `free` where one may be tried just now."""
        for made in self.cards.values():
            if not isinstance(made.entry, OffSwitchEntry):
                made.stand(*state_of(made.entry))
            made.may_try(free)

    def read(self, face_of: Callable[[MeterEntry], TileFace | None], meters: tuple[MeterEntry, ...]) -> None:
        """What each meter reads just now."""
        for entry in meters:
            made = self.cards.get(entry.job)
            if made is not None:
                made.read(face_of(entry))


def _make_main(button: QPushButton, main: bool) -> None:
    """Have a button be the one the eye finds first, or not."""
    if button.property("main") != main:
        button.setProperty("main", main)
        button.style().unpolish(button)
        button.style().polish(button)
