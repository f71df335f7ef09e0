"""The runs of a library as the list shows them: outcome, when, which unit, how long, why. No Qt."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from benchlog.domain.offproof import CutOutcome
from benchlog.domain.trace import SECOND
from benchlog.errors import BadInput, StoreError
from benchlog.store import query, query_unit
from benchlog.store.ids import utc_moment
from benchlog.store.index import line_of
from benchlog.store.records import Ending, SessionLine, State
from benchlog.window import words
from benchlog.window.past_run import PastRun
from benchlog.window.shapes import Shape

Off = tuple[str, bool]
"""How the off-switch stood at a run's close, and whether a person said that it is off."""

OF_ENDING = {
    Ending.COMPLETED: Shape.GOOD,
    Ending.TRIPPED: Shape.STOP,
    Ending.STOPPED: Shape.DOUBT,
    Ending.ALONE: Shape.NOTHING,
    Ending.LOST: Shape.NOTHING,
}


@dataclass(frozen=True, slots=True)
class PastRow:
    """One run of the list; `off` is known for closed ones that can be read."""

    line: SessionLine
    unit: str = ""
    off: Off = ("", False)

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
        if found is Shape.GOOD and self.off[0] != CutOutcome.VERIFIED:
            return Shape.DOUBT
        return found or Shape.NOTHING

    @property
    def ending(self) -> str:
        """How it ended, in words."""
        if not self.readable:
            return "cannot be read"
        if self.live:
            return "still live"
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

    def holds(self, sought: str) -> bool:
        """Whether every word that is sought stands somewhere in it."""
        texts = (self.ending, self.when, self.unit, self.plan, self.line.title, self.reason, self.file.name)
        text = " ".join(texts).casefold()
        return all(word in text for word in sought.casefold().split())


def read_rows(library: Path, known: Mapping[Path, Off]) -> tuple[PastRow, ...]:
    """Every run of a library, newest first; `known` spares looking again at how a closed one went off."""
    units = {unit.id: unit.name for unit in query_unit.units(library)}
    return tuple(
        PastRow(line, units.get(line.unit, ""), known.get(line.file) or _off_of(line))
        for line in query.sessions(library)
    )


def row_of(library: Path, run: PastRun) -> PastRow:
    """The line of a run that is open already."""
    head = run.state.head
    line = line_of(run.file, run.state)
    units = {unit.id: unit.name for unit in query_unit.units(library)} if head.unit else {}
    return PastRow(line, units.get(head.unit, ""), (run.off, run.told_off))


def _off_of(line: SessionLine) -> Off:
    """How the off-switch stood at the close, where that decides whether a run ended well."""
    if line.outcome != Ending.COMPLETED:
        return "", False
    try:
        closed = query.events(line.file, "closed")
    except (StoreError, BadInput):
        return "", False
    data = closed[-1].data if closed else {}
    return str(data.get("off", "")), bool(data.get("told_off"))


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
