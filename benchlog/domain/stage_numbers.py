"""A run stage by stage: what each trace read at the end, its lowest and highest, when it settled, what became of it.

Times are plan seconds since the run's start, in stretches of readings nanoseconds; values SI. No clock and no I/O.
"""

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from benchlog.domain.detail import Items
from benchlog.domain.plan_trace import Role
from benchlog.domain.stages import LIVE, State
from benchlog.domain.trace import SECOND

SETTLED_FOR = 600.0
"""Seconds that a trace must stay within its band to count as settled; common practice, no source."""
LONGEST_GAP = 30.0
"""Seconds without a reading after which nobody knows whether it stayed."""
FOLLOWS = "follows the mains"
"""Why a trace has no rule by which it settles."""
_UP = LIVE - {State.SETTING, State.SWITCHING_ON}


class Result(StrEnum):
    """What became of a trace at a stage, the gravest first."""

    TRIPPED = "tripped"
    LOST = "no number at the end"
    DOUBTED = "not believed"
    WARNED = "warned"
    NOTHING = "nothing read"
    HELD = "no limit broke"
    UNWATCHED = "no limit on it"


@dataclass(frozen=True, slots=True)
class Happened:
    """An event as far as it counts here; `index` and `state` of a stage, `trace` and `doubt` of a trace."""

    t: float
    kind: str
    name: str = ""
    index: int = -1
    state: str = ""
    trace: str = ""
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class Span:
    """One stay at a stage: from when its source is moved, set at `steady`, until it is left.

    `again` counts the stays before this one: a person may go back.
    """

    name: str
    index: int
    begin: float
    steady: float
    end: float
    again: int = 0

    @property
    def called(self) -> str:
        """Its name, and which stay it is where there are several."""
        return f"{self.name}, stay {self.again + 1}" if self.again else self.name


@dataclass(frozen=True, slots=True)
class Came:
    """What a trace came to during one stay; None where there is no number.

    Attributes:
        count: its readings, with or without a number; `numbered` whether the last of them has one.
        settled, unsettled: as `settling` has it.
    """

    count: int = 0
    final: float | None = None
    lowest: float | None = None
    highest: float | None = None
    numbered: bool = True
    settled: float | None = None
    unsettled: str = ""


@dataclass(frozen=True, slots=True)
class TraceRead:
    """A trace and what it came to at each stay; `limited` where the plan bounds it."""

    name: str
    role: Role | None
    unit: str
    came: tuple[Came, ...]
    limited: bool = True


@dataclass(frozen=True, slots=True)
class StageRow:
    """One trace at one stage; None where there is no number.

    Attributes:
        settled: seconds from the source being set to the first moment from which it stayed settled; None where it
            did not, and then `unsettled` says why.
    """

    span: Span
    trace: str
    unit: str
    final: float | None
    lowest: float | None
    highest: float | None
    settled: float | None
    unsettled: str
    result: Result
    role: Role | None = None


def spans(happened: Iterable[Happened], end: float) -> tuple[Span, ...]:
    """The stays at stages; the last one ends with the off, or at `end`."""
    found: list[Span] = []
    here: tuple[str, int, float, float | None] | None = None

    def close(t: float) -> None:
        if here is not None:
            name, index, begin, steady = here
            again = sum(span.index == index and span.name == name for span in found)
            found.append(Span(name, index, begin, begin if steady is None else steady, t, again))

    for event in happened:
        if event.kind not in ("stage", "off"):
            continue
        up = event.kind == "stage" and event.state in tuple(_UP)
        if here is not None and (not up or (event.name, event.index) != here[:2]):
            close(event.t)
            here = None
        if up:
            here = here or (event.name, event.index, event.t, None)
            if here[3] is None and event.state != State.MOVING:
                here = (*here[:3], event.t)
    close(end)
    return tuple(found)


def stage_rows(
    stays: Sequence[Span], traces: Sequence[TraceRead], happened: Sequence[Happened]
) -> tuple[StageRow, ...]:
    """Every trace at every stay, stay by stay."""
    return tuple(
        _row(span, trace, trace.came[n], happened) for n, span in enumerate(stays) for trace in traces
    )


def _row(span: Span, trace: TraceRead, came: Came, happened: Sequence[Happened]) -> StageRow:
    return StageRow(
        span,
        trace.name,
        trace.unit,
        final=came.final,
        lowest=came.lowest,
        highest=came.highest,
        settled=came.settled,
        unsettled=came.unsettled,
        result=_result(span, trace, came, happened),
        role=trace.role,
    )


def _result(span: Span, trace: TraceRead, came: Came, happened: Sequence[Happened]) -> Result:
    own = [event for event in happened if event.trace == trace.name and event.t <= span.end]
    here = {event.kind for event in own if event.t >= span.begin}
    doubts = [event.doubt for event in own if event.kind == "doubt"]
    if "trip" in here:
        return Result.TRIPPED
    if not came.count:
        return Result.NOTHING
    if not came.numbered:
        return Result.LOST
    if doubts and doubts[-1]:
        return Result.DOUBTED
    if "warn" in here:
        return Result.WARNED
    return Result.HELD if trace.limited else Result.UNWATCHED


