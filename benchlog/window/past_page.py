"""Past runs: the list of them, and the one that is open, while another may be live."""

from pathlib import Path

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QKeyEvent, QKeySequence, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QWidget

from benchlog.domain.trace import SECOND
from benchlog.errors import BenchlogError
from benchlog.store import edit
from benchlog.store.records import SessionLine, State
from benchlog.window import past_row, past_run, words
from benchlog.window.keys import PAST, Action
from benchlog.window.page import Page, line
from benchlog.window.past_detail import PastDetail
from benchlog.window.past_levels import LevelsKeeper
from benchlog.window.past_list import RunList
from benchlog.window.past_row import Listed, PastRow
from benchlog.window.past_run import PastRun
from benchlog.window.work import Work

BOTH = 1120
"""Pixels of width from which list and run stand beside each other."""
LIST = 290
EVERY = 3_000
"""Milliseconds between two looks at a run that is live."""

_OF_GRAPH = (
    Qt.Key.Key_Plus,
    Qt.Key.Key_Equal,
    Qt.Key.Key_Minus,
    Qt.Key.Key_Left,
    Qt.Key.Key_Right,
    Qt.Key.Key_Home,
    Qt.Key.Key_End,
    Qt.Key.Key_1,
    Qt.Key.Key_2,
    Qt.Key.Key_3,
    Qt.Key.Key_K,
    Qt.Key.Key_S,
    Qt.Key.Key_H,
)


