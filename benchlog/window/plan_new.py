"""A new plan from six numbers: what kind by its number, the numbers, the meters; Enter at the end makes it."""

from collections.abc import Mapping, Sequence
from enum import Enum, auto

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from benchlog.domain import plan_templates
from benchlog.domain.plan import Plan
from benchlog.domain.sixnumbers import MeterAtHand
from benchlog.domain.sixtyped import KINDS, Field, Kind, read_six
from benchlog.errors import BadInput, BenchlogError
from benchlog.instruments.bench import Bench, clipped, feeds_board, meters_at_hand, switched_by
from benchlog.window.forms import GAP, TwoSides
from benchlog.window.keycap import KeyCap
from benchlog.window.page import label
from benchlog.window.plan_fields import ONE_RAIL, TWO_RAILS, RailField, SixFields
from benchlog.window.plan_files import PlanFile
from benchlog.window.plan_kept import Typed, keep, number_of, remembered, typed
from benchlog.window.plan_preview import PlanPreview
from benchlog.window.rows import Row, Rows
from benchlog.window.shapes import Mark, Shape
from benchlog.window.work import Work

NARROW = 820
"""Pixels of width below which fields and meters take turns, so that the preview stays in sight."""
_STEP = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}
_BACK = (Qt.Key.Key_Backspace, Qt.Key.Key_Escape, Qt.Key.Key_Asterisk)
_MARKED = "0"


class At(Enum):
    """Where one is in the form."""

    KIND = auto()
    FIELDS = auto()
    METERS = auto()


