"""The good run of a unit that its next one is held against: its first completed one on the same source."""

from collections.abc import Iterator
from pathlib import Path
from statistics import median

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.domain.reading import Outcome
from benchlog.domain.reference import Reference, of_run, same_source
from benchlog.errors import BadInput
from benchlog.store import query
from benchlog.store.records import OUTCOMES, Ending, SessionState

AT_THE_END = 10_000_000_000
"""Plan nanoseconds at the end of a dwell whose median stands for the stage."""
_RESTS = ("dwelling", "ready", "held")
"""States of the stage machine in which the source rests where it should."""
_OK = OUTCOMES.index(Outcome.OK)


def reference(library: Path, unit: str, plan: Plan) -> Reference | None:
    """What the first completed run of this unit on the source of `plan` shows; None where there is none yet."""
    if not unit:
        return None
    done = [
        line for line in query.sessions(library) if line.unit == unit and line.outcome == Ending.COMPLETED
    ]
    for line in reversed(done):
        state = query.state(line.file)
        ran = _plan(state, line.file.name)
        if ran is not None and same_source(plan, ran):
            found = of_run(ran, state.head.started[:10], dict(_stages(line.file, ran)))
            if found is not None:
                return found
    return None


def of_text(library: Path, unit: str, text: str) -> Reference | None:
    """The same for a plan as it is written; None as well where nobody can read it, which others tell."""
    try:
        return reference(library, unit, textfile.parse(text, "plan", Plan))
    except BadInput:
        return None


def _plan(state: SessionState, place: str) -> Plan | None:
    """The plan it ran with; None where this program reads it no more."""
    try:
        return textfile.parse(state.head.plan, place, Plan)
    except BadInput:
        return None


def _stages(path: Path, plan: Plan) -> Iterator[tuple[int, dict[str, float]]]:
    """Each stage the source rested at, by its place in the plan, with what the traces read at its end."""
    rests: dict[int, tuple[int, int]] = {}
    resting: tuple[int, int] | None = None
    for event in query.events(path, "stage", "off"):
        index = event.data.get("index")
        if resting is not None:
            rests[resting[0]] = (resting[1], event.t)
        here = event.kind == "stage" and event.data.get("state") in _RESTS
        if not here or not isinstance(index, int) or not 0 <= index < len(plan.stage):
            resting = None
        elif resting is None or resting[0] != index:
            resting = (index, event.t)
    for index, (since, until) in rests.items():
        read = {}
        for trace in query.traces(path):
            rows = query.readings(path, trace.id, from_t=max(since, until - AT_THE_END), to_t=until)
            values = [float(v) for v in rows.value[rows.outcome == _OK]]
            if values:
                read[trace.name] = median(values)
        yield index, read
