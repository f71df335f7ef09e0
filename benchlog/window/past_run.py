"""A kept run as it is read from its file: head, plan, readings, what happened, notes, stages. No Qt.

Every call opens the file, selects and closes it, so that a live run may be looked at while it is written.
Times are plan seconds since the run's start, values SI.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from benchlog import textfile
from benchlog.domain.offproof import off_is_known
from benchlog.domain.plan import Mover, Plan, Source
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.reading import STATES, Function, Outcome
from benchlog.domain.stages import LIVE
from benchlog.domain.stages import State as Stands
from benchlog.domain.trace import SECOND
from benchlog.errors import BadInput
from benchlog.store import late_levels, query
from benchlog.store.picture import TraceNumbers, numbers, pictures
from benchlog.store.records import (
    EventRow,
    RemarkRow,
    SessionState,
    State,
    TraceRow,
)
from benchlog.window import event_words
from benchlog.window.closer import points_of
from benchlog.window.event_words import Told
from benchlog.window.graph_scene import Note, StageMark
from benchlog.window.points import NO_POINTS, Points

FIRST = 2_048
"""Columns of the first picture of a run: more than a graph has, so that only a closer look asks the file again."""

MOST = 200_000
"""Points of a trace held here: a live run that is looked at for days is read on every few seconds."""

_UP = LIVE - {Stands.SETTING, Stands.SWITCHING_ON}
"""States in which a stage has been reached."""


@dataclass(frozen=True, slots=True, eq=False)
class PastTrace:
    """One trace: what it was, its readings, and the few numbers that are asked for first.

    Attributes:
        points: its readings, or their extremes where there are very many.
        fresh: what of them has come since the run was read before.
        count: how many readings there are in the file; `last_seq` the number of the newest, `last_t` its time, ns.
        at_off: the last number before the unit was switched off; None where it was not.
        final, lowest, highest: numbers of the whole run, the time after off among it.
        lowest_t, highest_t: when the lowest and the highest were first read.
        last_word: how the very last exchange ended.
    """

    row: int
    plan: TracePlan
    points: Points = NO_POINTS
    fresh: Points = NO_POINTS
    count: int = 0
    last_seq: int = 0
    last_t: int = 0
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
        summed: how much of it has its levels of detail, 0 to 1; the rest is read reading by reading.
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
    summed: float = 1.0

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
        return not self.was_on or off_is_known(self.off, told=self.told_off)

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
        ends = [trace.last_t / SECOND for trace in self.traces if trace.count]
        return max([*ends, *(event.t / SECOND for event in self.events)], default=0.0)

    @property
    def told(self) -> tuple[Told, ...]:
        """What happened and what was noted, in time."""
        lines = [event_words.told(event) for event in self.events]
        lines += [Told(note.t / SECOND, _written(note), note=True) for note in self.remarks]
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
        return (*found, *(Note(note.t / SECOND, _written(note), "note") for note in self.remarks))


def _written(note: RemarkRow) -> str:
    """A note as it is shown wherever it is: one written after the close says so."""
    return f"{note.text} (written later)" if note.late else note.text


# --- reading ---------------------------------------------------------------------------------------


def read_run(file: Path) -> PastRun:
    """All of a run; `StoreError` or `BadInput` where its file cannot be read."""
    state = query.state(file)
    rows = query.traces(file)
    plan, problem = _plan_of(state, rows)
    events = query.events(file)
    off_at = _off_at(events)
    traces = _read(file, tuple(_empty(row, plan) for row in rows), off_at)
    return _made(file, state, plan, problem, traces, events)


def read_on(run: PastRun) -> PastRun:
    """The run as it stands now; each trace says what of it has come since."""
    state = query.state(run.file)
    known = {trace.row for trace in run.traces}
    new = [_empty(row, run.plan) for row in query.traces(run.file) if row.id not in known]
    events = query.events(run.file)
    traces = _read(run.file, (*run.traces, *new), _off_at(events))
    return _made(run.file, state, run.plan, run.plan_problem, traces, events)


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
        summed=late_levels.share(file),
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
    return PastTrace(row.id, known)


def _ns(t: float) -> int:
    return round(t * SECOND)


def _read(file: Path, known: tuple[PastTrace, ...], off_at: float | None) -> tuple[PastTrace, ...]:
    """The traces with what their file holds now."""
    rows = [trace.row for trace in known]
    summed = numbers(file, rows, None if off_at is None else _ns(off_at))
    return tuple(_with(file, trace, summed[trace.row]) for trace in known)


def _with(file: Path, trace: PastTrace, now: TraceNumbers) -> PastTrace:
    if now.last_seq == trace.last_seq and now.rows == trace.count:
        return replace(trace, fresh=NO_POINTS, at_off=now.before)
    new = points_of(
        pictures(file, [trace.row], None if not trace.count else trace.last_t + 1, now.last_t, FIRST)[
            trace.row
        ]
    )
    if trace.count:
        # The reading before it is among them, to say whether the line leads on.
        new = new.after(trace.last_t / SECOND)
    return replace(
        trace,
        points=trace.points.then(new).fewer(MOST),
        fresh=new,
        count=now.rows,
        last_seq=now.last_seq,
        last_t=now.last_t,
        at_off=now.before,
        final=now.final,
        lowest=now.low,
        highest=now.high,
        lowest_t=now.low_t / SECOND,
        highest_t=now.high_t / SECOND,
        last_word=now.last_outcome,
    )