class PastPage(Page):
    """The list at the left, the open run at the right; where there is no room, one after the other."""

    title = words.PAST_RUNS
    place = PAST

    def __init__(self, work: Work) -> None:
        super().__init__(work)
        self._here = False
        self._open: Path | None = None
        self._to_newest = True
        """Whether the newest run is to be opened as soon as the list is read."""
        self._loading = False
        self.list = RunList(work)
        self.detail = PastDetail(work, lambda: self.list.model.rows)
        self._levels = LevelsKeeper(work)
        self._line = line(upright=True)
        row = QHBoxLayout(self)
        row.setContentsMargins(18, 14, 14, 10)
        row.setSpacing(16)
        row.addWidget(self.list)
        row.addWidget(self._line)
        row.addWidget(self.detail, 1)
        self._in_detail = False
        self._timer = QTimer(self)
        self._timer.setInterval(EVERY)
        self._timer.timeout.connect(self.look_again)
        self.list.moved.connect(self._moved)
        self.list.chosen.connect(self._chosen)
        self.detail.back.connect(self._back)
        self.detail.acts.gone.connect(self._gone)
        work.find_runs.connect(self.find_runs)
        self.detail.noted.connect(self._note)
        work.shelf.opened.connect(self.refresh)
        work.shelf.edited.connect(self._edited)
        work.runner.closed.connect(self._closed)
        work.runner.phase_changed.connect(self._edited)
        self._arrange()

    # --- coming and going ----------------------------------------------------------------------------

    def came(self) -> None:
        """Read the list anew; it begins on the newest run, which is what one comes for."""
        self._here = True
        self._to_newest = True
        self._timer.start()
        self._put_right()
        self.refresh()
        self.list.view.setFocus()

    def left(self) -> None:
        """Nobody looks: nothing is read."""
        self._here = False
        self._timer.stop()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """One after the other where there is no room for both."""
        super().resizeEvent(event)
        self._arrange()

    @property
    def beside(self) -> bool:
        """Whether list and run stand beside each other."""
        return self.width() >= BOTH

    def _arrange(self) -> None:
        beside = self.beside
        self.list.setVisible(beside or not self._in_detail)
        self.list.setFixedWidth(LIST) if beside else _let_go(self.list)
        self._line.setVisible(beside)
        self.detail.setVisible(beside or self._in_detail)
        self.detail.stand_alone(not beside)

    # --- the list ------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Read the list of runs."""
        self.work.shelf.read(
            past_row.read_rows,
            self._listed,
            self._not_listed,
            owner=self,
            key="past runs",
            says="Reading the list of runs",
        )

    def _listed(self, listed: Listed) -> None:
        self.list.show_rows(listed, self._open)
        self.detail.say_row(next((row for row in listed.rows if row.file == self._open), None))
        shown = self.list.model.rows
        if shown and self._to_newest and self._here:
            self._to_newest = False
            self.list.stand_on(shown[0].file)
            if self.beside:
                self._show(shown[0])
        elif not listed.rows:
            self.detail.show_nothing("")

    def _not_listed(self, error: BenchlogError) -> None:
        # Before the library is made there is none; that it cannot be opened is said where it is opened.
        del error

    def _put_right(self) -> None:
        """Close runs in the list whose recorder has died; one that lives is left alone."""
        for row in self.list.model.rows:
            if row.live:
                self._put_one_right(row.file)

    def _put_one_right(self, file: Path) -> None:
        def put(now: SessionLine) -> None:
            if now.state is not State.LIVE:
                self._closed()

        self.work.shelf.edit(
            lambda library: edit.put_session_in_index(library, file),
            put,
            # Without the library's lock it is for who has it to put right.
            lambda _: None,
            owner=self,
        )

    def _edited(self, _phase: object = None) -> None:
        """A run began, ended or was taken into the list while it is looked at."""
        if self._here:
            self.refresh()

    def _closed(self, _message: object = None) -> None:
        self.refresh()
        if self.detail.run is not None and self.detail.run.live and not self._loading:
            self._grow(self.detail.run)

    # --- the open run --------------------------------------------------------------------------------

    def show_run(self, path: Path, around: float | None = None) -> None:
        """Open a run, at the seconds around a moment of it if one is given."""
        self._to_newest = False
        self.list.stand_on(path)
        self._load(path, around)
        self._in_detail = True
        self._arrange()

    def find_runs(self, sought: str) -> None:
        """Show the runs that these words find; other pages ask for it."""
        self.work.go_to.emit(self.title)
        self._in_detail = False
        self._arrange()
        self.list.field.setText(sought)

    def _gone(self, file: Path) -> None:
        """A run was deleted: if it is the open one, on to the newest that is left."""
        if self._open != file:
            return
        self._open = None
        self._to_newest = True
        self._in_detail = False
        self.detail.show_nothing("")
        self._arrange()
        self.list.view.setFocus()

    def _moved(self, row: PastRow) -> None:
        if self.beside:
            self._show(row)

    def _chosen(self, row: PastRow) -> None:
        self._show(row)
        self._in_detail = True
        self._arrange()
        if not self.beside:
            self.detail.graph.setFocus()

    def _show(self, row: PastRow) -> None:
        same = self._open is not None and self._open.name == row.file.name
        if row.readable:
            if not same or self.detail.run is None:
                self._load(row.file, None)
        else:
            self._open = row.file
            self.detail.show_problem(row)

    def _load(self, file: Path, around: float | None) -> None:
        self._open = file
        self._loading = True

        def work(library: Path) -> tuple[PastRun, PastRow]:
            run = past_run.read_run(file)
            return run, past_row.row_of(library, run)

        def loaded(found: tuple[PastRun, PastRow]) -> None:
            self._loading = False
            # Meanwhile the person may stand on a file that cannot be read.
            if self._open == file:
                self.detail.show_run(*found, around)
            self._levels.see(found[0])

        self.work.shelf.read(
            work,
            loaded,
            lambda error: self._failed(file, error),
            owner=self,
            key="past run",
            says="Reading the run",
        )

    def _failed(self, file: Path, error: BenchlogError) -> None:
        self._loading = False
        if self._open == file:
            self.detail.show_nothing(str(error))

    def look_again(self) -> None:
        """Read on in the open run while it is live."""
        run = self.detail.run
        if self._here and run is not None and run.live and not self._loading:
            self._grow(run)

    def _grow(self, run: PastRun) -> None:
        self._loading = True

        def work(library: Path) -> tuple[PastRun, PastRow]:
            now = past_run.read_on(run)
            return now, past_row.row_of(library, now)

        def grown(found: tuple[PastRun, PastRow]) -> None:
            self._loading = False
            if self.detail.run is not run:
                return
            now, row = found
            self.detail.grow(now, row)
            before = {trace.row: trace.count for trace in run.traces}
            if now.live and all(before.get(trace.row) == trace.count for trace in now.traces):
                # Its recorder may have died; one that lives is left alone.
                self._put_one_right(run.file)

        self.work.shelf.read(
            work,
            grown,
            lambda error: self._failed(run.file, error),
            owner=self,
            key="past run",
            says="Reading the run",
        )

    # --- keys ----------------------------------------------------------------------------------------

    def act(self, action: Action) -> bool:
        """Do what a key asks for."""
        if action in (Action.UP, Action.DOWN):
            if self.detail.reads_told or self.detail.reads_beside or not self.list.isVisible():
                return False
            self.list.step(-1 if action is Action.UP else 1)
            return True
        if action is Action.GO:
            return self._enter()
        if action is Action.BACK:
            return self._back()
        if action is Action.LAST_SECONDS:
            self.detail.last_seconds()
            return True
        if action is Action.NOTE:
            self.detail.begin_note()
            return True
        if action is Action.FIND:
            self._back()
            self.list.field.setFocus()
            self.list.field.selectAll()
            return True
        row = self.detail.row
        if action is not Action.UNDO and row is not None and row.file != self._open:
            return True  # the one that the list stands on is still being read: nothing is done with the one before
        return self.detail.acts.act(action)

    def typed(self, event: QKeyEvent) -> bool:
        """The graph's keys, and the table's, do in the whole page, but where lines of text are walked through."""
        if event.matches(QKeySequence.StandardKey.Copy) and self.detail.stages.isVisible():
            self.detail.stages.copy()
            return True
        if event.key() not in _OF_GRAPH or self.detail.reads_told or not self.detail.graph.isVisible():
            return False
        self.detail.graph_key(event)
        return True

    def _enter(self) -> bool:
        if self.detail.reads_told:
            self.detail.told.enter()
            return True
        if self.detail.reads_beside:
            self.detail.beside.flip()
            return True
        row = self.list.current
        if row is None or not self.list.isVisible():
            return False
        self._chosen(row)
        self.detail.graph.setFocus()
        return True

    def _back(self) -> bool:
        if self.beside or not self._in_detail:
            return False
        self._in_detail = False
        self._arrange()
        self.list.view.setFocus()
        return True

    # --- notes ---------------------------------------------------------------------------------------

    def _note(self, text: str, t: float) -> None:
        run = self.detail.run
        if run is None:
            return
        runner = self.work.runner
        if run.live and runner.view.is_open and Path(runner.view.session).name == run.file.name:
            runner.remark(text)
            return
        self.work.shelf.edit(
            lambda library: edit.remark_late(library, run.file, text, round(t * SECOND)),
            lambda _: self._noted(run.file),
            self.work.say_error,
            owner=self,
        )

    def _noted(self, file: Path) -> None:
        run = self.detail.run
        # Where another one is being read by now, reading on in this one would take its turn.
        if run is not None and run.file == file == self._open:
            self._grow(run)


def _let_go(widget: QWidget) -> None:
    """Let a widget be as wide as it likes again."""
    widget.setMinimumWidth(0)
    widget.setMaximumWidth(16_777_215)
