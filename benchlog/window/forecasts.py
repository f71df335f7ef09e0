"""Has what settles or falls foretold while a run goes on, and keeps the view told of it.

Readings are gathered from when a trace is left alone: the source set, the clip where it was, nobody at the trimmer. A
rail follows the mains, so of it its share of them is, as they stood on the average. A
forecast is made by a process of its own, is asked for anew every few seconds, and lapses where none comes.
"""

from dataclasses import dataclass, replace
from functools import partial

from PySide6.QtCore import QObject, QTimer

from benchlog.domain.discharge import HOLDS
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.reading import Outcome
from benchlog.domain.run_kind import RunKind
from benchlog.domain.stages import State
from benchlog.domain.trace import SECOND
from benchlog.electronics.asked import DISCHARGE, REFORM, SETTLE, Answer, Progress, Question
from benchlog.recorder.client import messages
from benchlog.window.climb import fresh
from benchlog.window.forecaster_link import ForecasterLink, Then
from benchlog.window.foretold import STALE, Foretold, stalled
from benchlog.window.kept_readings import KeptReadings
from benchlog.window.run_view import RunView
from benchlog.window.work import Work

SETTLES = (Role.RAIL, Role.OFFSET, Role.IDLE, Role.SINK)
"""What has a value of its own that it settles to."""
LEAST = 8
"""Readings before anything is asked."""
EVERY = 500
"""Milliseconds between two looks at what may be asked."""
ANEW = 2.0
"""Seconds at least between two questions about one trace, or a thirtieth of what was seen of it."""
AT_MOST = STALE / 2.0
"""Seconds at most between them, so that no forecast lapses while it could be made anew."""
LEAST_FED = 2.0
"""Volts left for the unit below which no share of them means anything."""
LEFT_ALONE = frozenset({State.DWELLING, State.READY, State.HELD})
"""States in which the source stands, and what is on settles."""
TOUCHED = frozenset({"clip", "trimmer", "idle", "on"})
"""What happens that lets everything settle anew."""


@dataclass(slots=True)
class _Gathered:
    """The readings of one trace, and when it was last asked about."""

    kept: KeptReadings
    asked: float = 0.0
    fed: float = 0.0
    """The mean of what fed it while it was read, V; 1 where that does not count."""
    count: int = 0

    def take(self, t: float, value: float, fed: float) -> None:
        """A reading, and what fed it then: it is kept as its share of that."""
        self.kept.add(t, value / fed)
        self.count += 1
        self.fed += (fed - self.fed) / self.count


