"""The one error tree: what can go wrong that is not a bug.

    BenchlogError
        BadInput        what a person typed or a file of theirs holds
        LinkError       what an instrument's wire did
            TimedOut    no answer within its deadline
            Gone        the far end closed, or the adapter was unplugged
            Refused     the far end does not let us in, or says no to a command
            Garbled     an answer that cannot be read
        StoreError      what the library or a session file did
            TooNew      written by a newer benchlog
            Busy        somebody else writes there
            Damaged     not a file of ours, or broken
            Full        no room, or no right, to write

Every other exception is a bug: loud, logged, exit status 1.
"""

from collections.abc import Iterable
from dataclasses import dataclass

WATCH = "benchlog's watch"
"""What the recorder is called to a person: it hears the instruments, guards, switches off and keeps the run."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong: where it stands, what is wrong, and what to do about it.

    `place` is a file with its line or key (`bench.toml: meter[2].address`), a command's
    argument, or an instrument's job. `problem` and `fix` are plain clauses without a full stop.
    """

    place: str
    problem: str
    fix: str = ""

    def __str__(self) -> str:
        sentence = f"{self.place}: {self.problem}" if self.place else self.problem
        sentence = f"{sentence}; {self.fix}" if self.fix else sentence
        return sentence if sentence.endswith("?") else f"{sentence}."


class BenchlogError(Exception):
    """Something a person can understand and put right; carries one fault or several."""

    def __init__(self, place: str, problem: str, fix: str = "") -> None:
        self.faults: tuple[Fault, ...] = (Fault(place, problem, fix),)
        super().__init__(place, problem, fix)

    @property
    def place(self) -> str:
        """Where the first fault stands."""
        return self.faults[0].place

    @property
    def problem(self) -> str:
        """What is wrong at the first fault."""
        return self.faults[0].problem

    @property
    def fix(self) -> str:
        """What to do about the first fault."""
        return self.faults[0].fix

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


class BadInput(BenchlogError):
    """What a person typed, or a file of theirs, cannot be understood or does not fit."""

    @classmethod
    def of(cls, faults: Iterable[Fault]) -> "BadInput":
        """One error that carries every fault of a file at once; `faults` must not be empty."""
        found = tuple(faults)
        error = cls(found[0].place, found[0].problem, found[0].fix)
        error.faults = found
        return error


class LinkError(BenchlogError):
    """An instrument's wire failed; `place` is the instrument's job or address."""


class TimedOut(LinkError):
    """No answer came within its deadline."""


class Gone(LinkError):
    """The far end closed the connection, or the adapter was unplugged."""


class Refused(LinkError):
    """The far end does not let us in, or rejects a command."""


class Garbled(LinkError):
    """An answer came that cannot be read."""


class StoreError(BenchlogError):
    """The library or a session file failed; `place` is its path."""


class TooNew(StoreError):
    """Written by a newer benchlog than this one."""


class Busy(StoreError):
    """Another benchlog has it open for writing."""


class Damaged(StoreError):
    """Not a file of ours, or one that is broken."""


class Full(StoreError):
    """No room, or no right, to write there."""
