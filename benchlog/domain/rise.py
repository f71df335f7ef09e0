"""A rise within a window: by how much a trace has come up from where it stood there.

It asks less than a runaway: not whether the rise bends, only how far it has come while nobody turned anything.
"""

from collections import deque
from operator import attrgetter

from benchlog.domain.plan_limit import Limit
from benchlog.domain.trace import SECOND
from benchlog.domain.watch import RISE_AFTER

LEAST = 4
"""Middles in a window below which nothing is said."""
PARTS = 60
"""So many parts of a window are remembered, not its readings: a meter at full pace would give too many of them.

The edge of a window lies at that of a part; within a part nothing is lost that could be the start of a rise.
"""


def rise_of(limit: Limit) -> tuple[str, float, float]:
    """Of which trace it is, over how many seconds, and after how many of rest: limits alike in these share a `Rise`."""
    after = limit.after_steady if limit.after_steady is not None else RISE_AFTER
    return limit.trace, limit.window, after


class _Part:
    """The middles of one part of a window: how many, the lowest, the highest up to it, the highest of all."""

    __slots__ = ("count", "highest", "lowest", "number", "up_to_lowest")

    def __init__(self, number: int, middle: float) -> None:
        self.number = number
        self.count = 1
        self.lowest = self.up_to_lowest = self.highest = middle

    def add(self, middle: float) -> None:
        """One more."""
        self.count += 1
        self.highest = max(self.highest, middle)
        if middle < self.lowest:
            self.lowest, self.up_to_lowest = middle, self.highest


class Rise:
    """What is remembered of a trace for a limit on its rise; fed with each reading that is believed.

    Args:
        window: seconds of one rise.
        after: seconds of rest after which it is looked for.
    """

    __slots__ = ("_after", "_newest", "_parts", "_still", "_three", "_width", "_window")

    def __init__(self, window: float, after: float) -> None:
        self._window = int(window * SECOND)
        self._width = max(self._window // PARTS, 1)
        self._after = int(after * SECOND)
        self._still = -1
        self._newest = 0.0
        self._three: deque[tuple[int, float]] = deque(maxlen=3)
        # Twice the window, so that what stood before its lowest is known wherever that lies.
        self._parts: deque[_Part] = deque()

    def take(self, t: int, value: float, still: int) -> None:
        """Take one reading at plan time `t`; nobody has turned anything since `still`."""
        if still != self._still:
            # What an inrush or a move has left low is no start of a rise.
            self.forget()
            self._still = still
        self._three.append((t, value))
        if len(self._three) < 3:
            return
        # Of three readings in a row: one odd reading is no rise.
        (at, a), (_, b), (_, c) = self._three
        if at - still < self._after // 2:
            # A dip may have begun before it is looked for; but what an inrush shows early on would hide a rise.
            return
        self._newest = middle = max(min(a, b), min(max(a, b), c))
        number = self._number(at)
        if self._parts and self._parts[-1].number == number:
            self._parts[-1].add(middle)
        else:
            self._parts.append(_Part(number, middle))
        oldest = self._number(t - 2 * self._window)
        while self._parts[0].number < oldest:
            self._parts.popleft()

    def forget(self) -> None:
        """What it read so far says nothing about what it reads from now on."""
        self._three.clear()
        self._parts.clear()

    def found(self, t: int) -> tuple[float, float] | None:
        """From what and to what it has risen by plan time `t`; None where the readings are too few.

        It is reckoned from the lowest, but from no less than was read before that: a joint that opens and closes
        lets a lamp dip and come back, and what comes back has not risen.
        """
        begins = max(self._number(t - self._window), 0)
        window = [part for part in self._parts if part.number >= begins]
        if sum(part.count for part in window) < LEAST:
            return None
        lowest = min(window, key=_lowest)
        first = lowest.up_to_lowest
        for part in self._parts:
            if part is lowest:
                break
            first = max(first, part.highest)
        return first, self._newest

    def _number(self, t: int) -> int:
        """Of the part that plan time lies in; 0 is the first one in which it is armed."""
        return (t - self._still - self._after) // self._width


_lowest = attrgetter("lowest")
