"""Choosing the plan of a power-up, by its number, the arrow keys or a click; all faults of one at once."""

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.errors import BenchlogError
from benchlog.window.choose_file import ChooseFile
from benchlog.window.fault_list import FaultList
from benchlog.window.forms import press, row, scrolled
from benchlog.window.keys import POWER_UP, Action
from benchlog.window.page import label
from benchlog.window.plan_files import PLANS, PlanFile, find_plans, read_plan
from benchlog.window.plan_new import PlanNew
from benchlog.window.rows import Row, Rows
from benchlog.window.shapes import Shape
from benchlog.window.work import Work


class PlanChoice(QWidget):
    """The plans at hand; `chosen` carries the one that was taken, `back` that no field wants the keys any more.

    `turned` when a form came in the place of the list, or the list again.
    """

    chosen = Signal(object)
    back = Signal()
    turned = Signal()

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self._plans: tuple[PlanFile, ...] = ()
        self.rows = Rows(work.look, "plans", most=12)
        self.rows.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.rows.itemClicked.connect(lambda _: self.take())
        self.faults = FaultList(work.look)
        self.files = ChooseFile(work.look, work.shelf, "A plan from a file", start=work.shelf.folder)
        self.files.hide()
        self.files.chosen.connect(self._from_file)
        self.files.left.connect(self._back)
        self.new = PlanNew(work)
        self.new.hide()
        self.new.made.connect(self._made)
        self.new.left.connect(self._leave_new)
        self.new.rest.connect(self.back)
        self.fresh = press("+   New plan from six numbers", self._open_new)
        self.other = press("0   From a file", self._open_files)
        for button in (self.fresh, self.other):
            button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(10)
        self.head = label("Choose the plan of this power-up.", "title", wrap=True)
        self.how = label("", "soft", wrap=True)
        for widget in (self.head, self.how, self.faults, self.rows, self.files, self.new):
            column.addWidget(widget)
        column.addLayout(row(self.fresh, self.other))
        column.addStretch(1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scrolled(inside), 1)
        outer.addWidget(self.new.foot)
        self.new.foot.hide()

    @property
    def fills_in(self) -> bool:
        """Whether a form stands in the place of the list, with keys of its own."""
        return not (self.new.isHidden() and self.files.isHidden())

    def refresh(self) -> None:
        """Look again at what there is."""
        offer, folder = self._work.offer, self._work.shelf.folder
        self._work.shelf.off_thread(
            lambda: find_plans(folder, offer),
            self._take_plans,
            owner=self,
            key="plans",
            says="Reading the plans",
        )

    def tell(self, error: BenchlogError) -> None:
        """Say what is wrong with the plan that was taken, all of it."""
        self.faults.tell(error, "This plan cannot be used yet:")

    def typed(self, event: QKeyEvent) -> bool:
        """A digit takes a plan by its number, `+` makes a new one; the arrows go from one to the next."""
        if self.new.isVisible():
            return self.new.typed(event)
        if self.files.isVisible():
            return False
        step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()))
        if step is not None:
            at = self.rows.currentRow() + step
            self.rows.setCurrentRow(max(0, min(len(self._plans) - 1, at)))
            return True
        digit = event.text()
        if digit in ("0", "+"):
            self._open_files() if digit == "0" else self._open_new()
            return True
        if digit in tuple("123456789") and int(digit) <= len(self._plans):
            self.rows.setCurrentRow(int(digit) - 1)
            self.take()
            return True
        return False

    def take(self) -> None:
        """Take the plan that is marked, or go on with the one that is being made."""
        if self.new.isVisible():
            self.new.enter()
            return
        at = self.rows.currentRow()
        if not 0 <= at < len(self._plans):
            return
        self._take(self._plans[at])

    def _take(self, one: PlanFile) -> None:
        self.faults.clear()
        if one.error is not None:
            self.tell(one.error)
            return
        self.chosen.emit(one)

    def _take_plans(self, plans: tuple[PlanFile, ...]) -> None:
        self._plans = plans
        shown = [
            Row(
                str(at),
                f"{at}   {one.title}" if at < 10 else one.title,
                one.about,
                shape=Shape.DOUBT if one.error is not None else None,
            )
            for at, one in enumerate(plans, start=1)
        ]
        self.rows.put(shown)
        if plans and self.rows.currentRow() < 0:
            self.rows.setCurrentRow(0)
        folder = self._work.shelf.folder / PLANS
        enter = self._work.keys.name(Action.GO, POWER_UP)
        self.how.setText(
            f"Press its number, or the arrow keys and {enter}; + makes a new one. Your own plans lie in {folder}."
        )

    # --- a new one -------------------------------------------------------------------------------

    def _open_new(self) -> None:
        self._only(self.new)
        self.new.begin()

    def _leave_new(self) -> None:
        self._only(None)
        self.back.emit()

    def _made(self, one: PlanFile) -> None:
        self._leave_new()
        self.refresh()
        self._take(one)

    def _only(self, view: QWidget | None) -> None:
        """Show a form in the place of the list, or the list again."""
        self.faults.clear()
        for widget in (self.head, self.how, self.rows, self.fresh, self.other):
            widget.setVisible(view is None)
        for form in (self.files, self.new):
            form.setVisible(form is view)
        self.new.foot.setVisible(view is self.new)
        self.turned.emit()

    # --- from a file -----------------------------------------------------------------------------

    def _open_files(self) -> None:
        self._only(self.files)
        self.files.begin()

    def _back(self) -> None:
        self._only(None)
        self.back.emit()

    def _from_file(self, path: Path) -> None:
        def read() -> PlanFile:
            return read_plan(path)

        def done(one: PlanFile) -> None:
            self._back()
            self._take(one)

        self._work.shelf.off_thread(read, done, owner=self)