class Forecasts(QObject):
    """Gathers, asks, and writes what comes of it into the view's `foretold`."""

    def __init__(self, work: Work, link: ForecasterLink) -> None:
        super().__init__()
        self._work = work
        self._link = link
        self._gathered: dict[str, _Gathered] = {}
        self._scene: tuple[object, ...] = ()
        self._kind = ""
        self._told: set[tuple[object, ...]] = set()
        work.runner.read.connect(self._take)
        work.runner.changed.connect(self._look)
        self._timer = QTimer(self)
        self._timer.setInterval(EVERY)
        self._timer.timeout.connect(self._ask)
        self._timer.start()

    # --- of a run ------------------------------------------------------------------------------------

    def _look(self) -> None:
        """Begin anew where what it stood at is no more."""
        view = self._work.runner.view
        kind = _kind(view)
        touched = sum(moment.kind in TOUCHED for moment in view.moments)
        stage = view.stage.index if view.stage is not None else -1
        scene = (id(view), view.session, kind, stage if kind in (SETTLE, REFORM) else view.off_at, touched)
        if scene == self._scene:
            return
        self._scene, self._kind = scene, kind
        self._gathered.clear()
        view.foretold.clear()
        self._link.forget(_LIVE)

    def _take(self, message: messages.Readings) -> None:
        self._look()
        view = self._work.runner.view
        wanted = {trace.name: trace for trace in _traces(view, self._kind)}
        for batch in message.batches:
            trace = wanted.get(batch.trace)
            if trace is None or view.doubt_in(trace.name, trace.job):
                continue
            fed = _fed(view, self._work.now()) if self._kind == SETTLE and trace.role is Role.RAIL else 1.0
            gathered = self._gathered.setdefault(batch.trace, _Gathered(KeptReadings()))
            for _, t, value, outcome in batch.rows:
                if outcome == Outcome.OK and value is not None and fed is not None:
                    gathered.take(t / SECOND, value, fed)

    def _ask(self) -> None:
        """Ask about the trace that has waited longest."""
        view, now = self._work.runner.view, self._work.now()
        for trace in sorted(_traces(view, self._kind), key=self._asked):
            gathered = self._gathered.get(trace.name)
            if gathered is None or len(gathered.kept) < LEAST or self._link.waits_for(_LIVE + trace.name):
                continue
            t = gathered.kept.t
            every = (t[-1] - t[0]) / self._work.runner.rate / 30.0
            if now - gathered.asked < min(max(ANEW, every), AT_MOST):
                continue
            gathered.asked = now
            question = gathered.kept.question(_LIVE + trace.name, self._kind, trace.role, times=gathered.fed)
            if self._kind == REFORM:
                question = replace(question, ohms=trace.ohms, target=_low_enough(view, trace))
            self._link.ask(
                question,
                partial(self._came, self._scene, trace.name, t[-1]),
            )

    def _asked(self, trace: TracePlan) -> float:
        gathered = self._gathered.get(trace.name)
        return gathered.asked if gathered is not None else 0.0

    def _came(self, scene: tuple[object, ...], name: str, t: float, answer: Answer) -> None:
        if scene == self._scene:
            self._work.runner.view.foretold[name] = Foretold(answer, t, self._work.now())
            if answer.progress is Progress.PLATEAU:
                self._stalled(name, stalled(answer))

    def _stalled(self, name: str, words: str) -> None:
        """Tell everybody, once at each stage: the guard does not judge it."""
        view = self._work.runner.view
        at = (id(view), view.session, view.stage.index if view.stage is not None else -1, name)
        if at in self._told:
            return
        self._told.add(at)
        self._work.say(f"{name}: {words}")
        if self._work.voice is not None:
            self._work.voice.warn(f"{name}: {words}")

    # --- of a kept run -------------------------------------------------------------------------------

    def ask(self, question: Question, then: Then) -> None:
        """Ask anything; `then` hears the answer, or nothing ever."""
        self._link.ask(question, then)

    def forget(self, begins: str) -> None:
        """Ask no more of what has such a key."""
        self._link.forget(begins)


_LIVE = "live/"
"""Before the keys of its questions, so that nobody else's are taken for them."""


def _fed(view: RunView, now: float) -> float | None:
    """Volts that the lamp leaves of the mains: a rail wanders as they do. 1 where no meter shows the mains.

    None where one should and does not just now: nobody knows what the rail would read on steady mains.
    """
    mains, lamp = (
        next(iter(view.plan.of_role(role)), None) if view.plan is not None else None
        for role in (Role.MAINS, Role.LAMP)
    )
    if mains is None:
        return 1.0
    shown = fresh(view, mains, now)
    across = fresh(view, lamp, now) if lamp is not None else 0.0
    if shown is None or across is None or shown - across <= LEAST_FED:
        return None
    return shown - across


def _kind(view: RunView) -> str:
    """What can be foretold now: what settles while it is left alone at a stage, what falls once it is off."""
    if view.off_at is not None or view.falling_since is not None:
        return DISCHARGE
    if not view.is_live or view.state not in LEFT_ALONE:
        return ""
    return REFORM if view.plan is not None and view.plan.run_kind is RunKind.REFORM else SETTLE


def _traces(view: RunView, kind: str) -> tuple[TracePlan, ...]:
    if kind == REFORM and view.plan is not None:
        drops = view.plan.of_role(Role.DROP)
        return tuple(trace for trace in drops if trace.ohms > 0.0 and _low_enough(view, trace) > 0.0)
    roles = {SETTLE: SETTLES, DISCHARGE: HOLDS}.get(kind, ())
    return tuple(trace for trace in view.plan.trace if trace.role in roles) if view.plan is not None else ()


def _low_enough(view: RunView, trace: TracePlan) -> float:
    """Amps at which a drop lets the stage be left; 0 where none is awaited of it."""
    if view.plan is None or view.stage is None:
        return 0.0
    waits = view.plan.stage[view.stage.index].wait
    volts = next((wait.high for wait in waits if wait.trace == trace.name and wait.high is not None), 0.0)
    return volts / trace.ohms
