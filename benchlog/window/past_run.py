"""A kept run as it is read from its file: head, plan, readings, what happened, notes, stages. No Qt.

Every call opens the file, selects and closes it, so that a live run may be looked at while it is written.
Times are plan seconds since the run's start, values SI.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from benchlog import textfile
from benchlog.domain.offproof import CutOutcome
from benchlog.domain.plan import Mover, Plan, Source
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.reading import STATES, Function, Outcome
from benchlog.domain.stages import LIVE
from benchlog.domain.stages import State as Stands
from benchlog.domain.trace import SECOND
from benchlog.errors import BadInput
from benchlog.store import query
from benchlog.store.records import (
    OUTCOMES,
    EventRow,
    RemarkRow,
    SessionState,
    State,
    TraceRow,
)
from benchlog.window import event_words
from benchlog.window.event_words import Told
from benchlog.window.graph_scene import Note, StageMark

Floats = npt.NDArray[np.float64]

MOST = 200_000
"""Readings of a trace that go to the graph one by one; of more, each stretch gives its extremes."""

_UP = LIVE - {Stands.SETTING, Stands.SWITCHING_ON}
"""States in which a stage has been reached."""


@dataclass(frozen=True, slots=True, eq=False)
class PastTrace:
    """One trace: what it was, its readings, and the few numbers that are asked for first.

    Attributes:
        t, value: its readings, or their extremes where there are very many; NaN stands for no number.
        count: how many readings there are in the file; `last_seq` the number of the newest.
        at_off: the last number before the unit was switched off; None where it was not.
        final, lowest, highest: numbers of the whole run, the time after off among it.
        lowest_t, highest_t: when the lowest and the highest were first read.
        last_word: how the very last exchange ended.
    """

    row: int
    plan: TracePlan
    t: Floats
    value: Floats
    count: int = 0
    last_seq: int = 0
    at_off: float | None = None
    final: float | None = None
    lowest: float | None = None
    highest: float | None = None
    lowest_t: float = 0.0
    highest_t: float = 0.0
    last_word: str = ""

    def shown(self, value: float | None) -> str:
        """A value of it for a person; a dash where there is none."""
        if value is None:
            return "\N{EN DASH}"
        if self.plan.measures is Function.STATE:
            return STATES[int(value)].value if 0 <= value < len(STATES) else "?"
        return self.plan.shown(value)

    @property
    def ranges(self) -> bool:
        """Whether a lowest and a highest mean anything; a supply's state has neither."""
        return self.plan.measures is not Function.STATE


