"""Brings a run to its graph: readings as they stream, what the stream dropped from the file, stages, bands, flags.

The stream is a hint and the file is the truth: where numbers are missing the file is asked, once it holds them.
"""

from pathlib import Path

from PySide6.QtCore import QObject

from benchlog.domain.plan import Plan
from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import Outcome
from benchlog.domain.stages import AT_STAGE
from benchlog.domain.trace import SECOND
from benchlog.recorder.client import messages
from benchlog.store import query
from benchlog.store.records import SessionHead
from benchlog.window.arming import unarmed
from benchlog.window.climb import fresh
from benchlog.window.closer import closer_look
from benchlog.window.graph import RunGraph
from benchlog.window.graph_measured import Measured
from benchlog.window.graph_scene import Band, Bound, Note, StageMark, bands_of_stage, scene_of, with_arming
from benchlog.window.graph_time import began_at
from benchlog.window.points import Points
from benchlog.window.run_before import RunBefore
from benchlog.window.run_view import Moment, Phase
from benchlog.window.work import Work

FLAGS = {
    "warn": "warn",
    "trip": "trip",
    "off": "off",
    "remark": "note",
    "limit": "note",
    "clip": "note",
    "trimmer": "note",
    "idle": "note",
}
"""Events that are flagged in the graph, and as what."""
ASK_AGAIN = 1.0
"""Seconds between two questions to the file."""


