"""Arming a run: what must give a reading first, and the session file with everything it began with."""

import time
from pathlib import Path

from benchlog.domain.guard import Guard
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Action
from benchlog.domain.trace import Trace
from benchlog.errors import Fault, StoreError
from benchlog.recorder.clock import SECOND, utc_now, wire_now
from benchlog.recorder.messages import Arm
from benchlog.recorder.outlet import trace_rows
from benchlog.store.append import SessionWriter
from benchlog.store.records import SessionHead

FRESH = 5.0
"""Wire seconds within which every trace that can trip a run must have given a reading."""


def without_reading(guard: Guard) -> list[Fault]:
    """The traces that are critical, or can trip, and give no reading though they were waited for."""
    tripping = {limit.trace for limit in guard.plan.limit if limit.action is Action.TRIP}
    needed = [trace for name, trace in guard.traces.items() if trace.plan.critical or name in tripping]
    until = wire_now() + FRESH * SECOND
    while (late := [trace for trace in needed if stale(trace)]) and wire_now() < until:
        time.sleep(0.02)
    return [
        Fault(
            t.plan.name,
            f"is not believed, {t.doubt}" if t.doubt else "gives no reading",
            f"check the meter {t.plan.job!r}",
        )
        for t in late
    ]


def stale(trace: Trace) -> bool:
    """Whether a trace has given no good reading of late."""
    return trace.first_wire is None or wire_now() - trace.good_wire > FRESH * SECOND


def open_session(
    request: Arm,
    plan: Plan,
    plan_text: str,
    *,
    bench: str,
    profiles: dict[str, str],
    rate: float,
    program: str,
) -> SessionWriter:
    """A new session file in the folder asked for, its traces declared; StoreError leaves nothing half open."""
    head = SessionHead(
        id=request.session,
        started=utc_now(),
        title=request.title or plan.name,
        unit=request.unit,
        visit=request.visit,
        plan=plan_text,
        plan_name=plan.name,
        bench=bench,
        profiles=profiles,
        rate=rate,
        program=program,
    )
    session = SessionWriter.create(Path(request.folder), head)
    try:
        session.declare(trace_rows(plan))
    except StoreError:
        session.abandon()
        raise
    return session
