"""Runaway: a value that rises by window after window, and rises the faster the longer it lasts.

A sound unit warms up as well, but bends: what it gains in a minute becomes less. The numbers are calculated
from small thermal models (no source).
"""

from collections import deque
from collections.abc import Sequence
from statistics import median

from benchlog.domain.plan_limit import Limit
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.source import Feed
from benchlog.domain.trace import SECOND

WINDOW = 60.0
"""Seconds of one rise."""
RISES = 5
"""Rises that are looked at: the last two against the two that end three windows earlier."""
AFTER_ON = 20.0
AFTER_TOUCH = 60.0
"""Windows start this many seconds after the source has come to rest, or a trimmer was touched."""
EDGE = 10.0
"""Seconds at the end of a window whose median stands for it: one odd reading is no rise."""
IDLE_FROM = 1.3
"""Times the target from which on an idle current may run away."""
SINK_FROM = 15.0
"""Kelvin above its value at switch-on from which on a sink may."""
IDLE_RISE = 0.02
SINK_RISE = 0.5
"""What each of the last three windows must gain: a fraction of the value, kelvin."""
IDLE_COUNT = 1e-4
"""Volts of a meter's last digit where the plan does not say; a rise below it is no rise."""


def begins(feed: Feed, touched: int | None) -> int | None:
    """Plan time from which on windows may run; None while the unit is off or its source moves."""
    if feed.on_since is None or feed.moving:
        return None
    from_on = feed.on_since + int(AFTER_ON * SECOND)
    # `changed` is a move only where it came after switching on; coming up is what the first 20 s are for.
    moved = feed.steady_since if feed.changed > feed.on_since else None
    waits = [quiet + int(AFTER_TOUCH * SECOND) for quiet in (moved, touched) if quiet is not None]
    return max(from_on, *waits) if waits else from_on


class Windows:
    """The value of one trace at the edges of its windows, newest last; fed with each reading that is believed.

    `start` is where the windows may begin, None where they may not: any change of it starts them anew.
    """

    __slots__ = ("_near", "_next", "_start", "at_on", "edges")

    def __init__(self) -> None:
        self.edges: deque[float] = deque(maxlen=RISES + 1)
        self.at_on: float | None = None
        """The first value read while it was on."""
        self._start: int | None = None
        self._next = 0
        self._near: list[float] = []

    def take(self, t: int, value: float, start: int | None, *, on: bool) -> None:
        """Take one reading at plan time `t`."""
        if not on:
            self.at_on = None
        elif self.at_on is None:
            self.at_on = value
        if start is None or start != self._start:
            self._anew(start)
        if start is None:
            return
        if t >= self._next + WINDOW * SECOND:
            # Nothing was read for a whole window: nobody knows what it gained.
            self._anew(t)
            self._start = start
        if t >= self._next:
            if self._near:
                self.edges.append(median(self._near))
            else:
                self.edges.clear()
            self._near.clear()
            self._next += int(WINDOW * SECOND)
        if t >= self._next - EDGE * SECOND:
            self._near.append(value)

    def forget(self) -> None:
        """What it gained so far says nothing about what it gains from now on."""
        self._anew(None)

    def _anew(self, start: int | None) -> None:
        self.edges.clear()
        self._near.clear()
        self._start = start
        self._next = 0 if start is None else start + int(EDGE * SECOND)


def runs_away(limit: Limit, plan: TracePlan, windows: Windows) -> float | None:
    """The gain of the last window where a trace runs away, in its unit; None where it does not.

    Each of the last three windows gains enough, and either of the last two no less than either of the two that
    end three earlier: a rise that bends is not one.
    """
    if len(windows.edges) <= RISES:
        return None
    value = windows.edges[-1]
    sink = plan.role is Role.SINK
    if sink:
        high = windows.at_on is not None and value >= windows.at_on + SINK_FROM
        least = SINK_RISE
    else:
        value = abs(value)
        high = value > IDLE_FROM * (limit.target or 0.0)
        least = IDLE_RISE * value
    count = limit.count if limit.count is not None else (0.0 if sink else IDLE_COUNT)
    rises = _rises([edge if sink else abs(edge) for edge in windows.edges], count)
    # Window against window, not sum against sum: one knock or bad contact in a bending rise is no acceleration.
    grows = min(rises[2:]) >= least and min(rises[3:]) >= max(rises[:2])
    return rises[-1] if high and least > 0.0 and grows else None


def _rises(edges: Sequence[float], count: float) -> list[float]:
    """What each window gained; a rise below one count of the meter is none."""
    gains = [later - earlier for earlier, later in zip(edges, list(edges)[1:], strict=False)]
    # Decimal figures are not exact in binary: a rise of one count counts.
    return [0.0 if 0.0 < gain < count * (1.0 - 1e-6) else gain for gain in gains]
