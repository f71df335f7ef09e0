"""A run stage by stage, from its file: every reading of it counts, none of what is drawn."""

from pathlib import Path

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import Outcome
from benchlog.domain.stage_numbers import Happened, StageRow, TraceRead, spans, stage_rows
from benchlog.domain.trace import SECOND
from benchlog.errors import BadInput
from benchlog.store import query
from benchlog.store.records import EventRow, TraceRow


def stages(path: Path) -> tuple[StageRow, ...]:
    """Each trace at each stage; empty for a run without stages. Reads the whole file: never on the GUI's thread."""
    state = query.state(path)
    happened = [_happened(event) for event in query.events(path)]
    rows = query.traces(path)
    limited = _limited(state.head.plan)
    read = [_read(path, row, row.name in limited) for row in rows]
    ends = [float(trace.t[-1]) for trace in read if len(trace.t)]
    return stage_rows(spans(happened, max(ends, default=0.0)), read, happened)


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


def _read(path: Path, row: TraceRow, limited: bool) -> TraceRead:
    series = query.readings(path, row.id)
    role = Role(row.role) if row.role in tuple(Role) else None
    return TraceRead(row.name, role, row.unit, series.t / SECOND, series.value, limited)
