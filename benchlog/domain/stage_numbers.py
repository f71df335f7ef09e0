"""A run stage by stage: what each trace read at the end, its lowest and highest, when it settled, what became of it.

Times are plan seconds since the run's start, values SI. No clock and no I/O.
"""

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from benchlog.domain.plan_trace import Role
from benchlog.domain.stages import LIVE, State

Floats = npt.NDArray[np.float64]

SETTLED_FOR = 600.0
"""Seconds that a trace must stay within its band to count as settled; common practice, no source."""
LONGEST_GAP = 30.0
"""Seconds without a reading after which nobody knows whether it stayed."""
_MOST = 200_000
"""Readings that are looked at one by one; of more, each stretch gives its extremes, which are what counts."""
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


@dataclass(frozen=True, slots=True, eq=False)
class TraceRead:
    """A trace with its readings, NaN where one carries no number; `limited` where the plan bounds it."""

    name: str
    role: Role | None
    unit: str
    t: Floats
    value: Floats
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
    return tuple(_row(span, trace, happened) for span in stays for trace in traces)


def _row(span: Span, trace: TraceRead, happened: Sequence[Happened]) -> StageRow:
    # What was read at the very moment of an event led to it.
    first, last = np.searchsorted(trace.t, (span.begin, span.end), side="right")
    t, value = trace.t[first:last], trace.value[first:last]
    numbers = value[np.isfinite(value)]
    settled, unsettled = settling(t, value, span.steady, trace.role)
    return StageRow(
        span,
        trace.name,
        trace.unit,
        final=float(numbers[-1]) if len(numbers) else None,
        lowest=float(numbers.min()) if len(numbers) else None,
        highest=float(numbers.max()) if len(numbers) else None,
        settled=settled,
        unsettled=unsettled,
        result=_result(span, trace, value, happened),
        role=trace.role,
    )


def _result(span: Span, trace: TraceRead, value: Floats, happened: Sequence[Happened]) -> Result:
    own = [event for event in happened if event.trace == trace.name and event.t <= span.end]
    here = {event.kind for event in own if event.t >= span.begin}
    doubts = [event.doubt for event in own if event.kind == "doubt"]
    if "trip" in here:
        return Result.TRIPPED
    if not len(value):
        return Result.NOTHING
    if not np.isfinite(value[-1]):
        return Result.LOST
    if doubts and doubts[-1]:
        return Result.DOUBTED
    if "warn" in here:
        return Result.WARNED
    return Result.HELD if trace.limited else Result.UNWATCHED


# --- settled ---------------------------------------------------------------------------------------


def settling(t: Floats, value: Floats, since: float, role: Role | None) -> tuple[float | None, str]:
    """Seconds after `since` from which a trace stayed settled to its end, or None and why not.

    Settled is absolute near zero: over any ten minutes an offset moves by no more than 1 mV, an idle by no more than
    2 % or 0.2 mV, whichever is more; a sink by no more than 0.5 K in any five minutes. A reading without a number,
    or none for half a minute, begins it anew. Other traces follow the mains and have no such rule.
    """
    later = t >= since
    t, value = t[later], value[later]
    numbers = value[np.isfinite(value)]
    rule = _rule(role, float(numbers[-1]) if len(numbers) else 0.0)
    if rule is None:
        return None, FOLLOWS
    if not len(numbers) or t[-1] - since < SETTLED_FOR:
        return None, "too short"
    from_t = _last_unrest(*_thinned(t, value), *rule)
    if from_t is None or t[-1] - from_t < SETTLED_FOR:
        return None, "not settled"
    return max(0.0, from_t - since), ""


def _rule(role: Role | None, final: float) -> tuple[float, float] | None:
    """How far it may move, and within how many seconds."""
    if role is Role.OFFSET:
        return 1e-3, SETTLED_FOR
    if role is Role.IDLE:
        return max(0.02 * abs(final), 0.2e-3), SETTLED_FOR
    return (0.5, 300.0) if role is Role.SINK else None


def _last_unrest(t: Floats, value: Floats, band: float, window: float) -> float | None:
    """The first time from which no two readings within the window differ by more than the band; None for never.

    Goes backwards and keeps the readings that may still be the highest or lowest of a window.
    """
    highs: deque[int] = deque()
    lows: deque[int] = deque()
    slack = 1e-9 * max(band, 1.0)  # of the arithmetic, not of the meter
    for i in range(len(t) - 1, -1, -1):
        last = i + 1
        if not np.isfinite(value[i]) or (last < len(t) and t[last] - t[i] > LONGEST_GAP):
            return float(t[last]) if last < len(t) else None
        while highs and t[highs[0]] - t[i] > window:
            highs.popleft()
        while lows and t[lows[0]] - t[i] > window:
            lows.popleft()
        if highs and (value[highs[0]] - value[i] > band + slack or value[i] - value[lows[0]] > band + slack):
            return float(t[last])
        while highs and value[highs[-1]] <= value[i]:
            highs.pop()
        while lows and value[lows[-1]] >= value[i]:
            lows.pop()
        highs.append(i)
        lows.append(i)
    return float(t[0])


def _thinned(t: Floats, value: Floats) -> tuple[Floats, Floats]:
    """The readings themselves, of very many the lowest, the highest and the last without a number of each stretch."""
    if len(t) <= _MOST:
        return t, value
    size = -(-len(t) * 3 // _MOST)
    whole = len(t) // size * size
    blocks = value[:whole].reshape(-1, size)
    heads = np.arange(len(blocks)) * size
    missing = ~np.isfinite(blocks)
    picked = (
        heads + np.where(missing, np.inf, blocks).argmin(axis=1),
        heads + np.where(missing, -np.inf, blocks).argmax(axis=1),
        (heads + size - 1 - missing[:, ::-1].argmax(axis=1))[missing.any(axis=1)],
        heads,
        np.arange(whole, len(t)),
    )
    kept = np.unique(np.concatenate(picked))
    return t[kept], value[kept]


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
