"""The late regulated supply and the loudspeaker relay that hangs on it."""

from collections.abc import Callable

SUPPLY = 24.0
HEADROOM = 2.5
"""The regulator needs this much more than it gives."""
SOFT_START = 0.6
PULL_IN_RAIL, DROP_RAIL = 29.0, 24.0
"""The relay stays silent below about 70 % of mains."""
DELAY = 4.0
"""Seconds all must be well before it pulls in: 2 to 8 are usual."""
OFFSET_LIMIT = 1.0
RELEASE = 0.5
OPEN_LEAVES = 0.2
"""What leaks past an open pass device."""
SHORT_TAKES = 0.3
"""What stays across a shorted one."""


class Protection:
    """The relay between output and terminals; `clicks` counts every move an ear can hear."""

    def __init__(self, tell: Callable[..., None]) -> None:
        self._tell = tell
        self._well = 0.0
        self._ill = 0.0
        self.supply = 0.0
        self.closed = False
        self.clicks = 0

    def step(
        self, seconds: float, rail: float, offset: float, *, opened: bool = False, shorted: bool = False
    ) -> None:
        """Let `seconds` pass with the lower rail at `rail` volts and the larger offset at `offset`.

        `opened` and `shorted` say how the regulator's pass device has died; without a supply no relay moves.
        """
        reach = min(SUPPLY, max(0.0, rail - HEADROOM))
        if opened:
            reach = min(OPEN_LEAVES, rail)
        elif shorted:
            reach = max(0.0, rail - SHORT_TAKES)
        if reach < self.supply:
            self.supply = reach
        else:
            self.supply += (reach - self.supply) * seconds / (SOFT_START + seconds)
        well = not opened and rail > (DROP_RAIL if self.closed else PULL_IN_RAIL) and offset < OFFSET_LIMIT
        self._well = self._well + seconds if well else 0.0
        self._ill = 0.0 if well else self._ill + seconds
        if not self.closed and self._well >= DELAY:
            self._move(True)
        elif self.closed and self._ill >= RELEASE:
            self._move(False)

    def _move(self, closed: bool) -> None:
        self.closed = closed
        self.clicks += 1
        self._tell("speaker relay", closed=closed)
