"""Arming a run: what must give a reading first, and the session file with everything it began with."""

import time
from pathlib import Path

from benchlog.domain.cold_checks import lacking
from benchlog.domain.guard import Guard
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Action
from benchlog.domain.trace import Trace
from benchlog.errors import Fault, StoreError
from benchlog.recorder.clock import SECOND, utc_now, wire_now
from benchlog.recorder.messages import Arm
from benchlog.recorder.outlet import Outlet, trace_rows
from benchlog.store.append import SessionWriter
from benchlog.store.records import SessionHead

FRESH = 5.0
"""Wire seconds within which every trace that can trip a run must have given a reading."""


def demanded(plan: Plan, request: Arm, *, by_hand: bool) -> tuple[Fault, ...]:
    """What the plan demands before it may go live and does not have: its cold checks, and somebody who stays.

    `by_hand`: a hand is all there is to switch off with.
    """
    faults = lacking(plan.cold_checks, request.cold)
    if request.alone and by_hand:
        problem = "nobody stays with it, and no off-switch acts by itself"
        fix = "stay with it, or put a relay or a supply on the bench that switches off"
        return (*faults, Fault("unattended", problem, fix))
    return faults


def tell_demanded(outlet: Outlet, t: int, plan: Plan, request: Arm) -> None:
    """Keep how each cold check stood as the run was armed, and whether somebody stays with it."""
    wanted = plan.cold_checks
    for answer in request.cold:
        if answer.check in wanted:
            data = {"check": answer.check.value, "holds": answer.holds, "by": answer.by}
            outlet.event(t, "cold", answer.in_words, **data, overridden=answer.overridden)
    if request.alone:
        outlet.event(t, "alone", "unattended: the off-switch acts by itself")


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