class RunFeed(QObject):
    """Fills one graph from the run at the bench."""

    def __init__(self, work: Work, graph: RunGraph) -> None:
        super().__init__(graph)
        self._work = work
        self._graph = graph
        self._plan_text = ""
        self._session = ""
        self._whole: dict[str, int] = {}
        """Up to which number each trace is in the graph without a gap."""
        self._tails: dict[str, tuple[int, int]] = {}
        """First and last number of the newest stretch behind a gap, of each trace that has one."""
        self._asked = 0.0
        self._asking = False
        self._lamps: dict[int, float | None] = {}
        self._shown: tuple[object, ...] = ()
        self._plan: Plan | None = None
        self._bounds: tuple[Bound, ...] = ()
        self._before = RunBefore(work, graph)
        work.runner.read.connect(self.take)
        graph.wanted.connect(self._look_closer)
        self._measured = Measured(work, graph, lambda: Path(self._session) if self._session else None)

    def begin(self) -> None:
        """Show the lines and limits of the plan at hand, and forget what was read before."""
        plan = self._work.runner.view.plan
        if plan is None:
            return
        self._whole, self._tails, self._lamps, self._shown = {}, {}, {}, ()
        self._session = self._work.runner.view.session
        self._graph.show_scene(scene_of(plan))
        self._graph.follow(True)
        self._ask_start()
        self._before.begin(self._session, plan)

    def take(self, message: messages.Readings) -> None:
        """Take readings; before a session is open, and once its file has ended, they belong to no run."""
        view = self._work.runner.view
        if not view.is_open or view.file_ended:
            return
        if view.session != self._session:
            self.begin()
        for batch in message.batches:
            self._batch(batch)
        self._fill()

    def _batch(self, batch: messages.Batch) -> None:
        whole = self._whole.get(batch.trace, 0)
        tail = self._tails.get(batch.trace)
        for seq, t, value, outcome in batch.rows:
            if seq <= (whole if tail is None else tail[1]):
                continue
            if tail is not None:
                tail = (tail[0] if seq == tail[1] + 1 else seq, seq)
            elif seq == whole + 1:
                whole = seq
            else:
                tail = (seq, seq)
            self._graph.append(batch.trace, t / SECOND, value if outcome == Outcome.OK else None)
        self._whole[batch.trace] = whole
        if tail is not None:
            self._tails[batch.trace] = tail

    # --- what the stream dropped -----------------------------------------------------------------

    def _fill(self) -> None:
        """Ask the file for what is missing, where it holds more than the graph."""
        work = self._work
        view, now = work.runner.view, work.now()
        wanted = {
            name: self._whole.get(name, 0)
            for name in self._tails
            if view.stored.get(name, 0) > self._whole.get(name, 0)
        }
        if not wanted or self._asking or now - self._asked < ASK_AGAIN:
            return
        self._asking, self._asked = True, now
        path = Path(self._session)

        def read() -> dict[str, query.Series]:
            numbers = {row.name: row.id for row in query.traces(path)}
            return {
                name: query.readings(path, numbers[name], after_seq=after)
                for name, after in wanted.items()
                if name in numbers
            }

        session = self._session
        work.shelf.off_thread(
            read,
            lambda found: self._join(session, found),
            lambda _: self._join(session, {}),
            owner=self,
            says="Reading the run's file",
        )

    def _join(self, session: str, found: dict[str, query.Series]) -> None:
        """Put the file's readings where the stream has a gap; what is there already is not put twice."""
        self._asking = False
        if session != self._session:
            return
        for name, series in found.items():
            if len(series):
                self._put_in(name, series)
                self._count(name, int(series.seq[-1]))

    def _put_in(self, name: str, read: query.Series) -> None:
        if name not in {line.name for line in self._graph.scene.lines}:
            return
        series = self._graph.series(name)
        times = read.t / SECOND
        # What came by the stream is in the graph; times of one trace are all different.
        new = ~series.holds(times)
        series.extend(times[new], read.value[new])
        self._graph.touch()

    def _count(self, name: str, last: int) -> None:
        """The graph holds everything up to `last` now, and on to the end of the stretch it reaches."""
        tail = self._tails.get(name)
        if tail is not None and last >= tail[0] - 1:
            last = max(last, tail[1])
            del self._tails[name]
        self._whole[name] = max(last, self._whole.get(name, 0))

    def _look_closer(self, t0: float, t1: float, columns: int) -> None:
        """Read from the file what the graph holds no more reading by reading."""
        session = self._session

        def closer(found: dict[str, Points]) -> None:
            if session == self._session:
                self._graph.look_closer(t0, t1, found)

        self._work.shelf.off_thread(
            lambda: closer_look(Path(session), t0, t1, columns),
            closer,
            # It is in the file later than in the stream: what is held is shown meanwhile.
            lambda _: None,
            owner=self,
            key="live run, closer",
            says="Reading the run's file",
        )

    def _ask_start(self) -> None:
        """When the run began by the clock stands in its file."""
        session = self._session

        def told(head: SessionHead) -> None:
            began = began_at(head.started)
            if session == self._session and began is not None:
                self._graph.set_started(began, head.rate)

        if session:
            self._work.shelf.off_thread(
                lambda: query.state(Path(session)).head, told, lambda _: None, owner=self
            )

    # --- beside the readings ---------------------------------------------------------------------

    def look(self) -> None:
        """Remember what the lamp takes at each stage, while the unit is on at it; also while nobody looks."""
        view = self._work.runner.view
        lamp = next(iter(view.plan.of_role(Role.LAMP)), None) if view.plan is not None else None
        if lamp is None or not view.marks or view.state not in AT_STAGE:
            return
        value = fresh(view, lamp, self._work.now())
        if value is not None:
            # To a volt: a band that trembles with the lamp's last digit says no more.
            self._lamps[len(view.marks) - 1] = float(round(value))

    def refresh(self) -> None:
        """Show stages, bands and flags as they stand now."""
        view = self._work.runner.view
        if view.plan is None or not view.session:
            return
        if view.session != self._session:
            self.begin()
        if view.stage is not None and view.phase is not Phase.CLOSED:
            self._graph.run_to(view.stage.t / SECOND if view.is_live else None)
        marks = tuple(StageMark(t, name) for t, name in view.marks)
        notes = tuple(_note(moment) for moment in view.moments if moment.kind in FLAGS)
        bands = self._bands()
        bounds = with_arming(self._bounds_of(view.plan), unarmed(view))
        if (marks, notes, bands, bounds) != self._shown:
            self._shown = (marks, notes, bands, bounds)
            self._graph.set_marks(marks)
            self._graph.set_notes(notes)
            self._graph.set_bands(bands)
            self._graph.set_bounds(bounds)

    def _bounds_of(self, plan: Plan) -> tuple[Bound, ...]:
        """The lines of the limits as they are set now."""
        if plan is not self._plan:
            self._plan, self._bounds = plan, scene_of(plan).bounds
        return self._bounds

    def _bands(self) -> tuple[Band, ...]:
        """Where the rails should stand at each stage, by what the lamp took there when it was last seen."""
        view = self._work.runner.view
        plan = view.plan
        if plan is None:
            return ()
        stages = {stage.name: stage for stage in plan.stage}
        has_lamp = bool(plan.of_role(Role.LAMP))
        found: list[Band] = []
        for at, (t, name) in enumerate(view.marks):
            later = view.marks[at + 1][0] if at + 1 < len(view.marks) else view.off_at
            # Without what the lamp took nobody knows what was left for the rails.
            if name in stages and (not has_lamp or at in self._lamps):
                found += bands_of_stage(plan, stages[name], t, later, self._lamps.get(at), view.reference)
        return tuple(found)


def _note(moment: Moment) -> Note:
    text = "off" if moment.kind == "off" else moment.text
    return Note(moment.t, text, FLAGS[moment.kind])
