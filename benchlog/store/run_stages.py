"""A run stage by stage, from its file: every reading of it counts, those that lie close by their levels of detail."""

import sqlite3
from collections.abc import Sequence
from pathlib import Path

from benchlog import textfile
from benchlog.domain.detail import NO_ITEMS, Items, together
from benchlog.domain.plan import Plan
from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import Outcome
from benchlog.domain.stage_numbers import (
    SETTLED_FOR,
    Came,
    Happened,
    Span,
    StageRow,
    TraceRead,
    can_settle,
    known_from,
    settling,
    spans,
    stage_rows,
)
from benchlog.domain.trace import SECOND
from benchlog.errors import BadInput
from benchlog.store import query
from benchlog.store.migrations import SESSION
from benchlog.store.opening import reading
from benchlog.store.picture import items_within, numbers, numbers_within
from benchlog.store.records import EventRow

_ONE_BY_ONE = 100_000
"""Readings of a stay that are looked at one by one for when they settled; of more, buckets of them."""
_FINE = SETTLED_FOR * SECOND / 60.0
"""Such buckets are no wider than this, ns, or than a share of a long stay."""
_SHARES = 25_000


def stages(path: Path) -> tuple[StageRow, ...]:
    """Each trace at each stage; empty for a run without stages. Opens its file: never on the GUI's thread."""
    state = query.state(path)
    happened = [_happened(event) for event in query.events(path)]
    rows = query.traces(path)
    limited = _limited(state.head.plan)
    ends = [found.last_t / SECOND for found in numbers(path, [row.id for row in rows], None).values()]
    stays = spans(happened, max(ends, default=0.0))
    read = []
    with reading(path, SESSION) as connection:
        for row in rows:
            role = Role(row.role) if row.role in tuple(Role) else None
            came = tuple(_came(connection, row.id, role, span) for span in stays)
            read.append(TraceRead(row.name, role, row.unit, came, row.name in limited))
    return stage_rows(stays, read, happened)


def _happened(event: EventRow) -> Happened:
    index, data = event.data.get("index"), event.data
    doubt = data.get("doubt")
    return Happened(
        event.t / SECOND,
        "doubt" if "doubt" in data else event.kind,
        event.text.rpartition(": ")[0] if event.kind == "stage" else "",
        index if isinstance(index, int) else -1,
        str(data.get("state", "")),
        str(data.get("trace", "")),
        # Of one reading alone: the next one is no worse for it.
        "" if doubt is None or doubt == Outcome.FLASH else str(doubt),
    )


def _limited(plan: str) -> set[str]:
    """The traces that the plan bounds; none where nobody can read it."""
    try:
        return {limit.trace for limit in textfile.parse(plan, "plan", Plan).limit}
    except BadInput:
        return set()


def _came(connection: sqlite3.Connection, trace: int, role: Role | None, span: Span) -> Came:
    """What a trace came to during a stay."""
    begin, steady, end = (round(t * SECOND) for t in (span.begin, span.steady, span.end))
    # What was read at the very moment of an event led to it.
    found = numbers_within(connection, trace, begin + 1, end)
    read = (
        _settling_of(connection, trace, max(begin + 1, steady), end, found.rows)
        if can_settle(role)
        else NO_ITEMS
    )
    settled, unsettled = settling(read, found.final, span.steady, role)
    return Came(
        found.rows,
        found.final,
        found.low,
        found.high,
        numbered=found.last_outcome in ("", Outcome.OK),
        settled=settled,
        unsettled=unsettled,
    )


def _settling_of(connection: sqlite3.Connection, trace: int, start: int, end: int, rows: int) -> Items:
    """The readings by which a trace settled, or buckets of very many."""
    width = 0.0 if rows <= _ONE_BY_ONE else max(_FINE, (end - start) / _SHARES)
    read = items_within(connection, trace, start, end, width)
    at = known_from(read) - 1
    if at < 0 or read.rows[at] == 1:
        return read
    # Where in this bucket it begins anew only its readings say; what lies before counts no more.
    inside = items_within(connection, trace, int(read.first_t[at]), int(read.last_t[at]), 0.0)
    return together([inside, read.only(slice(at + 1, None))])


def stretches(path: Path, rows: Sequence[StageRow], most: int) -> tuple[Items, ...]:
    """What each of these rows read from its source being set until it was left, numbers only.

    About so many buckets of very many readings. Opens its file: never on the GUI's thread.
    """
    ids = {row.name: row.id for row in query.traces(path)}
    found = []
    with reading(path, SESSION) as connection:
        for row in rows:
            steady, end = round(row.span.steady * SECOND), round(row.span.end * SECOND)
            many = numbers_within(connection, ids[row.trace], steady, end).rows > _ONE_BY_ONE
            read = items_within(
                connection, ids[row.trace], steady, end, (end - steady) / most if many else 0.0
            )
            found.append(read.only(read.n > 0))
    return tuple(found)