class PlanNew(QWidget):
    """The form; `made` carries the plan's file, `left` that none is wanted, `rest` that no field has the keys.

    Its keys are drawn in `foot`, which stays in sight wherever the form is scrolled to.
    """

    made = Signal(object)
    left = Signal()
    rest = Signal()

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self.at = At.KIND
        self._kind = KINDS[1]
        self._meters: tuple[MeterAtHand, ...] = ()
        self._used: set[str] = set()
        self._supplies: tuple[str, ...] = ()
        self._supply = ""
        self._switch = ""
        self._plan: Plan | None = None
        self._making = False
        self.kinds = Rows(work.look, "kinds of plan", most=len(KINDS))
        self.fields = SixFields(work.look, self._may_go_on)
        self.meters = Rows(work.look, "meters", most=12)
        self.preview = PlanPreview(work.look)
        self._head = label("New plan from six numbers", "title")
        self._how = label("", "soft", wrap=True)
        self._fault, self._mark = label("", wrap=True), Mark(work.look, Shape.DOUBT, 14)
        self._numbers = label("", wrap=True)
        self._meters_head = label("Meters: which goes where", "head")
        self.go = KeyCap(work.look, "Enter", "make it and check it", main=True)
        self.back = KeyCap(work.look, "*", "back")
        self.foot = QWidget()
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        sides = TwoSides(narrow=NARROW, shares=(6, 5))
        under = QHBoxLayout()
        under.addWidget(self._mark, 0, Qt.AlignmentFlag.AlignTop)
        under.addWidget(self._fault, 1)
        for widget in (self.fields, self._numbers, self._meters_head, self.meters):
            sides.left.addWidget(widget)
        sides.left.addLayout(under)
        sides.left.addStretch(1)
        sides.right.addWidget(self.preview.frame)
        sides.right.addStretch(1)
        self._sides = sides
        keys = QHBoxLayout(self.foot)
        keys.setContentsMargins(0, 0, 0, 0)
        for cap in (self.go, self.back):
            cap.setMaximumWidth(280)
            keys.addWidget(cap, 1000)
        keys.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        for widget in (self._head, self._how, self.kinds):
            column.addWidget(widget)
        column.addWidget(sides)
        column.addStretch(1)

    def _connect(self) -> None:
        for rows in (self.kinds, self.meters):
            rows.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.kinds.put(
            Row(str(at), f"{at}   {kind.name}", kind.about) for at, kind in enumerate(KINDS, start=1)
        )
        self.kinds.itemClicked.connect(lambda _: self.enter())
        self.meters.itemClicked.connect(lambda _: self._toggle(self.meters.currentRow()))
        self.fields.changed.connect(self._look)
        self.fields.finished.connect(lambda: self._to(At.METERS))
        self.fields.back.connect(lambda: self._to(At.KIND))
        self.fields.left.connect(self.left)
        self.go.clicked.connect(self.enter)
        self.back.clicked.connect(self._go_back)

    # --- coming ------------------------------------------------------------------------------------

    def begin(self) -> None:
        """Begin with what is known of the unit and the bench."""
        shelf, bench = self._work.shelf, self._work.runner.view.bench or Bench(name="")
        unit = shelf.unit.id if shelf.unit is not None else ""
        known = [one.mains for one in (shelf.visit, shelf.unit) if one is not None and one.mains]
        mains = known[0] if known else None
        folder, profiles = shelf.folder, [shelf.folder / "profiles"]
        self._making = False
        self._tell("")
        self.fields.clear()
        self._to(At.KIND)
        self.kinds.setCurrentRow(KINDS.index(self._kind))
        self._supplies = tuple(entry.job for entry in bench.supply)
        self._supply, self._switch = feeds_board(bench), switched_by(bench)

        def read() -> tuple[Typed, tuple[MeterAtHand, ...]]:
            return remembered(folder, unit, mains), meters_at_hand(bench, profiles)

        shelf.off_thread(read, self._fill, owner=self, key="six numbers", says="Reading the numbers")

    def _fill(self, found: tuple[Typed, tuple[MeterAtHand, ...]]) -> None:
        last, self._meters = found
        known = {meter.job for meter in self._meters}
        wanted = known & set(last.meters)
        if not self._supply:
            self._supply = next((job for job in self._supplies if job in last.meters), "")
        self._used = wanted or {meter.job for meter in clipped(self._meters)}
        self.fields.fill(last.texts)
        # Whoever is quick has chosen already.
        if self.at is At.KIND:
            self.kinds.setCurrentRow(last.kind - 1)
        else:
            self._of_kind()
        self._look()

    # --- what is shown -----------------------------------------------------------------------------

    def _to(self, at: At) -> None:
        self.at = at
        choosing = at is At.KIND
        self.kinds.setVisible(choosing)
        self._sides.setVisible(not choosing)
        self._head.setText("New plan from six numbers" if choosing else self._kind.name)
        self._how.setText(_HOW[at])
        self.go.say(_ENTER[at])
        self._arrange()
        if at is At.FIELDS:
            self.fields.ask(self._kind.fields)
            self.meters.setCurrentRow(-1)
        else:
            self.rest.emit()
        self._look()
        if at is At.METERS:
            self.meters.setCurrentRow(min(0, self.meters.count() - 1))

    def _arrange(self) -> None:
        slim = self.width() < NARROW
        self.fields.setVisible(not slim or self.at is At.FIELDS)
        self._numbers.setVisible(slim and self.at is At.METERS)
        for widget in (self._meters_head, self.meters):
            widget.setVisible(not slim or self.at is At.METERS)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Less room, or more."""
        super().resizeEvent(event)
        self._arrange()

    def _look(self) -> None:
        """Make the plan of what stands there now, and show it with where each meter goes."""
        self._plan, lacks = None, ""
        try:
            self._plan = self._made()
        except BadInput as error:
            lacks = _lacking(error)
        self.preview.show_plan(self._plan, lacks)
        self._numbers.setText(in_words(self._kind, self.fields.texts))
        self._show_meters()
        self._tell("")

    def _made(self) -> Plan:
        six = read_six(self._kind, self.fields.texts, self._in_use())
        return plan_templates.plan(
            self._kind.template, six, self._supply, self._switch or plan_templates.WALL
        )

    def _in_use(self) -> Sequence[MeterAtHand]:
        return [meter for meter in self._meters if meter.job in self._used]

    @property
    def _asked(self) -> tuple[str, ...]:
        """The supplies a board may be fed by, where that has to be asked."""
        board = self._kind.template.by_supply
        return self._supplies if board and len(self._supplies) > 1 else ()

    def _show_meters(self) -> None:
        goes: dict[str, list[str]] = {}
        for trace in self._plan.trace if self._plan is not None else ():
            goes.setdefault(trace.job, []).append(trace.name)
        bench = self._work.runner.view.bench
        where = {entry.job: entry.clipped_to for entry in bench.meter} if bench is not None else {}
        marked = self.meters.currentRow()
        rows = [
            Row(meter.job, *self._row(at, meter, goes, where.get(meter.job, "")))
            for at, meter in enumerate(self._meters, start=1)
        ]
        for at, job in enumerate(self._asked, start=len(rows) + 1):
            feeds = "feeds the board" if job == self._supply else ""
            rows.append(Row(job, f"{_numbered(at)}{job}", "", feeds or "does it feed the board?"))
        self.meters.put(rows)
        self.meters.setCurrentRow(marked if self.at is At.METERS else -1)

    def _row(
        self, at: int, meter: MeterAtHand, goes: dict[str, list[str]], where: str
    ) -> tuple[str, str, str]:
        """Head, small line and end of a meter's row."""
        number = _numbered(at)
        points = goes.get(meter.job, [])
        if meter.job not in self._used:
            return f"{number}{meter.job}", "", "left out"
        if not points:
            return f"{number}{meter.job}", "", "no use for it" if self._plan is not None else ""
        point = points[0]
        if point == meter.job:
            return f"{number}{meter.job}", "", where
        return f"{number}{meter.job}  goes to  {point}", "", ""

    def _tell(self, fault: str) -> None:
        self._fault.setText(fault)
        self._mark.setVisible(bool(fault))
        self._fault.setVisible(bool(fault))

    @property
    def fault(self) -> str:
        """What is told to be wrong with the meters, or with keeping the plan."""
        return self._fault.text()

    # --- keys --------------------------------------------------------------------------------------

    def typed(self, event: QKeyEvent) -> bool:
        """Digits and arrows where no field has the keys; every other key of a page means nothing here."""
        if self.at is At.FIELDS:
            # Somebody was on another page meanwhile: the keys go back to where they were.
            self.fields.begin()
            return True
        step, char = _STEP.get(Qt.Key(event.key())), event.text()
        rows = self.kinds if self.at is At.KIND else self.meters
        if step is not None:
            rows.setCurrentRow(max(0, min(rows.count() - 1, rows.currentRow() + step)))
        elif event.key() in _BACK:
            self._go_back()
        elif char and char in "123456789" and int(char) <= rows.count():
            rows.setCurrentRow(int(char) - 1)
            if self.at is At.KIND:
                self.enter()
            else:
                self._toggle(int(char) - 1)
        elif char == _MARKED and self.at is At.METERS:
            self._toggle(rows.currentRow())
        elif not char.isprintable() or not char:
            return False
        return True

    def enter(self) -> None:
        """Go on; behind the last step the plan is made."""
        if self.at is At.KIND:
            self._kind = KINDS[max(0, self.kinds.currentRow())]
            self._of_kind()
            self._to(At.FIELDS)
            self.fields.begin()
        elif self.at is At.FIELDS:
            self._to(At.METERS)
        else:
            self._make()

    def _of_kind(self) -> None:
        """A single rail has no minus, and where nothing was typed yet any other unit has one."""
        rail = self.fields.cells[Field.RAIL]
        if isinstance(rail, RailField) and (self._kind.single or not rail.line.text()):
            rail.put(f"{ONE_RAIL if self._kind.single else TWO_RAILS}{rail.line.text()}")

    def _go_back(self) -> None:
        if self.at is At.METERS:
            self._to(At.FIELDS)
            self.fields.end()
        elif self.at is At.FIELDS:
            self._to(At.KIND)
        else:
            self.left.emit()

    def _toggle(self, at: int) -> None:
        """Leave a meter out or take it back; of the supplies one feeds the board."""
        if 0 <= at < len(self._meters):
            self._used ^= {self._meters[at].job}
            self._look()
        elif 0 <= at - len(self._meters) < len(self._asked):
            self._supply = self._asked[at - len(self._meters)]
            self._look()

    def _may_go_on(self, field: Field) -> bool:
        """Whether a field may be left by Enter: nothing is wrong with it, or it is said below it."""
        fault = self._faults().get(field, "")
        self.fields.cells[field].tell(fault)
        return not fault

    def _faults(self) -> dict[Field, str]:
        """What is wrong, by field."""
        try:
            read_six(self._kind, self.fields.texts, self._in_use())
        except BadInput as error:
            named = [fault for fault in error.faults if fault.place in tuple(Field)]
            return {Field(fault.place): _sentence(f"{fault.problem}: {fault.fix}") for fault in named}
        return {}

    # --- making ------------------------------------------------------------------------------------

    def _make(self) -> None:
        if self._making:
            return
        if faults := self._faults():
            self._to(At.FIELDS)
            self.fields.tell(faults)
            return
        try:
            made = self._made()
        except BadInput as error:
            self._tell(_sentence(f"{error.place}: {error.problem}; {error.fix}"))
            return
        self._making = True
        shelf = self._work.shelf
        unit, title = (shelf.unit.id, shelf.unit.name) if shelf.unit is not None else ("", "")
        used = [meter.job for meter in self._in_use()] + [self._supply] * bool(self._asked)
        numbers = typed(unit, number_of(self._kind), self.fields.texts, used)
        shelf.edit(
            lambda library: keep(library.folder, title, made, numbers),
            self._kept,
            self._refused,
            owner=self,
            says="Keeping the plan",
        )

    def _kept(self, file: PlanFile) -> None:
        self._making = False
        self.made.emit(file)

    def _refused(self, error: BenchlogError) -> None:
        self._making = False
        self._tell(str(error))


