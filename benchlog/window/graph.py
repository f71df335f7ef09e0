"""The graph of a run: panels over one time base, live or of a past run, with what was read at the pointer."""

import time
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QHideEvent, QKeyEvent, QMouseEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QScrollArea, QVBoxLayout, QWidget

from benchlog.window.graph_frame import Frame
from benchlog.window.graph_layer import GuestLayer
from benchlog.window.graph_measure import Measuring
from benchlog.window.graph_panes import Room, pane_of
from benchlog.window.graph_readout import Readout, told_at
from benchlog.window.graph_scene import Band, Bound, Note, Scene, StageMark
from benchlog.window.graph_time import FINE, TimeScale
from benchlog.window.graph_view import View
from benchlog.window.look import Look
from benchlog.window.plot import Plot
from benchlog.window.points import Points
from benchlog.window.series import MOST, Series

FRAME_MS = 50
"""No more than twenty pictures a second, and none while nothing is new or nobody looks."""

DESCRIBED_EVERY = 1.0
"""How often what cannot be seen is said in words, s."""

ZOOM, PULL = 1.5, 0.2

REACH = 6.0
"""A cursor is taken hold of from no further than so many pixels."""


class RunGraph(QWidget):
    """A graph of one run; two of them share nothing.

    Keys, while it has the focus: + and - zoom, left and right slide, Shift with them moves the crosshair,
    Home shows the whole run, End the newest again. 1 and 2 put a cursor at the crosshair, 3 takes both away; a click
    puts one too, and one that stands can be pulled. K counts the times from something else. S lays
    other runs on this one by stage or by start, H hides them. `wanted`
    (from, to, columns) where the run's file could show more of what is in view than is held here: what it has goes to
    `look_closer`, and until then what is held is shown.
    """

    wanted = Signal(float, float, int)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._scene = Scene()
        self._series: dict[str, Series] = {}
        self._view = View()
        self._cross: float | None = None
        self._scale = TimeScale()
        self.layer = GuestLayer()
        self.layer.changed.connect(self._soon)
        self.measuring = Measuring(look)
        self._now: float | None = None
        self._dirty = True
        self._beside, self._room = False, True
        self._described = -DESCRIBED_EVERY
        self._wanted: tuple[float, float, int] | None = None
        self._readout = Readout(look)
        self._plot = Plot(look)
        self._scroll = QScrollArea()
        self._scroll.setWidget(self._plot)
        self._scroll.setWidgetResizable(True)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        layout = self._layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addWidget(self.layer.named)
        layout.addWidget(self._readout)
        layout.addWidget(self._scroll, 1)
        layout.addWidget(self.measuring.table)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Graph of the run")
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(FRAME_MS)
        self._timer.timeout.connect(self._tick)
        self._plot.resized.connect(self._soon)
        self._scroll.verticalScrollBar().valueChanged.connect(self._plot.viewport().update)
        self._plot.zoomed.connect(self._zoom)
        self._plot.dragged.connect(self._pull)
        self._plot.pointed.connect(self._point)
        self._plot.scrolled.connect(self._scroll_by)
        self._plot.pressed.connect(self._press)
        self._plot.released.connect(self.measuring.let_go)
        self.measuring.changed.connect(self._soon)
        self._plot.clicked.connect(self._click)
        look.changed.connect(self._restyle)

    # --- what it shows ---------------------------------------------------------------------------

    @property
    def scene(self) -> Scene:
        """What it shows beside the readings."""
        return self._scene

    def show_scene(self, scene: Scene) -> None:
        """Show another run: its lines, bands, limits, stages and notes; readings are forgotten."""
        most = MOST // max(1, len(scene.lines))
        self._series = {line.name: Series(most=most) for line in scene.lines}
        self._wanted = None
        self._view = View()
        self._now = None
        self._cross = None
        self._scale = TimeScale(self._scale.base)
        self.layer.show(())
        self.measuring.clear()
        self._set(scene)

    def series(self, name: str) -> Series:
        """The readings of a line of the scene, to be filled; call `redraw` or `touch` after."""
        return self._series[name]

    def append(self, name: str, t: float, value: float | None) -> None:
        """Take one reading; a trace that no line of the scene shows is left out."""
        series = self._series.get(name)
        if series is not None:
            series.append(t, value)
            self._soon()

    def look_closer(self, t0: float, t1: float, found: Mapping[str, Points]) -> None:
        """Take what the file has of a stretch; a trace that no line of the scene shows is left out."""
        for name, points in found.items():
            if name in self._series:
                self._series[name].look_closer(t0, t1, points)
        self._soon()

    def touch(self) -> None:
        """Something has been filled in from outside: draw it at the next turn."""
        self._soon()

    def run_to(self, t: float | None) -> None:
        """The run has come this far, whatever was read last; None goes by the readings."""
        self._now = t
        self._soon()

    def set_marks(self, marks: tuple[StageMark, ...]) -> None:
        """Show these stages in place of those before."""
        self._set(replace(self._scene, marks=marks))

    def add_mark(self, mark: StageMark) -> None:
        """Show one more stage."""
        self.set_marks((*self._scene.marks, mark))

    def set_notes(self, notes: tuple[Note, ...]) -> None:
        """Show these notes in place of those before."""
        self._set(replace(self._scene, notes=notes))

    def add_note(self, note: Note) -> None:
        """Show one more note."""
        self.set_notes((*self._scene.notes, note))

    def set_bands(self, bands: tuple[Band, ...]) -> None:
        """Show these bands in place of those before."""
        self._set(replace(self._scene, bands=bands))

    def set_bounds(self, bounds: tuple[Bound, ...]) -> None:
        """Show these limits in place of those before."""
        self._set(replace(self._scene, bounds=bounds))

    def _set(self, scene: Scene) -> None:
        in_time = replace(
            scene,
            marks=tuple(sorted(scene.marks, key=lambda mark: mark.t)),
            notes=tuple(sorted(scene.notes, key=lambda note: note.t)),
        )
        before, self._scene = self._scene, in_time
        self._scale = replace(self._scale, marks=in_time.marks)
        self.measuring.write_times(self._scale)
        self.layer.lay_on(in_time.marks)
        if before.lines != scene.lines:
            self.measuring.show_lines(scene.lines)
            names = tuple(line.name for line in scene.lines)
            # Room for flags from the start: the first one moves nothing.
            self._plot.set_panels(len(scene.panels), names, flags=True)
        self._soon()

    def stand_beside_values(self, *, room: bool) -> None:
        """The values of now stand beside it already: those of a moment that is pointed at are laid over its top.

        `room`: whether there is any for them.
        """
        self._beside, self._room = True, room
        self._layout.removeWidget(self._readout)
        self._readout.lie_over()
        self._lay_over()

    def _lay_over(self) -> None:
        if self._beside:
            self._readout.resize(self.width(), self._readout.height())
            self._readout.setVisible(self._room and self._cross is not None)

    # --- times and cursors -----------------------------------------------------------------------

    def set_started(self, started: datetime, rate: float = 1.0) -> None:
        """The run began at this local time, and its time goes so many times as fast as the clock."""
        self._scale = replace(self._scale, started=started, rate=rate)
        self.measuring.write_times(self._scale)
        self._soon()

    def next_base(self) -> None:
        """Count the times from something else."""
        self._scale = replace(self._scale, base=self._scale.next)
        self.measuring.write_times(self._scale)
        self._soon()

    def set_cursor(self, which: int) -> None:
        """Put the first (0) or the second (1) cursor at the crosshair, or a quarter into the picture from its side."""
        t0, t1 = self.shown
        self.measuring.set(
            which, t0 + (0.25, 0.75)[which] * (t1 - t0) if self._cross is None else self._cross
        )

    def next_cursor(self) -> None:
        """Put the cursor that is not set yet; where both are, take them away."""
        at = self.measuring.cursors.at
        if None in at:
            self.set_cursor(at.index(None))
        else:
            self.measuring.clear()

    # --- which stretch ---------------------------------------------------------------------------

    @property
    def follows(self) -> bool:
        """Whether it keeps up with the newest reading."""
        return self._view.follows

    @property
    def shown(self) -> tuple[float, float]:
        """The times at its left and right edge."""
        t0, t1, _first = self._range()
        return t0, t1

    def follow(self, on: bool = True, seconds: float | None = None) -> None:
        """Keep up with the newest reading, over so many seconds or the whole run; or stay where it is."""
        if on:
            self._view.follow(seconds)
        else:
            self._view.hold(*self.shown)
        self._soon()

    def show_all(self) -> None:
        """Show the whole run."""
        self.follow()

    def show_range(self, t0: float, t1: float) -> None:
        """Show one stretch and stay there."""
        self._view.hold(t0, t1)
        self._soon()

    def _range(self) -> tuple[float, float, int]:
        spans = [span for series in self._series.values() if (span := series.span) is not None]
        ends = [span[1] for span in spans] + ([self._now] if self._now is not None else [])
        ends += [mark.t for mark in self._scene.marks]
        start = min([span[0] for span in spans] + [mark.t for mark in self._scene.marks], default=0.0)
        self._view.ran(start, max(ends, default=start))
        return self._view.range(self._plot.columns)

    # --- drawing ---------------------------------------------------------------------------------

    def _soon(self) -> None:
        """Something is new: draw at the next turn, if anybody looks."""
        self._dirty = True
        if self.isVisible() and not self._timer.isActive():
            self._timer.start()

    def _tick(self) -> None:
        if self._dirty and self.isVisible():
            self.redraw()

    def redraw(self) -> None:
        """Draw now what is known."""
        self._dirty = False
        frame = self._frame()
        self._plot.show_frame(frame)
        self._tell(frame)

    def _frame(self) -> Frame:
        self._plot.set_labels(self.layer.guests.labels)
        t0, t1, first = self._range()
        self._want(t0, t1)
        plot, scale = self._plot, self._scale
        panes = tuple(
            pane_of(
                self._scene,
                panel,
                self._series,
                self.layer.guests,
                (t0, t1),
                Room(plot.columns, plot.height_of(i), plot.ink.line),
            )
            for i, panel in enumerate(self._scene.panels)
        )
        return Frame(
            t0,
            t1,
            first,
            scale.ticks(t0, t1, plot.moments),
            panes,
            self._scene.marks,
            self._scene.notes,
            self._cross,
            behind=not self._view.follows and self._view.latest > t1,
            base=scale.base,
            cross_word="" if self._cross is None else scale.word(self._cross, fine=t1 - t0 < FINE),
            cursors=self.measuring.cursors.at,
        )

    def _want(self, t0: float, t1: float) -> None:
        """Ask for what the file has beyond what is held, once for a stretch."""
        width = self._plot.columns
        stretch = (t0, t1, width)
        if stretch != self._wanted and any(
            series.lacks(t0, t1, (t1 - t0) / width) for series in self._series.values()
        ):
            self._wanted = stretch
            self.wanted.emit(*stretch)
        self.layer.want(*stretch)

    def _tell(self, frame: Frame) -> None:
        """Write what was read at the crosshair, or last."""
        told = told_at(self._scene.lines, self._series, self._cross)
        if self._cross is not None:
            self._readout.tell(frame.cross_word, told)
        else:
            latest = max((span[1] for one in self._series.values() if (span := one.span)), default=0.0)
            self._readout.tell(f"newest {self._scale.word(latest)}" if told else "", told)
        self._lay_over()
        now = time.monotonic()
        if self._cross is not None or now - self._described > DESCRIBED_EVERY:
            self._described = now
            self.setAccessibleDescription(self._readout.words)

    def _restyle(self) -> None:
        self._readout.restyle()
        self._plot.restyle()
        self._soon()

    # --- what a person does ----------------------------------------------------------------------

    def _zoom(self, factor: float, about: float) -> None:
        self._view.zoom(factor, about, self._plot.columns)
        self._soon()

    def _about(self) -> float:
        """What keys zoom about: the crosshair, else the newest reading or the middle."""
        t0, t1 = self.shown
        if self._cross is not None and t0 <= self._cross <= t1:
            return (self._cross - t0) / (t1 - t0)
        return 1.0 if self._view.follows else 0.5

    def _pull(self, share: float) -> None:
        self._range()
        if not self.measuring.cursors.held:
            self._view.pull(share, self._plot.columns)
            self._soon()

    def _scroll_by(self, turned: int) -> None:
        bar = self._scroll.verticalScrollBar()
        bar.setValue(bar.value() - turned // 2)

    def _point(self, share: float) -> None:
        t0, t1 = self.shown
        cross = None if share < 0.0 else t0 + share * (t1 - t0)
        if cross is not None:
            self.measuring.cursors.pull(cross)
        if cross != self._cross:
            self._cross = cross
            self._soon()

    def _press(self, share: float) -> None:
        t0, t1 = self.shown
        self.measuring.cursors.take_hold(t0 + share * (t1 - t0), REACH * (t1 - t0) / self._plot.columns)

    def _click(self, share: float) -> None:
        t0, t1 = self.shown
        self.measuring.click(t0 + share * (t1 - t0))

    def _step_cross(self, columns: int) -> None:
        t0, t1 = self.shown
        at = t1 if self._cross is None else self._cross
        self._cross = min(max(at + columns * (t1 - t0) / self._plot.columns, t0), t1)
        self._soon()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Zoom, slide, or move the crosshair; every other key is for those around it."""
        key, shifted = event.key(), bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self._zoom(1.0 / ZOOM, self._about())
        elif key == Qt.Key.Key_Minus:
            self._zoom(ZOOM, self._about())
        elif key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            sign = 1 if key == Qt.Key.Key_Left else -1
            if shifted:
                self._step_cross(-10 * sign)
            else:
                self._pull(PULL * sign)
        elif key in (Qt.Key.Key_1, Qt.Key.Key_2):
            self.set_cursor(0 if key == Qt.Key.Key_1 else 1)
        elif key == Qt.Key.Key_3:
            self.measuring.clear()
        elif key == Qt.Key.Key_K:
            self.next_base()
        elif key == Qt.Key.Key_S:
            self.layer.turn()
        elif key == Qt.Key.Key_H:
            self.layer.hide()
        elif key == Qt.Key.Key_Home:
            self.show_all()
        elif key == Qt.Key.Key_End:
            t0, t1 = self.shown
            self.follow(seconds=t1 - t0)
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take the focus, so that its keys work."""
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        event.accept()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """What lies over it keeps its width."""
        super().resizeEvent(event)
        self._lay_over()
        self.measuring.fit(self.height())

    def showEvent(self, event: QShowEvent) -> None:
        """Catch up with what was missed."""
        super().showEvent(event)
        self._soon()

    def hideEvent(self, event: QHideEvent) -> None:
        """Nobody looks."""
        super().hideEvent(event)
        self._timer.stop()
