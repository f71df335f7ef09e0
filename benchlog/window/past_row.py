"""The runs of a library as the list shows them: outcome, when, which unit, how long, why. No Qt."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

from benchlog.domain.offproof import CutOutcome
from benchlog.domain.sought import Finder
from benchlog.domain.trace import SECOND
from benchlog.store import query
from benchlog.store.bin import Binned, binned
from benchlog.store.ids import utc_moment
from benchlog.store.index import line_of, read_line
from benchlog.store.records import Ending, SessionLine, State
from benchlog.store.run_facts import RunFacts, facts_of, findables, run_facts
from benchlog.window import words
from benchlog.window.past_run import PastRun
from benchlog.window.shapes import Shape

OF_ENDING = {
    Ending.COMPLETED: Shape.GOOD,
    Ending.TRIPPED: Shape.STOP,
    Ending.STOPPED: Shape.DOUBT,
    Ending.ALONE: Shape.NOTHING,
    Ending.LOST: Shape.NOTHING,
}


@dataclass(frozen=True, slots=True)
class PastRow:
    """One run of the list; `chosen` where a person made it the reference of its unit."""

    line: SessionLine
    unit: str = ""
    visit: int = 0
    chosen: bool = False

    @property
    def file(self) -> Path:
        """Its file."""
        return self.line.file

    @property
    def live(self) -> bool:
        """Whether it is still being written."""
        return self.line.state is State.LIVE

    @property
    def readable(self) -> bool:
        """Whether there is anything to open."""
        return self.line.state is not State.UNREADABLE

    @property
    def shape(self) -> Shape:
        """How it ended, as a shape; good only where the unit was seen off."""
        if self.live:
            return Shape.HERE
        found = OF_ENDING.get(Ending(self.line.outcome)) if self.line.outcome in tuple(Ending) else None
        if found is Shape.GOOD and self.line.off != CutOutcome.VERIFIED:
            return Shape.DOUBT
        return found or Shape.NOTHING

    @property
    def ending(self) -> str:
        """How it ended, in words."""
        if not self.readable:
            return "cannot be read"
        if self.live:
            return "still open"
        return words.ENDING.get(self.line.outcome, self.line.outcome)

    @property
    def reason(self) -> str:
        """Why, in a line; for a file that cannot be read what is wrong with it."""
        if not self.readable:
            return f"{self.file.name}: {self.line.problem}"
        return self.line.reason

    @property
    def when(self) -> str:
        """Local date and time of its start."""
        return local(self.line.started)

    @property
    def lasted(self) -> str:
        """How long it took."""
        return clock(self.line.ended_t / SECOND) if self.line.ended_t is not None else ""

    @property
    def plan(self) -> str:
        """What was run."""
        return self.line.plan_name or self.line.title or "free run"


@dataclass(frozen=True, slots=True)
class Listed:
    """Every run of a library, newest first, how they are found by words, and those that were deleted.

    `deleted` is the line of the one deleted last.
    """

    rows: tuple[PastRow, ...] = ()
    finder: Finder = Finder(())
    binned: tuple[Binned, ...] = ()
    deleted: SessionLine | None = None
    places: Mapping[str, int] = field(default_factory=dict)
    """Where each run stands, by the name of its file."""


def read_rows(library: Path) -> Listed:
    """Every run of a library, made ready to be looked through."""
    facts = run_facts(library)
    rows = tuple(_row(line, facts) for line in query.sessions(library))
    finder = Finder(findables([(row.line, row.ending) for row in rows], facts))
    away = binned(library)
    last = read_line(away[0].file) if away else None
    return Listed(rows, finder, away, last, {row.file.name: place for place, row in enumerate(rows)})


def row_of(library: Path, run: PastRun) -> PastRow:
    """The line of a run that is open already."""
    line = replace(line_of(run.file, run.state), off=run.off, told_off=run.told_off)
    return _row(line, facts_of(library, line))


def _row(line: SessionLine, facts: RunFacts) -> PastRow:
    unit = facts.units.get(line.unit)
    visit = facts.visits.get(line.visit, 0)
    return PastRow(line, unit.name if unit is not None else "", visit, line.id in facts.chosen)


def clock(seconds: float) -> str:
    """A stretch of time as m:ss, or h:mm:ss."""
    whole = int(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{left:02}" if hours else f"{minutes}:{left:02}"


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def local(utc: str) -> str:
    """A time of the library in local words, with the year where it is another; as it stands where it is none."""
    try:
        moment = utc_moment(utc).astimezone()
    except ValueError:
        return utc
    year = "" if moment.year == datetime.now(UTC).astimezone().year else f" {moment.year}"
    return f"{moment.day} {_MONTHS[moment.month - 1]}{year}, {moment:%H:%M}"


def deleted_words(when: str) -> str:
    """That a run was deleted, by when it began."""
    return f"The run of {when} is deleted."


def about(run: PastRun, row: PastRow) -> str:
    """The line below its name: unit, when, how long, how the off-switch stood, how fast its time went."""
    parts = [row.unit or "no unit", *([f"visit {row.visit:04}"] if row.visit else []), row.when]
    if run.live:
        parts.append(f"{clock(run.length)} so far")
    elif run.length:
        parts.append(f"{clock(run.length)} long")
    if run.off == CutOutcome.VERIFIED:
        parts.append(f"{words.CUT_OUTCOME[CutOutcome.VERIFIED]} at the close")
    if run.failed:
        parts.append(f"{' and '.join(run.failed)} did not act")
    if run.told_off:
        parts.append("you said that it is off")
    if run.state.head.rate != 1.0:
        parts.append(f"simulated bench, {run.state.head.rate:g} times as fast")
    return " · ".join(parts)


def unproven(run: PastRun) -> str:
    """That nothing showed the unit off at the close, where it had been on."""
    if run.live or run.shown_off:
        return ""
    if not run.off:
        return "Nothing shows that the unit was off when this run ended."
    return f"At the close of this run: {words.CUT_OUTCOME.get(run.off, run.off)}."
