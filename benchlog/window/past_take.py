"""Taking a run away: CSV of it, of its stages, or of every run that is found, or its graph as a picture.

What takes long can be stopped.
"""

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QStandardPaths, QTimer
from PySide6.QtWidgets import QLineEdit, QProgressBar, QVBoxLayout, QWidget

from benchlog.errors import BenchlogError
from benchlog.store import run_csv, stage_csv
from benchlog.store.opening import plain_errors
from benchlog.store.run_csv import Progress
from benchlog.window.forms import press, row
from benchlog.window.graph_scene import of_the_past, scene_of
from benchlog.window.page import label
from benchlog.window.past_picture import Picture
from benchlog.window.past_row import PastRow
from benchlog.window.past_run import PastRun
from benchlog.window.work import Work

LOOK_EVERY = 100
"""Milliseconds between two looks at how far it has come."""


class TakeAway(QWidget):
    """A folder and what goes there; `progress` is that of the work under way, None where there is none.

    `found` gives the runs that the list shows, `beside` the run that the open one's stages are held against.
    """

    def __init__(
        self, work: Work, found: Callable[[], Sequence[PastRow]], beside: Callable[[], Path | None]
    ) -> None:
        super().__init__()
        self._work, self._found, self._beside = work, found, beside
        self._run: PastRun | None = None
        self._row: PastRow | None = None
        self.progress: Progress | None = None
        self.folder = QLineEdit()
        self.folder.setAccessibleName("the folder to take it to")
        self.csv = press("CSV, every reading", self._csv)
        self.every = press("CSV of each run found", self._every)
        self.by_stage = press("CSV, by stage", self._by_stage, hint="the table of the run stage by stage")
        self.png = press("picture", lambda: self._picture("png"), hint="PNG, light on white")
        self.svg = press(
            "drawing", lambda: self._picture("svg"), hint="SVG: lines and text that can be scaled"
        )
        self.stop = press("stop", self._stop)
        self.bar = QProgressBar()
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.says = label(wrap=True)
        self._timer = QTimer(self)
        self._timer.setInterval(LOOK_EVERY)
        self._timer.timeout.connect(self._look)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(label("take away to this folder", "soft"))
        column.addWidget(self.folder)
        column.addLayout(row(self.csv, self.by_stage, self.every))
        column.addLayout(row(self.png, self.svg, self.stop))
        column.addWidget(self.bar)
        column.addWidget(self.says)
        self._busy(None)

    def begin(self, run: PastRun, past: PastRow) -> None:
        """Open on a run, or leave where it is open already."""
        if self.isVisible() and self._run is not None and self._run.file == run.file:
            self.hide()
            return
        self._run, self._row = run, past
        self.says.clear()
        count = len(self._found())
        self.every.setText(f"CSV of each of the {count} runs found")
        self.every.setVisible(count > 1)
        if not self.folder.text():
            where = QStandardPaths.StandardLocation.DocumentsLocation
            self.folder.setText(QStandardPaths.writableLocation(where) or str(Path.home()))
        self.show()
        self.csv.setFocus()

    # --- what goes there -----------------------------------------------------------------------------

    def _csv(self) -> None:
        if self._run is not None:
            self._write([self._run.file])

    def _every(self) -> None:
        self._write([past.file for past in self._found() if past.readable])

    def _write(self, files: list[Path]) -> None:
        library, folder, progress = self._work.shelf.folder, self._target(), Progress()

        def work() -> list[Path]:
            return run_csv.write_each(library, files, folder, progress, lambda _: None)

        self._busy(progress)
        self._work.shelf.take_away(work, lambda made: self._end(progress, made), self._failed, owner=self)

    def _by_stage(self) -> None:
        run = self._run
        if run is None:
            return
        other, folder, progress = self._beside(), self._target(), Progress()
        self._busy(progress)
        self._work.shelf.take_away(
            lambda: [stage_csv.write(run.file, other, folder)],
            lambda made: self._end(progress, made),
            self._failed,
            owner=self,
        )

    def _picture(self, kind: str) -> None:
        run, past = self._run, self._row
        if run is None or past is None:
            return
        drawn, folder, progress = picture_of(run, past, kind), self._target(), Progress()

        def work() -> list[Path]:
            with plain_errors(folder):
                folder.mkdir(parents=True, exist_ok=True)
                return _keep(drawn, run_csv.free_name(folder, run.file.stem, f".{kind}"), progress)

        self._busy(progress)
        self._work.shelf.take_away(work, lambda made: self._end(progress, made), self._failed, owner=self)

    def _target(self) -> Path:
        return Path(self.folder.text().strip() or str(Path.home())).expanduser()

    # --- how far it has come -------------------------------------------------------------------------

    def _busy(self, progress: Progress | None) -> None:
        self.progress = progress
        for button in (self.csv, self.by_stage, self.every, self.png, self.svg):
            button.setEnabled(progress is None)
        self.stop.setVisible(progress is not None)
        self.bar.setVisible(progress is not None)
        self._timer.start() if progress is not None else self._timer.stop()
        self._look()

    def _look(self) -> None:
        if self.progress is not None:
            self.bar.setValue(round(1000 * self.progress.done))
            self.says.setText(f"writing, {100 * self.progress.done:.0f} %")

    def _stop(self) -> None:
        if self.progress is not None:
            self.progress.cancelled = True

    def _end(self, progress: Progress, made: Sequence[Path]) -> None:
        self._done(f"{'Stopped. ' if progress.cancelled else ''}{_written(made)}")

    def _done(self, text: str) -> None:
        self._busy(None)
        self.says.setText(text)
        if not self.isVisible():
            self._work.say(text)  # another run was opened meanwhile, or another page

    def _failed(self, error: BenchlogError) -> None:
        self._busy(None)
        self.says.setText(str(error))
        if not self.isVisible():
            self._work.say_error(error)


def _keep(drawn: bytes, target: Path, progress: Progress) -> list[Path]:
    """Write a picture whole or not at all; the file that was made, none where nobody wants it any more."""
    with run_csv.part_of(target) as (part, stream):
        stream.write(drawn)
        stream.close()
        if progress.cancelled:
            return []
        part.replace(target)
    return [target]


def _written(made: Sequence[Path]) -> str:
    if not made:
        return "Nothing is written."
    return f"Written: {made[0]}" if len(made) == 1 else f"Written: {len(made)} files in {made[0].parent}"


def picture_of(run: PastRun, past: PastRow, kind: str) -> bytes:
    """The whole graph of a run as a `png` or an `svg`, with what it is of above it."""
    picture = Picture()
    scene = of_the_past(scene_of(run.plan))
    picture.graph.show_scene(scene)
    picture.graph.set_marks(run.marks)
    picture.graph.set_notes(run.flags)
    names = {line.name for line in picture.graph.scene.lines}
    for trace in run.traces:
        if trace.plan.name in names:
            picture.graph.series(trace.plan.name).add(trace.points)
    late = sum(note.late for note in run.remarks)
    written = f"{late} of the notes written later" if late else ""
    visit = f"visit {past.visit:04}" if past.visit else ""
    about = " · ".join(filter(None, (past.unit, visit, past.when, past.ending, past.reason, written)))
    draw = picture.svg if kind == "svg" else picture.png
    return draw(past.plan, about)
