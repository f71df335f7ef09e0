"""A run as a CSV file: its conditions at the head, then every reading, event and note in time.

The full readings, never what is displayed. UTF-8 with its mark, so that a spreadsheet takes it for what it is; texts
are quoted, and one that a spreadsheet would take for a formula begins with an apostrophe.
"""

import io
import os
import tomllib
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from benchlog.domain.reading import STATES, Function
from benchlog.errors import BadInput, Busy
from benchlog.store import csv_lines, query, query_unit
from benchlog.store.ids import utc_moment
from benchlog.store.index import read_line
from benchlog.store.lock import hold
from benchlog.store.opening import plain_errors
from benchlog.store.records import SessionState, State, TraceRow

PART = ".benchlog-part"
"""What a file is called while it is written; one that nobody writes any more is taken away by the next."""
_AT_ONCE = 20_000
"""Readings of each trace that are held in memory at a time, however unevenly they lie in time."""
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
    with plain_errors(target), part_of(target) as (part, raw):
        with io.TextIOWrapper(raw, encoding="utf-8-sig", newline="") as out:
            for text in _pieces(library, session, progress):
                out.write(text)
                if progress.cancelled:
                    break
            out.flush()
            os.fsync(out.fileno())
        if not progress.cancelled:
            part.replace(target)
    return not progress.cancelled


@contextmanager
def part_of(target: Path) -> Iterator[tuple[Path, BinaryIO]]:
    """The file that is to become `target`, open and held; whatever happens none is left, nor one of who was killed.

    `Busy` where another writes it just now.
    """
    part = target.with_name(f"{target.name}{PART}")
    for left in target.parent.glob(f"*{PART}"):
        _take_away(left)
    try:
        raw = part.open("xb")
    except FileExistsError:
        raise Busy(str(target), "is being written just now", "wait for that, or name another file") from None
    try:
        with raw:
            hold(raw)
            yield part, raw
    finally:
        part.unlink(missing_ok=True)


def _take_away(left: Path) -> None:
    """Remove what was half written, unless somebody writes it or it cannot be removed: then it is in nobody's way."""
    with suppress(OSError):
        with left.open("r+b") as stream:
            dead = hold(stream)
        if dead:
            left.unlink()


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


def _pieces(library: Path, session: Path, progress: Progress) -> Iterator[str]:
    state, traces = query.state(session), query.traces(session)
    line, names = csv_lines.line, [trace.name for trace in traces]
    yield "".join(line(*cells) for cells in _head(library, session, state, traces))
    yield line() + line("seconds", *(column(trace) for trace in traces), "what happened")
    told = sorted(_told(session))
    moments = [t for t, _ in told]
    written = 0
    for begin, end in _stretches(session, traces):
        first = 0 if begin is None else bisect_left(moments, begin)
        last = len(told) if end is None else bisect_right(moments, end)
        read = [query.numbers(session, trace.id, begin, end) for trace in traces]
        yield csv_lines.lines(names, read, told[first:last])
        written += sum(len(t) for t, _, _ in read)
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