@dataclass(frozen=True, slots=True, eq=False)
class PastRun:
    """One run, as it stood in its file when it was read.

    Attributes:
        plan: the plan it ran with; where that cannot be read one made of its traces, and `plan_problem` says so.
        off_at: when the unit was switched off; None where it was not, or not yet.
        off: how the off-switch stood at the close, a code word of `CutOutcome`; `told_off` that a person said so.
        failed: the off-switches that did not act, seen off or not.
    """

    file: Path
    state: SessionState
    plan: Plan
    plan_problem: str
    traces: tuple[PastTrace, ...]
    events: tuple[EventRow, ...]
    remarks: tuple[RemarkRow, ...]
    off_at: float | None
    off: str
    told_off: bool
    failed: tuple[str, ...] = ()

    @property
    def live(self) -> bool:
        """Whether its file was still being written."""
        return self.state.state is State.LIVE

    @property
    def was_on(self) -> bool:
        """Whether the unit was, or may have been, on."""
        return any(
            (event.kind == "off" and event.data.get("was_on", True))
            or (event.kind == "on" and event.data.get("done", True))
            for event in self.events
        )

    @property
    def shown_off(self) -> bool:
        """Whether it was never on, was seen off, or a person said so with nothing seen against it."""
        if not self.was_on or self.off == CutOutcome.VERIFIED:
            return True
        return self.told_off and self.off == CutOutcome.UNKNOWN

    def doubt_at(self, name: str, t: float) -> str:
        """Why a trace was not believed at a time, as it was last told before; empty where it was."""
        told = [
            str(event.data["doubt"])
            for event in self.events
            if event.data.get("trace") == name and "doubt" in event.data and event.t / SECOND <= t
        ]
        # Of one reading alone: the next one is no worse for it.
        lasting = [doubt for doubt in told if doubt != Outcome.FLASH]
        return lasting[-1] if lasting else ""

    @property
    def length(self) -> float:
        """How long it lasted, or has lasted so far, s."""
        if self.state.ended_t is not None:
            return self.state.ended_t / SECOND
        ends = [float(trace.t[-1]) for trace in self.traces if len(trace.t)]
        return max([*ends, *(event.t / SECOND for event in self.events)], default=0.0)

    @property
    def told(self) -> tuple[Told, ...]:
        """What happened and what was noted, in time."""
        lines = [event_words.told(event) for event in self.events]
        lines += [
            Told(note.t / SECOND, f"{note.text} (written later)" if note.late else note.text, note=True)
            for note in self.remarks
        ]
        return tuple(sorted(lines, key=lambda line: line.t))

    @property
    def marks(self) -> tuple[StageMark, ...]:
        """When each stage was reached."""
        found: list[StageMark] = []
        for event in self.events:
            if event.kind == "off":
                break
            name = event.text.rpartition(": ")[0]
            known = found[-1].text if found else ""
            if event.kind == "stage" and event.data.get("state") in tuple(_UP) and name != known:
                found.append(StageMark(event.t / SECOND, name))
        return tuple(found)

    @property
    def flags(self) -> tuple[Note, ...]:
        """What is flagged in the graph: the trip or the off, warnings, and notes."""
        kinds = {"trip": "trip", "warn": "warn", "off": "off"}
        tripped = any(event.kind == "trip" for event in self.events)
        found = [
            Note(event.t / SECOND, "off" if event.kind == "off" else event.text, kinds[event.kind])
            for event in self.events
            if event.kind in kinds and not (tripped and event.kind == "off")
        ]
        return (*found, *(Note(note.t / SECOND, note.text, "note") for note in self.remarks))


# --- reading ---------------------------------------------------------------------------------------


def read_run(file: Path, most: int = MOST) -> PastRun:
    """All of a run; `StoreError` or `BadInput` where its file cannot be read."""
    state = query.state(file)
    rows = query.traces(file)
    plan, problem = _plan_of(state, rows)
    events = query.events(file)
    off_at = _off_at(events)
    traces = tuple(_read(file, _empty(row, plan), off_at, most) for row in rows)
    return _made(file, state, plan, problem, traces, events)


def read_on(run: PastRun, most: int = MOST) -> tuple[PastRun, dict[str, tuple[Floats, Floats]]]:
    """The run as it stands now, and by trace what has come since it was read before."""
    state = query.state(run.file)
    known = {trace.row for trace in run.traces}
    new = [_empty(row, run.plan) for row in query.traces(run.file) if row.id not in known]
    events = query.events(run.file)
    off_at = _off_at(events)
    before = (*run.traces, *new)
    traces = tuple(_read(run.file, trace, off_at, most) for trace in before)
    fresh = {
        now.plan.name: (now.t[len(old.t) :], now.value[len(old.t) :])
        for now, old in zip(traces, before, strict=True)
    }
    return _made(run.file, state, run.plan, run.plan_problem, traces, events), fresh


def _made(
    file: Path,
    state: SessionState,
    plan: Plan,
    problem: str,
    traces: tuple[PastTrace, ...],
    events: tuple[EventRow, ...],
) -> PastRun:
    closed = next((event for event in reversed(events) if event.kind == "closed"), None)
    return PastRun(
        file=file,
        state=state,
        plan=plan,
        plan_problem=problem,
        traces=traces,
        events=events,
        remarks=query.remarks(file),
        off_at=_off_at(events),
        off=str(closed.data.get("off", "")) if closed is not None else "",
        told_off=bool(closed is not None and closed.data.get("told_off")),
        failed=tuple(closed.data.get("failed", ())) if closed is not None else (),
    )


def _off_at(events: Iterable[EventRow]) -> float | None:
    return next((event.t / SECOND for event in events if event.kind == "off"), None)


