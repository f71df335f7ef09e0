"""Choosing which runs lie beside the open one: a list to tick, by key or by mouse."""

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from benchlog.store.run_beside import Candidate, candidates
from benchlog.window import words
from benchlog.window.graph_guests import MOST
from benchlog.window.keys import PAST, Action
from benchlog.window.page import label
from benchlog.window.parts_current import small_button
from benchlog.window.past_row import local
from benchlog.window.work import Work

ROWS = 6
"""So many runs are in view; the rest by scrolling."""
ALL_UNITS, NO_UNITS = "other units of this model", "without other units"
ACROSS = "left against right"
_OF = Qt.ItemDataRole.UserRole


class BesideList(QWidget):
    """The runs that may lie beside the open one; `chosen` with those that shall, and whether the sides are swapped."""

    chosen = Signal(object, bool)

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self._file: Path | None = None
        self.says = label(rank="soft", wrap=True)
        self.list = QListWidget()
        self.list.setAccessibleName("runs to lay beside this one")
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.itemChanged.connect(self._ticked)
        self.list.itemActivated.connect(self._flip)
        self.units = small_button(ALL_UNITS)
        self.units.clicked.connect(self._tick_units)
        self.across = small_button(ACROSS)
        self.across.setCheckable(True)
        self.across.clicked.connect(self._tell)
        self.done = small_button("done")
        self.done.clicked.connect(self.hide)
        row = QHBoxLayout()
        row.setSpacing(5)
        for button in (self.units, self.across, self.done):
            row.addWidget(button)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.says)
        column.addWidget(self.list)
        column.addLayout(row)
        self.hide()

    def show_for(self, file: Path | None) -> None:
        """Another run is open, or none: nothing lies beside it yet."""
        if file != self._file:
            self._file = file
            self.list.clear()
            self.across.setChecked(False)
            self.hide()

    def begin(self) -> None:
        """Show the list, read it where it is not there yet; or put it away, what is ticked stays."""
        if self.isVisible():
            self.hide()
            return
        self.show()
        self.list.setFocus()
        file = self._file
        if file is None or self.list.count():
            return
        self._say("Reading the list of runs.")
        self._work.shelf.read(
            lambda library: candidates(library, file),
            lambda found: self._fill(file, found),
            self._work.say_error,
            owner=self,
            key="beside",
            says="Reading the list of runs",
        )

    def flip(self) -> None:
        """Tick the run the list stands on, or no more."""
        item = self.list.currentItem()
        if item is not None:
            self._flip(item)

    @property
    def ticked(self) -> tuple[Candidate, ...]:
        """Those that shall lie beside it, in the order of the list."""
        return tuple(item.data(_OF) for item in self._items if item.checkState() is Qt.CheckState.Checked)

    @property
    def _items(self) -> list[QListWidgetItem]:
        return [self.list.item(i) for i in range(self.list.count())]

    def _fill(self, file: Path, found: Sequence[Candidate]) -> None:
        if file != self._file:
            return
        self.list.blockSignals(True)
        self.list.clear()
        for one in found:
            item = QListWidgetItem(named(one))
            item.setData(_OF, one)
            item.setFlags(
                Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsUserCheckable
            )
            item.setCheckState(Qt.CheckState.Unchecked)
            self.list.addItem(item)
        self.list.blockSignals(False)
        self.list.setCurrentRow(0)
        units = any(one.other_unit for one in found)
        self.units.setVisible(units)
        self.units.setText(ALL_UNITS)
        rows = max(1, min(ROWS, len(found)))
        self.list.setVisible(bool(found))
        self.list.setFixedHeight(rows * (self.list.sizeHintForRow(0) if found else 20) + 6)
        enter, away = (self._work.keys.name(action, PAST) for action in (Action.GO, Action.BESIDE))
        self._say(
            f"Tick what shall lie beside this run ({enter}); {away} puts the list away."
            if found
            else "There is no other run of this unit, nor one of its model."
        )

    def _say(self, text: str) -> None:
        self.says.setText(text)

    def _flip(self, item: QListWidgetItem) -> None:
        on = item.checkState() is Qt.CheckState.Checked
        item.setCheckState(Qt.CheckState.Unchecked if on else Qt.CheckState.Checked)

    def _ticked(self, item: QListWidgetItem) -> None:
        if len(self.ticked) > MOST:
            self._say(f"No more than {MOST} can be told apart.")
            item.setCheckState(Qt.CheckState.Unchecked)
            return
        self._tell()

    def _tick_units(self) -> None:
        """All other units, or none of them."""
        on = self.units.text() == ALL_UNITS
        self.list.blockSignals(True)
        for item in self._items:
            if item.data(_OF).other_unit and (not on or len(self.ticked) < MOST):
                item.setCheckState(Qt.CheckState.Checked if on else Qt.CheckState.Unchecked)
        self.list.blockSignals(False)
        self.units.setText(NO_UNITS if on else ALL_UNITS)
        self._tell()

    def _tell(self) -> None:
        self.chosen.emit(self.ticked, self.across.isChecked())


def named(one: Candidate) -> str:
    """A run as the list names it, and the line above the graph."""
    parts = [one.unit] if one.other_unit else []
    parts += [local(one.line.started), *([one.stands] if one.stands else [])]
    if one.visit:
        parts.append(f"visit {one.visit:04}")
    parts += [
        one.line.plan_name or one.line.title or "free run",
        words.ENDING.get(one.line.outcome, "still open"),
    ]
    return ", ".join(parts)


def short(one: Candidate) -> str:
    """The same where there is little room."""
    return one.unit if one.other_unit and one.unit else local(one.line.started).rpartition(",")[0]
