"""A live series on a test point as the guard sees it: its last good value, its age, its recent past."""

import math
from collections import deque
from collections.abc import Sequence
from itertools import islice, pairwise

from benchlog.domain.plan_trace import TracePlan
from benchlog.domain.reading import Function, Outcome

SECOND = 1_000_000_000
"""Nanoseconds in a second; all times here are integer nanoseconds."""

_KEPT = 8192
"""Enough for the longest wait, ten minutes, at thirteen readings a second."""

STALE_INTERVALS = 3.0
"""No reading for this many of its intervals, at least `STALE_AT_LEAST` seconds: it has gone stale."""
STALE_AT_LEAST = 2.0
LOST = 5.0
"""No reading for this many seconds of wire time: the trace is lost."""
LOST_INTERVALS = 4.0
"""A slow meter may miss two readings in a row, as any meter does now and then, before its trace is lost."""
LOST_AT_MOST = 10.0
"""However slow its meter is: for longer nothing may go unseen."""
_HABIT = 9
"""Readings of late whose median distance is a habit: one late reading is none."""


def lost_after(interval: float) -> float:
    """Seconds without a reading after which a meter that gives one every `interval` seconds counts as lost."""
    return min(max(LOST, LOST_INTERVALS * interval), LOST_AT_MOST)


def _habit(times: Sequence[int]) -> float:
    """The median distance in seconds of times that are nanoseconds, oldest first; 0 for less than two."""
    gaps = sorted(later - earlier for earlier, later in pairwise(times))
    # Of an even number the lower one: it is the late reading that is no habit.
    return gaps[(len(gaps) - 1) // 2] / SECOND if gaps else 0.0


class Trace:
    """The state of one trace; fed with readings in the order they arrived, never asks a clock.

    Plan time `t` and wire time `wire` are nanoseconds. A reading that carries no number never
    replaces the last good value; an overload is remembered apart.
    """

    __slots__ = (
        "_alive_at",
        "_history",
        "doubt",
        "first_wire",
        "good_wire",
        "looked_at",
        "overload_count",
        "overload_since",
        "patience",
        "plan",
        "t",
        "unproven",
        "value",
    )

    def __init__(self, plan: TracePlan) -> None:
        self.plan = plan
        self.value: float | None = None
        self.t = 0
        self.good_wire = 0
        self.first_wire: int | None = None
        self.overload_since: int | None = None
        self.overload_count = 0
        self.doubt = ""
        """Why its newest reading is not believed, in a few words; empty where it is."""
        self.patience = LOST
        """Seconds of wire time for which a doubt about it may last, before it counts as lost; a slow meter's longer."""
        self.unproven = False
        """It has not been seen to move since its clip was put on: what it reads may be nothing at all."""
        self.looked_at = False
        """A person has put its clip on anew since it began to be unproven: told, where it was not seen."""
        self._alive_at: deque[int] = deque(maxlen=_HABIT)
        self._history: deque[tuple[int, float]] = deque(maxlen=_KEPT)

    def take(self, value: float | None, outcome: Outcome, t: int, wire: int) -> None:
        """Take one reading; only a finite number or an overload counts as a sign of life."""
        if outcome is Outcome.OK and value is not None and math.isfinite(value):
            self._alive(wire)
            self.value = value
            self.t = t
            self.overload_since = None
            self.overload_count = 0
            self._history.append((t, value))
        elif outcome is Outcome.OVERLOAD:
            self._alive(wire)
            self.overload_count += 1
            if self.overload_since is None:
                self.overload_since = t

    def forget(self) -> None:
        """What it read says nothing about what its clip is on now."""
        self.value = None
        self.overload_since = None
        self.overload_count = 0
        self._history.clear()

    def _alive(self, wire: int) -> None:
        if self.first_wire is None:
            self.first_wire = wire
        self._alive_at.append(wire)
        self.good_wire = wire

    @property
    def interval(self) -> float:
        """Wire seconds between its signs of life of late, by their median; 0 before the second."""
        return _habit(list(self._alive_at))

    @property
    def lost_after(self) -> float:
        """Seconds of wire time without a reading that is believed, after which it counts as lost."""
        return max(self.patience, lost_after(self.interval))

    @property
    def magnitude(self) -> float:
        """The last good value without its sign; 0 before the first."""
        return abs(self.value) if self.value is not None else 0.0

    def size(self, value: float) -> float:
        """What is bounded: of something that may go either way, such as an offset, its size."""
        return value if self.plan.measures is Function.TEMPERATURE else abs(value)

    @property
    def pace(self) -> float:
        """Plan seconds between its readings of late, by their median; 0 before the second.

        `interval` is wire time, which runs at another rate beside a simulated bench.
        """
        return _habit([t for t, _ in islice(reversed(self._history), _HABIT)][::-1])

    def reach(self, seconds: float) -> float:
        """A window of `seconds`, or of three readings where the meter is too slow to give them in it."""
        return max(seconds, 3.5 * self.pace)

    def recent(self, seconds: float, now: int) -> list[tuple[int, float]]:
        """The readings of the last `seconds` before `now`, oldest first."""
        since = now - int(seconds * SECOND)
        found: list[tuple[int, float]] = []
        for row in reversed(self._history):
            if row[0] < since:
                break
            found.append(row)
        found.reverse()
        return found

    def slope(self, seconds: float, now: int) -> float | None:
        """Least-squares slope over the reach of `seconds`, in units a second.

        None below three readings, or where they span less than half of it.
        """
        rows = self.recent(self.reach(seconds), now)
        if len(rows) < 3 or (rows[-1][0] - rows[0][0]) < 0.5 * seconds * SECOND:
            return None
        n = len(rows)
        mean_t = sum(t for t, _ in rows) / n
        mean_v = sum(v for _, v in rows) / n
        above = sum((t - mean_t) * (v - mean_v) for t, v in rows)
        below = sum((t - mean_t) ** 2 for t, _ in rows)
        return above / below * SECOND if below > 0 else None

    def relative_slope(self, seconds: float, now: int) -> float | None:
        """`slope` as a fraction of the last good value for each second."""
        slope = self.slope(seconds, now)
        if slope is None or self.value is None or self.value == 0.0:
            return None
        return slope / abs(self.value)

    def steady(self, fraction: float, seconds: float, now: int, *, floor: float = 0.0) -> bool:
        """Whether all readings of the last `seconds` lie within `fraction` of their middle, and cover it.

        `floor`: a spread no wider than this is always steady, since near zero no fraction is. A trace
        that is beyond its range, or went stale meanwhile, is not.
        """
        pace = self.pace
        rows = self.recent(seconds + pace, now)
        if len(rows) < 2 or rows[0][0] > now - int(0.9 * seconds * SECOND) or self.overload_since is not None:
            return False
        if now - rows[-1][0] > max(STALE_INTERVALS * pace, STALE_AT_LEAST) * SECOND:
            return False
        values = [v for _, v in rows]
        lowest, highest = min(values), max(values)
        return highest - lowest <= max(fraction * abs(lowest + highest), floor, 1e-9)

    def at(self, t: int) -> float | None:
        """The value at plan time `t`, by a straight line between its neighbours; None outside."""
        later: tuple[int, float] | None = None
        for row in reversed(self._history):
            if row[0] <= t:
                if later is None or row[0] == t:
                    return row[1] if row[0] == t else None
                part = (t - row[0]) / (later[0] - row[0])
                return row[1] + part * (later[1] - row[1])
            later = row
        return None
