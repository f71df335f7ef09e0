"""One whole demo on a simulated bench, run to its end, with everything it left behind."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from helpers.program import Ended, Said, benchlog
from helpers.witness import Witness

from benchlog.store import query
from benchlog.store.records import EventRow, ReadingRow, SessionState, TraceRow

SPEED = 5.0
"""A demo goes wrong, and rightly so, where a process gets no turn for as long as a limit lasts, by this divided."""
HANG = 300.0
TRIES = 3
STARVED = ("stood still", "does not answer", "gave no reading to take")
"""What a demo complains of, or ends by, where a process of it got no turn; no fault that is played comes to that."""


@dataclass(frozen=True)
class Case:
    """Which bench is simulated, and what is wrong with the unit."""

    example: str
    fault: str

    def __str__(self) -> str:
        return f"{self.example}, {self.fault}"


@dataclass
class DemoRun:
    """A demo that has ended."""

    case: Case
    ended: Ended
    library: Path

    @cached_property
    def said(self) -> list[Said]:
        """Every line of its `--json` stream."""
        return self.ended.lines

    def of(self, kind: str) -> list[Said]:
        """The lines of one kind."""
        return [line for line in self.said if line["is"] == kind]

    @property
    def summary(self) -> Said:
        """Its last line."""
        return self.said[-1]

    @property
    def session(self) -> Path:
        """The one session that the library holds."""
        (line,) = query.sessions(self.library)
        return line.file

    @cached_property
    def state(self) -> SessionState:
        """How the session stands."""
        return query.state(self.session)

    @cached_property
    def events(self) -> tuple[EventRow, ...]:
        """What the session says happened."""
        return query.events(self.session)

    def event(self, kind: str) -> EventRow:
        """The one event of a kind."""
        (found,) = [event for event in self.events if event.kind == kind]
        return found

    @cached_property
    def traces(self) -> tuple[TraceRow, ...]:
        """The traces of the session."""
        return query.traces(self.session)

    def rows(self, trace: TraceRow) -> list[ReadingRow]:
        """The readings of one trace."""
        return query.rows(self.session, trace.id)

    @cached_property
    def witness(self) -> Witness:
        """What the far end saw."""
        return Witness(self.library / "witness.jsonl")

    @cached_property
    def armed_ns(self) -> int:
        """The moment of arming on the system's monotonic clock."""
        return query.anchors(self.session)[0].wire_ns

    @cached_property
    def closed_ns(self) -> int:
        """The moment of closing on the same clock."""
        return query.anchors(self.session)[-1].wire_ns


def run_demo(case: Case, home: Path) -> DemoRun:
    """Run one case to its end; once more where the machine of the tests stood still in it, so that it could not go on.

    What happens then is right, and is tested elsewhere: it is not what these runs are looked at for.
    """
    for n in range(TRIES):
        run = _run_once(case, home / str(n))
        complained = run.ended.err + str(run.said[-1:])
        if not any(sign in complained for sign in STARVED):
            break
    return run


def _run_once(case: Case, home: Path) -> DemoRun:
    home.mkdir(parents=True, exist_ok=True)
    library = home / "library"
    ended = benchlog(
        *("demo", "--headless", "--json", "--full-witness", "--library", library),
        *("--example", case.example, "--fault", case.fault, "--speed", str(SPEED)),
        home=home,
        hang=HANG,
    )
    # For whoever looks for the reason of a failure.
    (home / "said.jsonl").write_text(ended.out, encoding="utf-8")
    (home / "complained.txt").write_text(ended.err, encoding="utf-8")
    return DemoRun(case, ended, library)
