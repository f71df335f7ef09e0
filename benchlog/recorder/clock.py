"""The two kinds of time: wire time is real, plan time may run at a rate beside it.

Deadlines, staleness, heartbeats and a relay's drop-out are wire time. Dwell, arming, persistence
and stored times are plan time, which differs from wire time only beside a simulated bench that runs
at the same rate.
"""

import sys
import time
from datetime import UTC, datetime

SECOND = 1_000_000_000

# Before 3.13 the monotonic clock of Windows stands still for 15.6 ms at a time; both are system-wide.
wire_now = (
    time.perf_counter_ns if sys.platform == "win32" and sys.version_info < (3, 13) else time.monotonic_ns
)


def utc_now() -> str:
    """The present as UTC in ISO form, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Clock:
    """Plan time in nanoseconds since this clock was made, `rate` times as fast as wire time."""

    __slots__ = ("_origin", "rate")

    def __init__(self, rate: float = 1.0, origin: int | None = None) -> None:
        self.rate = rate
        self._origin = wire_now() if origin is None else origin

    def now(self) -> int:
        """Plan time now."""
        return self.of(wire_now())

    def both(self) -> tuple[int, int]:
        """Plan time and wire time of this one moment."""
        wire = wire_now()
        return self.of(wire), wire

    def of(self, wire: int) -> int:
        """Plan time at a moment of wire time."""
        gone = wire - self._origin
        return gone if self.rate == 1.0 else int(gone * self.rate)
