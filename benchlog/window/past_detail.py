"""One past run: how it ended, its graph, its numbers, what happened, and the notes."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QModelIndex, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QButtonGroup,
    QHBoxLayout,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from benchlog.domain.stage_numbers import StageRow
from benchlog.store import run_stages
from benchlog.store.run_beside import Candidate
from benchlog.window.elided import Elided
from benchlog.window.graph import RunGraph
from benchlog.window.keycap import KeyCap
from benchlog.window.keys import PAST, Action
from benchlog.window.note_field import NoteField
from benchlog.window.one_page_view import OnePageView
from benchlog.window.page import label
from benchlog.window.past_acts import PastActs
from benchlog.window.past_beside import BesideList
from benchlog.window.past_feed import PastFeed
from benchlog.window.past_forecasts import PastForecasts
from benchlog.window.past_numbers import Numbers
from benchlog.window.past_row import PastRow, about, clock, unproven
from benchlog.window.past_run import PastRun
from benchlog.window.past_stages import StageTable
from benchlog.window.past_told import ToldList
from benchlog.window.shapes import Mark, Shape
from benchlog.window.work import Work

BESIDE = 860
"""Pixels of width from which graph, numbers and events stand beside each other; below, one at a time."""
BEFORE, AFTER = 10.0, 2.0
"""Seconds shown before and after the moment a run was switched off."""
AROUND = 10.0
"""Seconds shown to either side of a line of what happened."""
GRAPH, NUMBERS, TOLD = "graph", "numbers", "what happened"
REFERENCE = "reference \N{MIDDLE DOT} "
"""Before the ending of a run that a person made the reference of its unit."""
WIDEST = 16_777_215
_CAPS = {
    Action.BACK: "the list",
    Action.LAST_SECONDS: "ten seconds before off",
    Action.BESIDE: "runs beside it",
    Action.NOTE: "a note",
}


class PastDetail(QWidget):
    """The open run; `back` to the list, `noted` with a note's text and the plan time it is about."""

    back = Signal()
    noted = Signal(str, float)

    def __init__(self, work: Work, found: Callable[[], Sequence[PastRow]]) -> None:
        super().__init__()
        self._work = work
        self.run: PastRun | None = None
        self.row: PastRow | None = None
        self._tab = GRAPH
        self._beside = True
        self._alone = False
        self.mark = Mark(work.look, Shape.TO_DO, 22)
        self.name = Elided(work.look, 21, bold=True)
        self.ending = label(wrap=True)
        self.about = label(rank="soft", wrap=True)
        self.unproven = label(rank="danger", wrap=True)
        self.says = label(wrap=True)
        self.graph = RunGraph(work.look)
        self.feed = PastFeed(work, self.graph)
        self.numbers = Numbers(work.look)
        self.stages = StageTable(work.look)
        self._forecasts = PastForecasts(work, self.stages)
        self.acts = PastActs(work, found, lambda: self._other)
        self.acts.asked_stages.connect(self._toggle_stages)
        self.page = OnePageView(work)
        self.acts.asked_page.connect(self._toggle_page)
        self.acts.asked_copy.connect(self.page.copy_all)
        self.beside = BesideList(work)
        self.beside.chosen.connect(self._lay_beside)
        self.acts.asked_beside.connect(self.beside.begin)
        self._by_stage = self._by_page = False
        self.stages_shown: tuple[StageRow, ...] = ()
        self.told = ToldList(work.look)
        self.told.went_to.connect(self._go_to)
        self.notes_only = QPushButton("notes only")
        self.notes_only.setCheckable(True)
        self.notes_only.toggled.connect(self.told.told.only_notes)
        self.field = NoteField()
        self.field.returnPressed.connect(self._note)
        self.field.left.connect(self._end_note)
        self.field.hide()
        self.caps = self._make_caps()
        self._name_keys()
        work.keys_changed.connect(self._name_keys)
        self.tabs = self._make_tabs()
        self._place()
        self.show_nothing("")

    def _make_caps(self) -> Mapping[Action, KeyCap]:
        look = self._work.look
        caps = {action: KeyCap(look, "", does) for action, does in _CAPS.items()}
        caps[Action.BACK].clicked.connect(self.back)
        caps[Action.LAST_SECONDS].clicked.connect(self.last_seconds)
        caps[Action.NOTE].clicked.connect(self.begin_note)
        caps[Action.BESIDE].clicked.connect(self.beside.begin)
        self.home = KeyCap(look, "Home", "whole run")
        self.home.clicked.connect(self.graph.show_all)
        self.cursors = KeyCap(look, "1 2", "cursors")
        self.cursors.clicked.connect(self.graph.next_cursor)
        self.times = KeyCap(look, "K", "clock")
        self.times.clicked.connect(self.graph.next_base)
        self.copy = KeyCap(look, "Ctrl+C", "copy the table")
        self.copy.clicked.connect(self.stages.copy)
        return caps

    def _name_keys(self) -> None:
        for action, does in _CAPS.items():
            self.caps[action].say(does, key=self._work.keys.name(action, PAST))

    def _make_tabs(self) -> QWidget:
        tabs = QWidget()
        row = QHBoxLayout(tabs)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        self._group = QButtonGroup(self)
        for name in (GRAPH, NUMBERS, TOLD):
            button = QPushButton(name)
            button.setCheckable(True)
            button.setChecked(name == GRAPH)
            button.clicked.connect(lambda _=False, name=name: self._turn_to(name))
            self._group.addButton(button)
            row.addWidget(button)
        row.addStretch(1)
        return tabs

    def _place(self) -> None:
        title = QHBoxLayout()
        title.setSpacing(10)
        title.addWidget(self.mark)
        title.addWidget(self.name, 1)
        self._events = QWidget()
        events = QVBoxLayout(self._events)
        events.setContentsMargins(0, 0, 0, 0)
        events.setSpacing(4)
        head = QHBoxLayout()
        head.addWidget(label(TOLD, "head"))
        head.addStretch(1)
        head.addWidget(self.notes_only)
        events.addLayout(head)
        events.addWidget(self.told, 1)
        events.addWidget(self.field)
        self._events.setMinimumHeight(120)
        self._side = QWidget()
        side = QVBoxLayout(self._side)
        side.setContentsMargins(0, 0, 0, 0)
        side.setSpacing(10)
        side.addWidget(self.numbers, 3)
        side.addWidget(self._events, 4)
        side.addStretch(0)
        self._body = QWidget()
        self._panes = QBoxLayout(QBoxLayout.Direction.LeftToRight, self._body)
        self._panes.setContentsMargins(0, 0, 0, 0)
        self._panes.setSpacing(18)
        self._panes.addWidget(self.graph, 1)
        self._panes.addWidget(self.stages, 1)
        self._panes.addWidget(self.page, 1)
        self._panes.addWidget(self._side)
        keys = QHBoxLayout()
        keys.setSpacing(8)
        for cap in (
            self.caps[Action.BACK],
            self.caps[Action.LAST_SECONDS],
            self.home,
            self.cursors,
            self.times,
            self.copy,
            self.caps[Action.BESIDE],
            self.caps[Action.NOTE],
        ):
            keys.addWidget(cap)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addLayout(title)
        column.addWidget(self.ending)
        column.addWidget(self.about)
        column.addWidget(self.unproven)
        column.addWidget(self.says)
        column.addWidget(self.beside)
        column.addWidget(self.tabs)
        column.addWidget(self._body, 1)
        column.addStretch(0)
        column.addWidget(self.acts)
        column.addLayout(keys)
        self._column = column

    # --- what it shows -------------------------------------------------------------------------------

    def show_nothing(self, text: str) -> None:
        """Show a sentence in the place of a run."""
        self.run = self.row = None
        for widget in (self.mark, self.name, self.ending, self.about, self.unproven):
            widget.hide()
        self.says.setText(text)
        self.acts.show_run(None, None)
        self.beside.show_for(None)
        self._arrange()

    def show_problem(self, row: PastRow) -> None:
        """Show why a file cannot be opened."""
        self.show_nothing("")
        self.row = row
        self.acts.show_run(None, row)
        self._show_head(row, "", "")
        self.says.setText(f"The file {row.line.problem}.")
        self._arrange()

    def show_run(self, run: PastRun, row: PastRow, around: float | None = None) -> None:
        """Open a run: all of it, or the seconds around a moment."""
        self.run, self.row = run, row
        self._by_stage = self._by_page = False
        self._end_note()
        self.notes_only.setChecked(False)
        self.told.setCurrentIndex(QModelIndex())
        self.beside.show_for(run.file)
        self.feed.show(run)
        self._show_rest(run, row)
        self.told.scrollToTop()
        if around is None:
            self.graph.show_all()
        else:
            self._show_before(around)

    def say_row(self, row: PastRow | None) -> None:
        """The list has been read anew: the open run may be a reference now, or none any more."""
        if (
            row is not None
            and self.run is not None
            and self.row is not None
            and row.chosen != self.row.chosen
        ):
            self.row = replace(self.row, chosen=row.chosen)
            self._show_rest(self.run, self.row)

    def grow(self, run: PastRun, row: PastRow) -> None:
        """The same run a little later: add what has come since."""
        self.run, self.row = run, row
        self.feed.grow(run)
        self._show_rest(run, row)

    def _show_rest(self, run: PastRun, row: PastRow) -> None:
        self._show_head(row, about(run, row), unproven(run))
        empty = not any(trace.count for trace in run.traces)
        nothing = "Nothing was read in this run." if empty and not run.live else ""
        self.says.setText(" ".join(filter(None, (run.plan_problem, nothing))))
        self.acts.show_run(run, row)
        self.numbers.show_run(run)
        self.told.show_lines(run.told)
        notes = sum(line.note for line in run.told)
        self.notes_only.setText(f"notes only ({notes})")
        self.notes_only.setEnabled(notes > 0)
        self.caps[Action.LAST_SECONDS].setEnabled(run.off_at is not None)
        self._arrange()

    def _show_head(self, row: PastRow, about: str, unproven: str) -> None:
        self.mark.show_shape(row.shape)
        self.name.say(row.plan if row.readable else row.file.name)
        reason = f": {row.reason}" if row.readable and row.reason else ""
        self.ending.setText(f"{REFERENCE if row.chosen else ''}{row.ending}{reason}")
        self.ending.setFont(self._work.look.font(16, bold=True))
        self.about.setText(about)
        for widget in (self.mark, self.name, self.ending):
            widget.show()
        self.about.setVisible(bool(about))
        self.unproven.setText(unproven)
        self.unproven.setVisible(bool(unproven))

    # --- where things stand --------------------------------------------------------------------------

    def stand_alone(self, alone: bool) -> None:
        """Whether the list is out of sight, so that there is a way back to it."""
        self._alone = alone
        self._arrange()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Beside each other where there is room."""
        super().resizeEvent(event)
        if self._beside != (self.width() >= BESIDE):
            self._beside = not self._beside
            self._arrange()

    def _turn_to(self, name: str) -> None:
        self._tab = name
        for button in self._group.buttons():
            button.setChecked(button.text() == name)
        self._arrange()

    def _arrange(self) -> None:
        there, beside = self.run is not None, self._beside
        self.says.setVisible(bool(self.says.text()))
        self.tabs.setVisible(there and not beside)
        self._body.setVisible(there)
        first = beside or self._tab == GRAPH
        self.graph.setVisible(first and not (self._by_stage or self._by_page))
        self.page.setVisible(first and self._by_page)
        self.stages.setVisible(first and self._by_stage)
        # The table has every number that stands at its side, and needs the room.
        self._side.setVisible(not (self._by_stage or self._by_page) if beside else self._tab != GRAPH)
        self.numbers.setVisible(beside or self._tab == NUMBERS)
        self._events.setVisible(beside or self._tab == TOLD)
        self._side.setMaximumWidth(max(340, self.numbers.minimumWidth()) if beside else WIDEST)
        for cap in (*self.caps.values(), self.home):
            cap.setVisible(there)
        for cap in (self.cursors, self.times):
            cap.setVisible(there and beside and not self._by_stage)
        self.copy.setVisible(there and self._by_stage)
        self.caps[Action.BACK].setVisible(self._alone)
        # Without a run what is said stands at the top, not spread over the page.
        self._column.setStretch(self._column.indexOf(self._body) + 1, 0 if there else 1)

    # --- what a person does --------------------------------------------------------------------------

    def _toggle_stages(self) -> None:
        """The table in the graph's place, read when it is asked for; and back."""
        run = self.run
        if run is None:
            return
        self._by_stage, self._by_page = not self._by_stage, False
        self._turn_to(GRAPH)
        if self._by_stage:
            self._read_stages(run)

    def _toggle_page(self) -> None:
        """The run on one page in the graph's place, and back."""
        if self.run is None:
            return
        self._by_page, self._by_stage = not self._by_page, False
        self._turn_to(GRAPH)
        if self._by_page:
            self.page.show_file(self.run.file)

    def _lay_beside(self, chosen: Sequence[Candidate], sides_swapped: bool) -> None:
        self.feed.lay_beside(chosen, sides_swapped=sides_swapped)
        if self.run is not None and self._by_stage:
            self._read_stages(self.run)

    def _read_stages(self, run: PastRun) -> None:
        """The run stage by stage, with the first of those that lie beside it where there are any."""
        self._show_stages(run.file, (), None)
        other = self._other
        self._work.shelf.read(
            lambda _: (run_stages.stages(run.file), None if other is None else run_stages.stages(other)),
            lambda found: self._show_stages(run.file, *found),
            self._work.say_error,
            owner=self,
            key="stages",
            says="Reading the run stage by stage",
        )

    @property
    def _other(self) -> Path | None:
        """The run that the stages of this one are held against."""
        return next((one.line.file for one in self.beside.ticked), None)

    def _show_stages(self, file: Path, rows: Sequence[StageRow], other: Sequence[StageRow] | None) -> None:
        if self.run is not None and self.run.file == file:
            self.stages_shown = tuple(rows)
            if other is None:
                self.stages.show_run(rows)
            else:
                self.stages.show_two(rows, other)
            self._forecasts.show(file, rows if other is None else ())

    @property
    def reads_told(self) -> bool:
        """Whether the keys go to the list of what happened."""
        return self.told.hasFocus()

    @property
    def reads_beside(self) -> bool:
        """Whether the keys go to the list of runs that may lie beside this one."""
        return self.beside.list.hasFocus()

    def graph_key(self, event: QKeyEvent) -> None:
        """Hand a key to the graph, which has not the focus."""
        self.graph.keyPressEvent(event)

    def last_seconds(self) -> None:
        """Show the ten seconds before the unit was switched off."""
        if self.run is not None and self.run.off_at is not None:
            self._show_before(self.run.off_at)

    def _show_before(self, t: float) -> None:
        self._by_stage = self._by_page = False
        self._turn_to(GRAPH)
        self.graph.show_range(max(0.0, t - BEFORE), t + AFTER)

    def _go_to(self, t: float) -> None:
        self.graph.show_range(max(0.0, t - AROUND), t + AROUND)

    def begin_note(self) -> None:
        """Open the line for a note about the line of what happened that is chosen, else the end of the run."""
        run = self.run
        if run is None:
            return
        self._turn_to(TOLD if not self._beside else self._tab)
        where = "now" if run.live else f"about {clock(self._about_time(run))}"
        self.field.setPlaceholderText(f"a note {where}: Enter keeps it, Esc leaves")
        self.field.setAccessibleName(f"a note {where}")
        self.field.show()
        self.field.setFocus()

    def _about_time(self, run: PastRun) -> float:
        return self.told.moment if self.told.moment is not None else run.length

    def _note(self) -> None:
        text = self.field.text().strip()
        if text and self.run is not None:
            self.noted.emit(text, self._about_time(self.run))
        self._end_note()

    def _end_note(self) -> None:
        had = self.field.hasFocus()
        self.field.clear()
        self.field.hide()
        if had:
            self.told.setFocus()
