"""Brings a past run to its graph: its readings, what the file has of them more closely, what lies between cursors."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from PySide6.QtCore import QObject

from benchlog.domain.aligning import matched
from benchlog.domain.plan import Plan
from benchlog.store.run_beside import Candidate
from benchlog.window.closer import closer_look
from benchlog.window.graph import RunGraph
from benchlog.window.graph_closer import CloserGuests
from benchlog.window.graph_guests import Guest
from benchlog.window.graph_measured import Measured
from benchlog.window.graph_scene import of_the_past, scene_of
from benchlog.window.graph_time import began_at
from benchlog.window.past_beside import named, short
from benchlog.window.past_run import PastRun, read_run
from benchlog.window.points import Points
from benchlog.window.work import Work

T = TypeVar("T")


class PastFeed(QObject):
    """Fills one graph from a run that is kept; every file is read in the thread of the library."""

    def __init__(self, work: Work, graph: RunGraph) -> None:
        super().__init__(graph)
        self._work = work
        self._graph = graph
        self._run: PastRun | None = None
        self._guests = CloserGuests(work, graph)
        graph.wanted.connect(self._look_closer)
        self._measured = Measured(work, graph, lambda: self._run.file if self._run is not None else None)

    def show(self, run: PastRun) -> None:
        """Show another run."""
        self._run = run
        self._graph.show_scene(replace(of_the_past(scene_of(run.plan)), marks=run.marks, notes=run.flags))
        began = began_at(run.state.head.started)
        if began is not None:
            self._graph.set_started(began, run.state.head.rate)
        for trace in run.traces:
            self._add(trace.plan.name, trace.points)

    def grow(self, run: PastRun) -> None:
        """The same run a little later: add what has come since."""
        self._run = run
        for trace in run.traces:
            self._add(trace.plan.name, trace.fresh)
        self._graph.set_marks(run.marks)
        self._graph.set_notes(run.flags)

    def lay_beside(self, chosen: Sequence[Candidate], *, sides_swapped: bool = False) -> None:
        """Lay these runs beneath the open one, in place of those before."""
        run = self._run
        if run is None:
            return
        started = run.state.head.started
        self._ask(
            lambda _: [guest_of(run.plan, one, sides_swapped=sides_swapped) for one in chosen],
            lambda found: self._graph.layer.show(found, started=started),
            "beside",
        )

    def _add(self, name: str, points: Points) -> None:
        if any(line.name == name for line in self._graph.scene.lines):
            self._graph.series(name).add(points)
            self._graph.touch()

    def _look_closer(self, t0: float, t1: float, columns: int) -> None:
        """Read what the graph shows of a long run more closely; until it is there it shows what it has."""
        self._ask(
            lambda file: closer_look(file, t0, t1, columns),
            lambda found: self._graph.look_closer(t0, t1, found),
            "closer",
        )

    def _ask(self, work: Callable[[Path], T], then: Callable[[T], None], key: str) -> None:
        """Ask the open run's file; the answer is dropped where another run is open by then."""
        run = self._run
        if run is None:
            return

        def came(found: T) -> None:
            if self._run is not None and self._run.file == run.file:
                then(found)

        self._work.shelf.read(
            lambda _: work(run.file),
            came,
            # What lies closer is shown as it is held; what somebody asked for and does not get is told.
            (lambda _: None) if key == "closer" else self._work.say_error,
            owner=self,
            key=f"past run, {key}",
            says="Reading the run",
        )


def guest_of(plan: Plan, one: Candidate, *, sides_swapped: bool = False, same_only: bool = False) -> Guest:
    """A run as it lies beneath another of that plan; reads its file, so never on the GUI's thread.

    With `same_only` no trace is held against one of the other side.
    """
    run = read_run(one.line.file)
    points = {trace.plan.name: trace.points for trace in run.traces}
    rows = {trace.plan.name: trace.row for trace in run.traces}
    pairs = matched(plan.trace, [trace.plan for trace in run.traces], sides_swapped=sides_swapped)
    sides = {trace.plan.name: trace.plan.side for trace in run.traces}
    across = {
        trace.name for trace in plan.trace if sides.get(pairs.get(trace.name, ""), trace.side) != trace.side
    }
    if same_only:
        pairs = {name: other for name, other in pairs.items() if name not in across}
    return Guest(
        f"{named(one)}, its other side" if across and not same_only else named(one),
        short(one),
        run.state.head.started,
        {name: points[other] for name, other in pairs.items()},
        run.marks,
        aside=one.other_unit,
        file=one.line.file,
        rows={name: rows[other] for name, other in pairs.items()},
    )