# --- settled ---------------------------------------------------------------------------------------


def can_settle(role: Role | None) -> bool:
    """Whether there is a rule by which a trace settles; others follow the mains."""
    return settle_rule(role, 0.0) is not None


def settling(read: Items, final: float | None, since: float, role: Role | None) -> tuple[float | None, str]:
    """Seconds after `since` from which a trace stayed settled to its end, or None and why not.

    Settled is absolute near zero: over any ten minutes an offset moves by no more than 1 mV, an idle by no more than
    2 % or 0.2 mV of its `final` number, whichever is more; a sink by no more than 0.5 K in any five minutes. A reading
    without a number, or none for half a minute, begins it anew. Other traces follow the mains and have no such rule.

    `read` are its readings from `since` on. Buckets of them give it to within their width, as only their extremes
    count; one with a reading that has no number, or with half a minute of silence, counts as a whole.
    """
    rule = settle_rule(role, final or 0.0)
    if rule is None:
        return None, FOLLOWS
    begin = round(since * SECOND)
    if final is None or not read.n.any() or read.last_t[-1] - begin < SETTLED_FOR * SECOND:
        return None, "too short"
    from_t = _last_unrest(read.only(slice(known_from(read), None)), *rule)
    if from_t is None or read.last_t[-1] - from_t < SETTLED_FOR * SECOND:
        return None, "not settled"
    return max(0.0, (from_t - begin) / SECOND), ""


def known_from(read: Items) -> int:
    """The first of some readings, or buckets, from which on each has a number and none is long after the one before."""
    longest = LONGEST_GAP * SECOND
    whole = (read.n == read.rows) & (read.silence <= longest)
    late = np.flatnonzero(read.first_t[1:] - read.last_t[:-1] > longest)
    return int(max(np.flatnonzero(~whole).max(initial=-1), late.max(initial=-1))) + 1


def settle_rule(role: Role | None, final: float) -> tuple[float, float] | None:
    """How far what ends at `final` may move, and within how many seconds; None where it follows the mains."""
    if role is Role.OFFSET:
        return 1e-3, SETTLED_FOR
    if role is Role.IDLE:
        return max(0.02 * abs(final), 0.2e-3), SETTLED_FOR
    return (0.5, 300.0) if role is Role.SINK else None


def _last_unrest(read: Items, band: float, window: float) -> int | None:
    """The first time from which no two readings within the window differ by more than the band; None without any.

    Goes backwards and keeps the readings that may still be the highest or lowest of a window.
    """
    t, value = _points(read)
    highs: deque[int] = deque()
    lows: deque[int] = deque()
    reach = round(window * SECOND)
    most = band + 1e-9 * max(band, 1.0)  # the slack is that of the arithmetic, not of the meter
    for i in range(len(t) - 1, -1, -1):
        now, one = t[i], value[i]
        while highs and t[highs[0]] - now > reach:
            highs.popleft()
        while lows and t[lows[0]] - now > reach:
            lows.popleft()
        if highs and (value[highs[0]] - one > most or one - value[lows[0]] > most):
            return t[i + 1]
        while highs and value[highs[-1]] <= one:
            highs.pop()
        while lows and value[lows[-1]] >= one:
            lows.pop()
        highs.append(i)
        lows.append(i)
    return t[0] if t else None


def _points(read: Items) -> tuple[list[int], list[float]]:
    """The readings, of each bucket its lowest and its highest, in time."""
    rising = read.low_t <= read.high_t
    t = np.column_stack((np.minimum(read.low_t, read.high_t), np.maximum(read.low_t, read.high_t)))
    value = np.column_stack((np.where(rising, read.low, read.high), np.where(rising, read.high, read.low)))
    kept = np.ones(t.shape, dtype=bool)
    kept[:, 1] = t[:, 1] > t[:, 0]
    return t[kept].tolist(), value[kept].tolist()


# --- two runs --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Pair:
    """One trace at one stage in two runs; None where a run has no such stage or trace."""

    one: StageRow | None
    two: StageRow | None

    @property
    def row(self) -> StageRow:
        """Either of them, for what names it."""
        row = self.one or self.two
        if row is None:
            raise ValueError("a pair of nothing")
        return row

    def difference(self, number: str) -> float | None:
        """How much more the second one reads: of `final`, `lowest`, `highest` or `settled`; None without both."""
        one = getattr(self.one, number) if self.one is not None else None
        two = getattr(self.two, number) if self.two is not None else None
        return None if one is None or two is None else two - one


def paired(one: Sequence[StageRow], two: Sequence[StageRow]) -> tuple[Pair, ...]:
    """The rows of two runs side by side by stage, stay and trace; first in the order of the first run."""
    others = {_key(row): row for row in two}
    pairs = [Pair(row, others.pop(_key(row), None)) for row in one]
    return (*pairs, *(Pair(None, row) for row in others.values()))


def _key(row: StageRow) -> tuple[str, int, str, str]:
    return row.span.name, row.span.again, row.trace, row.unit
