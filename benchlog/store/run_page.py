"""A run on one page, gathered from its file and from the run of its unit before: what `one_page` puts into words.

Reads whole files: never on the GUI's thread.
"""

import sqlite3
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

import numpy as np

from benchlog import textfile
from benchlog.domain.detail import Items, together
from benchlog.domain.drift import on_since
from benchlog.domain.moved import EDGE, SILENCE, Moved, Named, moved
from benchlog.domain.offproof import CutOutcome
from benchlog.domain.one_page import Facts, Told, page
from benchlog.domain.plan import Plan
from benchlog.domain.plan_trace import Role
from benchlog.domain.stage_numbers import StageRow
from benchlog.domain.trace import SECOND
from benchlog.errors import BadInput, StoreError
from benchlog.store import drift_before, query, run_stages
from benchlog.store.migrations import SESSION
from benchlog.store.opening import reading
from benchlog.store.picture import items_within
from benchlog.store.records import Ending, EventRow, SessionHead, SessionState
from benchlog.store.run_beside import good_runs
from benchlog.store.run_facts import run_facts

COMES_UP = 60.0
"""Seconds after switching on that do not count as drift: rails and outputs come up."""
WIDTH = 60.0
"""Seconds that are looked at together where nothing is missing in them."""
_ENDED = {
    Ending.COMPLETED: "went through",
    Ending.TRIPPED: "tripped",
    Ending.STOPPED: "was ended by the operator",
    Ending.ALONE: "was cut when left alone",
    Ending.LOST: "was never closed",
}
_OFF: Mapping[str, str] = {
    CutOutcome.VERIFIED: "seen off",
    CutOutcome.STILL_LIVE: "asked, STILL LIVE when the run closed",
    CutOutcome.REFUSED: "refused to switch off",
    CutOutcome.UNKNOWN: "asked, not proven off",
}


def page_of(library: Path, path: Path) -> str:
    """The page of a run in its file; `StoreError` where that cannot be read."""
    state = query.state(path)
    head, events = state.head, query.events(path)
    plan = _plan(head)
    rows = run_stages.stages(path)
    told = [Told(event.t / SECOND, event.kind, event.text, event.data) for event in events]
    told += [Told(note.t / SECOND, "note", note.text) for note in query.remarks(path)]
    on = on_since((one.t, one.kind, one.data) for one in told)
    off = next((one.t for one in told if one.kind == "off"), None)
    closed = next((event for event in reversed(events) if event.kind == "closed"), None)
    end = state.ended_t / SECOND if state.ended_t is not None else max((one.t for one in told), default=0.0)
    unit, visit = _called(library, head)
    day, before = _before(library, path, head, plan)
    facts = Facts(
        unit=unit,
        visit=visit,
        plan=plan,
        plan_name=head.plan_name or head.title,
        began=_local(head.started),
        length=end,
        ending=_ending(state),
        off=_off(closed),
        on=on,
        off_at=off,
        rows=rows,
        told=tuple(sorted(told, key=lambda one: one.t)),
        moved=_moved(path, plan, on, off if off is not None else end),
        drifts=drift_before.drifts(path),
        before_day=day,
        before=before,
        reservoirs=dict(closed.data.get("reservoirs", {})) if closed is not None else {},
    )
    return page(facts)


def _plan(head: SessionHead) -> Plan | None:
    try:
        return textfile.parse(head.plan, "plan", Plan) if head.plan else None
    except BadInput:
        return None


def _ending(state: SessionState) -> str:
    said = (
        _ENDED.get(Ending(state.outcome), state.outcome) if state.outcome in tuple(Ending) else state.outcome
    )
    return f"{said}: {state.reason}".rstrip(".") if said and state.reason else said


def _off(closed: EventRow | None) -> str:
    """How the off-switch stood at the close; empty where it was never asked."""
    if closed is None or not closed.data.get("off"):
        return ""
    said = _OFF.get(str(closed.data["off"]), str(closed.data["off"]))
    told = ", told by a person" if closed.data.get("told_off") else ""
    failed = closed.data.get("failed") or ()
    return f"{said}{told}{f'; {chr(32).join(failed)} did not act' if failed else ''}"


def _moved(path: Path, plan: Plan | None, on: float | None, off: float) -> tuple[Moved, ...]:
    """What each trace did in a long run, once its source stood; a state has no drift."""
    if plan is None or on is None or not plan.run_kind.goes_on:
        return ()
    on = min(on + COMES_UP, off)
    found = []
    rows = [row for row in query.traces(path) if row.unit]
    with reading(path, SESSION) as connection:
        for row in rows:
            read = _numbered(connection, row.id, round(on * SECOND), round(off * SECOND))
            role = Role(row.role) if row.role in tuple(Role) else None
            found.append((Named(row.name, role, row.unit), row.id, read))
    return tuple(moved(named, read, _edges(path, trace, read), on, off) for named, trace, read in found)


def _numbered(connection: sqlite3.Connection, trace: int, start: int, end: int) -> Items:
    """Stretches of readings with numbers, each without a silence: where one has either it is looked into."""
    read = items_within(connection, trace, start, end, WIDTH * SECOND)
    broken = (read.silence > SILENCE * SECOND) | (read.n < read.rows)
    looked_into = [
        items_within(connection, trace, int(read.first_t[at]), int(read.last_t[at]), 0.0)
        for at in np.flatnonzero(broken)
    ]
    whole = together([read.only(~broken), *looked_into])
    return whole.only(whole.n > 0)


def _edges(path: Path, trace: int, read: Items) -> tuple[float | None, float | None]:
    """The medians of the first and the last seconds."""
    if not len(read):
        return None, None
    first, last, wide = int(read.first_t[0]), int(read.last_t[-1]), round(EDGE * SECOND)
    ends = ((first, first + wide), (last - wide, last))
    values = [query.readings(path, trace, from_t=t0, to_t=t1).value for t0, t1 in ends]
    low, high = (float(np.nanmedian(value)) for value in values)
    return low, high


def _called(library: Path, head: SessionHead) -> tuple[str, str]:
    """Unit and visit in words."""
    try:
        facts = run_facts(library)
    except StoreError:
        return "", ""
    unit, number = facts.units.get(head.unit), facts.visits.get(head.visit)
    return unit.name if unit is not None else "", f"visit {number:04d}" if number is not None else ""


def _before(
    library: Path, path: Path, head: SessionHead, plan: Plan | None
) -> tuple[str, tuple[StageRow, ...]]:
    """The newest good run of this unit before this one that was of the same kind, an earlier visit's first."""
    if plan is None or not head.unit:
        return "", ()
    lines = [line for line in good_runs(library, head.unit) if line.started < head.started]
    for line in sorted(lines, key=lambda line: line.visit == head.visit and bool(head.visit)):
        if line.file.name == path.name:
            continue
        ran = _plan(query.state(line.file).head)
        if ran is not None and ran.run_kind is plan.run_kind:
            return line.started[:10], run_stages.stages(line.file)
    return "", ()


def _local(utc: str) -> str:
    """Day and time where the bench stands."""
    try:
        return datetime.fromisoformat(utc).astimezone().strftime("%Y-%m-%d %H:%M")
    except ValueError:
        return utc
