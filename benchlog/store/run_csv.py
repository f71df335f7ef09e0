"""A run as a CSV file: its conditions at the head, then every reading, event and note in time.

The full readings, never what is displayed. UTF-8 with its mark, so that a spreadsheet takes it for what it is; texts
are quoted, and one that a spreadsheet would take for a formula begins with an apostrophe.
"""

import os
import tomllib
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np

from benchlog.domain.reading import STATES, Function, Outcome
from benchlog.domain.trace import SECOND
from benchlog.errors import BadInput
from benchlog.store import query, query_unit
from benchlog.store.ids import utc_moment
from benchlog.store.index import read_line
from benchlog.store.opening import plain_errors
from benchlog.store.query import Series
from benchlog.store.records import OUTCOMES, SessionState, State, TraceRow

_FORMULA = "=+-@\t\r\uff1d\uff0b\uff0d\uff20"
"""What a formula begins with; the last four are the wide signs that some spreadsheets take for the same."""
_AT_ONCE = 20_000
"""Readings of each trace that are held in memory at a time, however unevenly they lie in time."""
_OK = OUTCOMES.index(Outcome.OK)
_BLANKS = (
    "no reading of that trace at that time; where a reading gave no number, the last column says why "
    "(overload is beyond the meter's range, not zero)"
)


class Progress:
    """How far a long piece of work has come, 0 to 1, and whether a person wants it no more.

    One thread writes `done`, another `cancelled`; neither waits for the other.
    """

    def __init__(self) -> None:
        self.done = 0.0
        self.cancelled = False
        self._files = (0, 1)

    def file(self, n: int, count: int) -> None:
        """The n-th of so many files is written from now on."""
        self._files = (n, count)

    def wrote(self, share: float) -> None:
        """So much of the file at hand is done."""
        n, count = self._files
        self.done = (n + share) / count


def write(library: Path, session: Path, target: Path, progress: Progress) -> bool:
    """Write one run to `target`; False, and no file, where it was cancelled.

    `BadInput` where there is such a file already, `Full` where it cannot be written.
    """
    if target.exists():
        raise BadInput(str(target), "is there already", "name another file")
    part = target.with_name(f"{target.name}.part")
    with plain_errors(target):
        try:
            with part.open("w", encoding="utf-8-sig", newline="") as out:
                for lines in _pieces(library, session, progress):
                    out.writelines(lines)
                    if progress.cancelled:
                        break
                out.flush()
                os.fsync(out.fileno())
            if not progress.cancelled:
                part.replace(target)
        finally:
            part.unlink(missing_ok=True)
    return not progress.cancelled


def write_each(
    library: Path,
    sessions: Sequence[Path],
    folder: Path,
    progress: Progress,
    said: Callable[[Path], object] = print,
) -> list[Path]:
    """Write runs to a folder, one file each, beside what lies there; the files that were made.

    `said` hears of each as it is done. Cancelled, those that are whole stay.
    """
    made: list[Path] = []
    with plain_errors(folder):
        folder.mkdir(parents=True, exist_ok=True)
    for n, session in enumerate(sessions):
        target = free_name(folder, session.stem, ".csv")
        progress.file(n, len(sessions))
        if not write(library, session, target, progress):
            break
        made.append(target)
        said(target)
    return made


def free_name(folder: Path, stem: str, suffix: str) -> Path:
    """A path in the folder that is not taken: `run.csv`, `run (2).csv`, ..."""
    path, n = folder / f"{stem}{suffix}", 1
    while path.exists():
        n += 1
        path = folder / f"{stem} ({n}){suffix}"
    return path


# --- what stands in it -------------------------------------------------------------------------------


def _pieces(library: Path, session: Path, progress: Progress) -> Iterator[list[str]]:
    state, traces = query.state(session), query.traces(session)
    yield [_row(*cells) for cells in _head(library, session, state, traces)]
    yield [_row(), _row("seconds", *(column(trace) for trace in traces), "what happened")]
    lines = sorted(_told(session))
    written = 0
    for begin, end in _stretches(session, traces):
        told = [
            line for line in lines if (begin is None or line[0] >= begin) and (end is None or line[0] <= end)
        ]
        read = [query.readings(session, trace.id, from_t=begin, to_t=end) for trace in traces]
        yield _readings(traces, read, told)
        written += sum(map(len, read))
        progress.wrote(min(1.0, written / max(1, state.readings)) if end is not None else 1.0)


def column(trace: TraceRow) -> str:
    """The head of a trace's column: its unit first, so that a name such as +B is no formula."""
    return f"{trace.unit or 'state'} at {trace.name}"