_HOW = {
    At.KIND: "What is it for? Press its number.",
    At.FIELDS: "Enter goes from field to field. The figures stand on the service sheet, or on the cans.",
    At.METERS: "A meter's number leaves it out, or takes it back; 0 does so with the marked one.",
}
_ENTER = {At.KIND: "go on", At.FIELDS: "next", At.METERS: "make it and check it"}


def _numbered(at: int) -> str:
    """The digit that a row is taken by, where it has one."""
    return f"{at}   " if at < 10 else ""


def in_words(kind: Kind, texts: Mapping[Field, str]) -> str:
    """The numbers in a line."""
    said = {
        Field.MAINS: "{} V mains",
        Field.RAIL: "{} V",
        Field.CHANNELS: "channels: {}",
        Field.IDLE: "{} mV idle",
        Field.ACROSS: "across {} ohm",
        Field.LAMP: "{} W lamp",
    }
    return ", ".join(said[field].format(texts[field]) for field in kind.fields)


def _lacking(error: BadInput) -> str:
    """What a plan waits for, in a line; faults are told under their own fields."""
    missing = [
        _SHOWN.get(fault.place, fault.place) for fault in error.faults if fault.problem == "is missing"
    ]
    if missing:
        return f"Still to come: {', '.join(missing)}."
    first = error.faults[0]
    return _sentence(f"{_SHOWN.get(first.place, first.place)} {first.problem}")


_SHOWN = {
    Field.LAMP.value: "lamp",
    Field.ACROSS.value: "what idle is read across",
    "supply": "a supply that feeds the board",
}


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."
