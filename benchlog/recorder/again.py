"""Up again after a trip: what the file of that run tells of it, and whether its plan may be climbed back short."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from benchlog.domain.discharge import HOLDS
from benchlog.domain.guard import Guard
from benchlog.domain.offproof import off_is_known
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import LimitKind
from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import Outcome
from benchlog.domain.reentry import SHORT_DWELL, Reentry, Sink, Tripped, reentry
from benchlog.domain.stages import BEING_THERE
from benchlog.domain.trace import SECOND
from benchlog.errors import BadInput
from benchlog.recorder.arming import stale
from benchlog.store import query
from benchlog.store.records import OUTCOMES, Ending
from benchlog.textfile import parse

FULL = "go up with full dwells"
_OK = OUTCOMES.index(Outcome.OK)


@dataclass(frozen=True, slots=True)
class Before:
    """A run that tripped.

    Attributes:
        session, file, started, unit: which run it was, as its head says.
        text: why it tripped, as it was told.
        at: when.
        sinks: what each metered sink read as the unit came on, degrees Celsius; None where nothing was read.
    """

    session: str
    file: str
    started: str
    unit: str
    plan: Plan
    tripped: Tripped
    text: str
    at: datetime
    sinks: dict[str, float | None]


@dataclass(frozen=True, slots=True)
class Again:
    """The way back up, and what is kept of it in the new run."""

    back: Reentry
    text: str
    data: dict[str, Any]


def read_before(path: Path) -> Before:
    """The run in that file; BadInput where it did not trip, StoreError where it cannot be read."""
    state = query.state(path)
    trips = query.events(path, "trip")
    if state.outcome != Ending.TRIPPED or not trips:
        raise BadInput("again", f"the run of {path.name} did not trip", FULL)
    trip = trips[0]
    plan = parse(state.head.plan, path.name, Plan)
    stages = [event for event in query.events(path, "stage") if event.data.get("state") in BEING_THERE]
    role = next((one.role for one in plan.trace if one.name == trip.data.get("trace")), None)
    kind = trip.data.get("limit")
    closed = query.events(path, "closed")
    stood = closed[-1].data if closed else {}
    tripped = Tripped(
        role,
        LimitKind(kind) if kind in tuple(LimitKind) else None,
        max((int(event.data["index"]) for event in stages), default=-1),
        off_is_known(str(stood.get("off", "")), told=bool(stood.get("told_off"))),
    )
    on = stages[0].t if stages else trip.t
    return Before(
        session=state.head.id,
        file=path.name,
        started=state.head.started,
        unit=state.head.unit,
        plan=plan,
        tripped=tripped,
        text=trip.text,
        at=_utc(path, int(trip.data.get("wire_ns", 0))),
        sinks={trace.name: _at(path, trace.name, on) for trace in plan.of_role(Role.SINK)},
    )


def going_on(before: Before, guard: Guard, unit: str, cause: str) -> Again:
    """Under the lock: up again to the stage of that trip, by what is read now; BadInput with why not."""
    plan = guard.plan
    if before.unit != unit:
        raise BadInput("again", "that run was of another unit", FULL)
    if (before.plan.stage, before.plan.source) != (plan.stage, plan.source):
        raise BadInput("again", "that run had other stages, or another source", FULL)
    # Whatever was watched then is to be back: a meter that this plan leaves out says nothing.
    seen = {trace.name: trace.role for one in (before.plan, plan) for trace in one.trace}
    rails = {name: _now(guard, name) for name, role in seen.items() if role in HOLDS}
    sinks = tuple(
        Sink(name, before.sinks.get(name), _now(guard, name))
        for name, role in seen.items()
        if role is Role.SINK
    )
    gone = (datetime.now(UTC) - before.at).total_seconds()
    back = reentry(before.tripped, gone, cause, rails, sinks)
    if not back.allowed:
        why, _, fix = back.why_not.rstrip(".").partition(": ")
        raise BadInput("again", why, fix)
    stage = plan.stage[back.back_to].name
    text = f"again up to {stage}, dwells of {SHORT_DWELL:g} s at most below it"
    return Again(
        back,
        f"{text}; the run of {before.started} tripped: {before.text}; cause named: {cause.strip()}",
        {
            "session": before.session,
            "file": before.file,
            "tripped": before.text,
            "cause": cause.strip(),
            "stage": back.back_to,
        },
    )


def _now(guard: Guard, name: str) -> float | None:
    """What the trace of that name reads just now; None where it is not there, not believed, or silent."""
    trace = guard.traces.get(name)
    return None if trace is None or stale(trace) else guard.shown(trace)


def _at(path: Path, name: str, t: int) -> float | None:
    """The last good value of a trace at that plan time; None where there was none."""
    (trace,) = [one for one in query.traces(path) if one.name == name]
    rows = query.readings(path, trace.id, to_t=t)
    values = rows.value[rows.outcome == _OK]
    return float(values[-1]) if len(values) else None


def _utc(path: Path, wire: int) -> datetime:
    """UTC at that moment of the wire, by the anchor before it."""
    anchors = query.anchors(path)
    if not anchors:
        raise BadInput("again", f"the run of {path.name} does not tell when it was", FULL)
    near = next((one for one in reversed(anchors) if one.wire_ns <= wire), anchors[0])
    since = timedelta(seconds=(wire - near.wire_ns) / SECOND)
    return datetime.fromisoformat(near.utc).astimezone(UTC) + since