def _head(
    library: Path, session: Path, state: SessionState, traces: Sequence[TraceRow]
) -> Iterator[tuple[str, ...]]:
    head, line = state.head, read_line(session)
    unit, visit = _unit_and_visit(library, state)
    live = state.state is State.LIVE
    yield "unit", unit
    yield "visit", visit
    yield "run", head.title or session.stem
    yield "plan", head.plan_name or "none"
    bench, switches = _bench(head.bench)
    yield "bench", bench or "none"
    yield "off-switches", *(switches or ("none",))
    yield "started", head.started, _local(head.started)
    yield "ended", state.ended or ("still open when this was written" if live else "not known")
    yield "outcome", "still open" if live else state.outcome, state.reason
    yield (
        "off-switch at the close",
        line.off or "not known",
        "a person said that it is off" if line.told_off else "",
    )
    if head.rate != 1.0:
        yield "simulated bench", f"{head.rate:g} times as fast"
    yield "readings", str(state.readings)
    yield "recorded by", head.program
    yield "seconds", "since the start, in the run's own time"
    yield "blank", _BLANKS
    yield "note (written later)", "a note written after the run was closed"
    yield "trace", "unit", "measured", "meter", "shows", "side", "losing it counted as a broken limit"
    for trace in traces:
        states = f" ({', '.join(f'{n} {word}' for n, word in enumerate(STATES))})" if _is_state(trace) else ""
        critical = "yes" if trace.critical else "no"
        unit_of = (trace.unit or "state") + states
        yield trace.name, unit_of, trace.function, trace.meter or trace.name, trace.role, trace.side, critical


def _is_state(trace: TraceRow) -> bool:
    return trace.function == Function.STATE


def _unit_and_visit(library: Path, state: SessionState) -> tuple[str, str]:
    """Both as a person calls them; a library that has them no more leaves them open."""
    head = state.head
    unit = next((unit for unit in query_unit.units(library) if unit.id == head.unit), None)
    if unit is None:
        return "none" if not head.unit else "not in this library", "none"
    visit = next((visit for visit in query_unit.visits(library, unit.id) if visit.id == head.visit), None)
    serial = f", serial {unit.serial}" if unit.serial else ""
    complaint = f": {visit.complaint}" if visit is not None and visit.complaint else ""
    return f"{unit.name}{serial}", f"visit {visit.number:04}{complaint}" if visit is not None else "none"


def _bench(text: str) -> tuple[str, tuple[str, ...]]:
    """The name of a bench and its off-switches, by kind and label; empty where its text tells neither."""
    try:
        bench = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return "", ()
    entries = bench.get("off_switch", [])
    switches = [entry for entry in entries if isinstance(entry, dict)] if isinstance(entries, list) else []
    named = (f"{one.get('kind', '')} {one.get('job') or one.get('supply') or ''}".strip() for one in switches)
    return str(bench.get("name", "")), tuple(named)


def _local(utc: str) -> str:
    try:
        return utc_moment(utc).astimezone().isoformat(" ", timespec="seconds")
    except ValueError:
        return ""


def _told(session: Path) -> Iterator[tuple[int, str]]:
    """What happened, what was noted and which parts were taken, with their plan times."""
    for event in query.events(session):
        yield event.t, f"{event.kind}: {event.text}"
    for note in query.remarks(session):
        yield note.t, f"note (written later): {note.text}" if note.late else f"note: {note.text}"
    for taken in query.taken(session):
        body = taken.body
        value = body.get("value")
        read = f"{value!r} {body.get('unit', '')}" if value is not None else body.get("outcome", "")
        yield taken.t, f"part taken: {body.get('designator', '')} {read}"


def _stretches(session: Path, traces: Sequence[TraceRow]) -> Iterator[tuple[int | None, int | None]]:
    """Stretches of plan time, both ends included, in which no trace has more readings than are held at a time."""
    begin: int | None = None
    while (end := query.nth_time(session, [trace.id for trace in traces], begin, _AT_ONCE)) is not None:
        yield begin, end
        begin = end + 1
    yield begin, None


def _readings(traces: Sequence[TraceRow], read: Sequence[Series], told: list[tuple[int, str]]) -> list[str]:
    """The lines of one stretch; what was read or happened at one moment stands in one line."""
    moments = np.array([t for t, _ in told], dtype=np.int64)
    times = np.unique(np.concatenate([moments, *(series.t for series in read)]))
    said: dict[int, list[str]] = {}
    for place, (_, text) in zip(np.searchsorted(times, moments), told, strict=True):
        said.setdefault(int(place), []).append(text)
    columns = []
    for trace, series in zip(traces, read, strict=True):
        cells = [""] * len(times)
        places = np.searchsorted(times, series.t).tolist()
        for place, value, outcome in zip(places, series.value.tolist(), series.outcome.tolist(), strict=True):
            if outcome == _OK:
                cells[place] = repr(value)
            else:
                said.setdefault(place, []).append(f"{trace.name}: {OUTCOMES[outcome]}")
        columns.append(cells)
    seconds = [_seconds(t) for t in times.tolist()]
    last = [_quoted("; ".join(said[place])) if place in said else "" for place in range(len(times))]
    return [",".join(cells) + "\r\n" for cells in zip(seconds, *columns, last, strict=True)]


def _seconds(t: int) -> str:
    """Nanoseconds as seconds, no digit lost and none too many."""
    whole, rest = divmod(abs(t), SECOND)
    digits = f"{rest:09}".rstrip("0")
    return f"{'-' if t < 0 else ''}{whole}{'.' if digits else ''}{digits}"


def _row(*cells: str) -> str:
    return ",".join(_quoted(cell) for cell in cells) + "\r\n"


def _quoted(text: str) -> str:
    """A text as a cell: never a formula, whatever a person wrote."""
    harmless = f"'{text}" if text.lstrip(" \N{NO-BREAK SPACE}")[:1] in tuple(_FORMULA) else text
    doubled = harmless.replace('"', '""')
    return f'"{doubled}"'
