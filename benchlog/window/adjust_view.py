"""What is shown while trimmers are turned: each figure with its band, how it drifted, and what stands beside. No Qt."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from benchlog.domain.drift import DRIFTS, MINUTES, Drift, drift_of, settled_in_words, table
from benchlog.domain.plan import Plan
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.reading import Outcome
from benchlog.domain.run_kind import RunKind
from benchlog.domain.trim import BEHIND_LAMP, Homing, ResistorRead, Stand, Trim, current_in_words, homing
from benchlog.recorder.client import messages
from benchlog.window.foot import face_of
from benchlog.window.run_view import SECOND, RunView
from benchlog.window.tile import TileFace

EVERY = 1.0
"""Plan seconds between two readings that are kept for the drift: more is no news to a figure that creeps."""
MOST = 40_000
"""So many are kept: half a day."""
DASH = "\N{EN DASH}"


@dataclass(frozen=True, slots=True)
class TrimFace:
    """One figure that is set.

    Attributes:
        face: its value with its age, as any numeral.
        stands: where it is to its band.
        here: whether it is set at this stage; `in_hand` whether the tone follows it.
        beside: its current, with what it was reckoned from.
        settled: whether it is settled, in words; or that it is not yet to be believed.
    """

    face: TileFace
    stands: Homing
    band: str
    here: bool = False
    in_hand: bool = False
    beside: str = ""
    settled: str = ""

    @property
    def said(self) -> str:
        """All of it, to be read aloud."""
        number = f"{self.face.number} {self.face.unit}".strip()
        stands = self.face.wrong or str(self.stands.stand)
        return ", ".join(filter(None, (self.face.name, number, stands, f"band {self.band}", self.settled)))


@dataclass(frozen=True, slots=True)
class DriftRow:
    """One line of the drift table: the trace, whose run it is, and a text for each moment."""

    trace: str
    whose: str
    texts: tuple[str, ...]


def trims_of(plan: Plan, index: int) -> tuple[tuple[Trim, bool], ...]:
    """Every figure that the plan sets, once each with whether it is set at that stage.

    Its band is this stage's, else that of the next stage that sets it, else of the last one.
    """
    found: dict[str, tuple[Trim, bool]] = {}
    order = [*plan.stage[index:], *reversed(plan.stage[:index])]
    for at, stage in enumerate(order):
        for trim in stage.trim:
            found.setdefault(trim.trace, (trim, at == 0))
    names = [trace.name for trace in plan.trace]
    return tuple(found[name] for name in sorted(found, key=names.index))


def adjusts(view: RunView) -> bool:
    """Whether the page is that of an adjustment: the plan sets something, and the run is open."""
    return view.plan is not None and view.plan.run_kind is RunKind.ADJUST


class Book:
    """What was read of each trace in this run, thinned, for what it drifts and whether it is settled."""

    def __init__(self) -> None:
        self._session = ""
        self._read: dict[str, tuple[list[float], list[float]]] = {}

    def take(self, view: RunView, message: messages.Readings) -> None:
        """Keep a number a second of each trace; one that is no number is kept as that."""
        if not view.is_open:
            return
        if view.session != self._session:
            self._session, self._read = view.session, {}
        for batch in message.batches:
            t, value = self._read.setdefault(batch.trace, ([], []))
            for _, at, number, outcome in batch.rows:
                seconds = at / SECOND
                if not t or seconds - t[-1] >= EVERY:
                    good = outcome == Outcome.OK and number is not None
                    t.append(seconds)
                    value.append(number if good and number is not None else float("nan"))
            if len(t) > MOST:
                del t[: MOST // 10], value[: MOST // 10]

    def settled(self, view: RunView, trace: TracePlan) -> str:
        """Whether a trace is settled by now, since it was switched on or a trimmer was turned."""
        t, value = self._arrays(trace.name)
        since = [moment for moment in (view.on_at, view.touched_at) if moment is not None]
        return settled_in_words(t, value, max(since), trace.role) if since else ""

    def drifts(self, view: RunView) -> dict[str, Drift]:
        """The drift of each trace that is looked at so."""
        if view.plan is None or view.on_at is None:
            return {}
        return {
            trace.name: drift_of(trace.name, *self._arrays(trace.name), view.on_at, view.off_at)
            for trace in view.plan.trace
            if trace.role in DRIFTS
        }

    def _arrays(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        t, value = self._read.get(name, ([], []))
        return np.array(t, dtype=np.float64), np.array(value, dtype=np.float64)


def faces_of(
    view: RunView, now: float, book: Book, in_hand: str, resistors: Sequence[ResistorRead]
) -> tuple[TrimFace, ...]:
    """Every figure as it stands."""
    plan = view.plan
    if plan is None:
        return ()
    index = view.stage.index if view.stage is not None else 0
    lamp = plan.fitted_at(index).lamp_watts > 0.0
    found = []
    for trim, here in trims_of(plan, index):
        trace = plan.find(trim.trace)
        face = face_of(
            trace.name, view.live.get(trace.name), now, trace, doubt=view.doubt_in(trace.name, trace.job)
        )
        value = value_of(view, trace, now)
        found.append(
            TrimFace(
                face,
                homing(trim, value),
                trim.band_of(trace),
                here and view.is_live,
                trace.name == in_hand,
                current_in_words(trim, value, resistors) if value is not None else "",
                BEHIND_LAMP if lamp else book.settled(view, trace),
            )
        )
    return tuple(found)


def value_of(view: RunView, trace: TracePlan, now: float) -> float | None:
    """What a trace reads now; None where that is lost, late or not believed."""
    live = view.live.get(trace.name)
    if live is None or live.stale(now) or live.outcome != Outcome.OK or view.doubt_in(trace.name, trace.job):
        return None
    return live.value


def beside_of(view: RunView, now: float) -> tuple[tuple[str, str], ...]:
    """What is looked at beside the trimmer: minutes on, mains, sinks."""
    plan = view.plan
    if plan is None:
        return ()
    minutes = DASH
    if view.on_at is not None and view.stage is not None:
        end = view.off_at if view.off_at is not None else view.stage.t / SECOND
        minutes = f"{max(0.0, end - view.on_at) / 60.0:.0f} min"
    found = [("on for", minutes)]
    for role in (Role.MAINS, Role.SINK):
        for trace in plan.of_role(role):
            value = value_of(view, trace, now)
            found.append((trace.name, trace.shown(value) if value is not None else "- -"))
    return tuple(found)


def drift_rows(
    plan: Plan, now: Mapping[str, Drift], day: str, before: Mapping[str, Drift]
) -> tuple[DriftRow, ...]:
    """The table cold to hot, the earlier visit's line beneath each."""
    names = [trace.name for trace in plan.trace if trace.role in DRIFTS]
    rows = []
    for drift in table(names, now):
        trace = plan.find(drift.trace)
        rows.append(DriftRow(drift.trace, "now", _texts(trace, drift)))
        if drift.trace in before:
            rows.append(DriftRow(drift.trace, day, _texts(trace, before[drift.trace])))
    return tuple(rows)


def heads() -> tuple[str, ...]:
    """The moments of the table."""
    return tuple(f"{minutes} min" for minutes in MINUTES)


def _texts(trace: TracePlan, drift: Drift) -> tuple[str, ...]:
    return tuple(DASH if value is None else trace.shown(value) for value in drift.at)


def stands_of(faces: Iterable[TrimFace], name: str) -> float | None:
    """How far the figure in hand is from its band; None where nothing can be heard of it."""
    for face in faces:
        if face.face.name == name and face.stands.stand is not Stand.LOST:
            return face.stands.distance
    return None