def _plan_of(state: SessionState, rows: tuple[TraceRow, ...]) -> tuple[Plan, str]:
    """The plan of a run, or one that only names its traces, and what is wrong with its own."""
    if state.head.plan:
        try:
            return textfile.parse(state.head.plan, "plan", Plan), ""
        except BadInput as error:
            problem = f"Its plan cannot be read ({error.problem}); limits are not drawn."
    else:
        problem = "It ran without a plan; there are no limits to draw."
    source = Source(moved_by=Mover.HAND, chain=())
    traces = tuple(_trace_plan(row) for row in rows)
    return Plan(file="", name=state.head.plan_name, source=source, trace=traces, stage=()), problem


def _trace_plan(row: TraceRow) -> TracePlan:
    """What a trace was, from the file's own table."""
    role = Role(row.role) if row.role in tuple(Role) else Role.REGULATED
    function = Function(row.function) if row.function in tuple(Function) else None
    return TracePlan(name=row.name, role=role, meter=row.meter, function=function, side=row.side)


def _empty(row: TraceRow, plan: Plan) -> PastTrace:
    try:
        known = plan.find(row.name)
    except KeyError:
        known = _trace_plan(row)
    return PastTrace(row.id, known, np.empty(0), np.empty(0))


def _read(file: Path, trace: PastTrace, off_at: float | None, most: int) -> PastTrace:
    """The trace with what its file holds beyond what is known of it."""
    new = query.readings(file, trace.row, after_seq=trace.last_seq)
    if not len(new):
        return trace
    t, value = new.t / SECOND, new.value
    good = np.flatnonzero(np.isfinite(value))
    numbers = value[good]
    before_off = numbers[t[good] <= off_at] if off_at is not None else numbers[:0]
    lows = [(trace.lowest, trace.lowest_t)] if trace.lowest is not None else []
    highs = [(trace.highest, trace.highest_t)] if trace.highest is not None else []
    if len(numbers):
        low, high = numbers.argmin(), numbers.argmax()
        lows.append((float(numbers[low]), float(t[good[low]])))
        highs.append((float(numbers[high]), float(t[good[high]])))
    lowest: tuple[float | None, float] = min(lows, key=lambda one: one[0], default=(None, 0.0))
    highest: tuple[float | None, float] = max(highs, key=lambda one: one[0], default=(None, 0.0))
    # Where the off came with the readings known before, the last of those stood before it.
    at_off = trace.at_off if trace.at_off is not None or off_at is None else trace.final
    kept = thinned(t, value, most)
    return replace(
        trace,
        t=np.concatenate((trace.t, kept[0])),
        value=np.concatenate((trace.value, kept[1])),
        count=trace.count + len(new),
        last_seq=int(new.seq[-1]),
        at_off=float(before_off[-1]) if len(before_off) else at_off,
        final=float(numbers[-1]) if len(numbers) else trace.final,
        lowest=lowest[0],
        highest=highest[0],
        lowest_t=lowest[1],
        highest_t=highest[1],
        last_word=OUTCOMES[int(new.outcome[-1])].value,
    )


def thinned(t: Floats, value: Floats, most: int = MOST) -> tuple[Floats, Floats]:
    """The readings themselves up to `most`; of more the lowest and highest of each stretch, and each gap.

    Every extreme stays where it was and as tall as it was; a stretch that holds a reading without a number keeps
    one such, so that its line stays broken.
    """
    if len(t) <= most:
        return t, value
    size = -(-len(t) // max(1, most // 3))
    whole = len(t) // size * size
    blocks = value[:whole].reshape(-1, size)
    heads = np.arange(len(blocks)) * size
    missing = np.isnan(blocks)
    picked = [
        heads + np.where(missing, np.inf, blocks).argmin(axis=1),
        heads + np.where(missing, -np.inf, blocks).argmax(axis=1),
        (heads + missing.argmax(axis=1))[missing.any(axis=1)],
        np.array([0, len(t) - 1]),
        np.arange(whole, len(t)),
    ]
    kept = np.unique(np.concatenate(picked))
    return t[kept], value[kept]
