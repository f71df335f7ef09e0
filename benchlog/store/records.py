"""What goes into a session file and comes out of it, as frozen records."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from benchlog.domain.reading import Outcome

NOTHING: Mapping[str, Any] = MappingProxyType({})
"""An empty table that cannot be filled by mistake."""

OUTCOMES = tuple(Outcome)
"""The outcomes of readings in the order that `Series.outcome` counts them."""


class State(StrEnum):
    """Where a session stands; the word in its file and in the index."""

    LIVE = "live"
    NOT_FOLDED = "closed, not folded"
    CLOSED = "closed"
    UNREADABLE = "unreadable"
    """In the index alone: the file is damaged or newer than this program."""


class Ending(StrEnum):
    """How a session ended."""

    COMPLETED = "completed"
    TRIPPED = "tripped"
    STOPPED = "ended by the operator"
    ALONE = "cut when left alone"
    """The window or command that ran it died or fell silent, or this program was told to end."""
    LOST = "not closed"
    """Its recorder ended without closing it; written by the sweep."""


@dataclass(frozen=True, slots=True)
class SessionHead:
    """What a session was started with.

    Attributes:
        id: a UUIDv7.
        started: UTC ISO time of plan time 0.
        unit, visit: ids of the library; empty where there is none.
        plan, bench, profiles: the full texts it ran with, profiles by name.
        plan_name: the plan's own name.
        rate: the speed of plan time; 1 but for a simulated bench.
        program: name and version of the program.
    """

    id: str
    started: str
    title: str = ""
    unit: str = ""
    visit: str = ""
    plan: str = ""
    plan_name: str = ""
    bench: str = ""
    profiles: Mapping[str, str] = field(default_factory=dict)
    rate: float = 1.0
    program: str = ""


class TraceRow(NamedTuple):
    """A live series of a session; `function` and `unit` are code words of `domain.reading`."""

    id: int
    name: str
    unit: str
    function: str
    role: str = ""
    side: str = ""
    meter: str = ""
    critical: bool = False


class ReadingRow(NamedTuple):
    """A reading of a trace; `t` is plan nanoseconds since the start, `value` None unless `ok`."""

    trace: int
    seq: int
    t: int
    value: float | None
    outcome: str
    raw: str = ""


class EventRow(NamedTuple):
    """Something that happened in a session."""

    t: int
    kind: str
    text: str
    data: Mapping[str, Any] = NOTHING


class RemarkRow(NamedTuple):
    """A timed note by the operator; `late` if it was written after the session was closed."""

    id: str
    t: int
    text: str
    late: bool = False


class AnchorRow(NamedTuple):
    """One moment in three clocks: plan nanoseconds, the recorder's monotonic clock, UTC."""

    t: int
    wire_ns: int
    utc: str


class TakenRow(NamedTuple):
    """A part reading taken inside a session, whole, as its message's fields."""

    id: str
    t: int
    body: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class SessionState:
    """A session's head and where it stands; `ended` is UTC and empty while it is live."""

    head: SessionHead
    state: State
    outcome: str = ""
    reason: str = ""
    ended: str = ""
    ended_t: int | None = None
    readings: int = 0


@dataclass(frozen=True, slots=True)
class SessionLine:
    """A session as the list of past runs shows it; `problem` says why a file is unreadable.

    Attributes:
        words: every word of what was written and what happened, as `index.words_of` gives them.
        off: how the off-switch stood at the close, a code word of `CutOutcome`; `told_off` that a person said so.
    """

    id: str
    file: Path
    started: str = ""
    title: str = ""
    unit: str = ""
    visit: str = ""
    plan_name: str = ""
    state: State = State.UNREADABLE
    outcome: str = ""
    reason: str = ""
    ended: str = ""
    ended_t: int | None = None
    readings: int = 0
    rate: float = 1.0
    program: str = ""
    problem: str = ""
    words: str = ""
    off: str = ""
    told_off: bool = False
