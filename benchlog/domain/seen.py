"""What one trace has read of late, and what is thought of a reading."""

from dataclasses import dataclass

from benchlog.domain import follow
from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import Outcome
from benchlog.domain.trace import Trace

PROVES = {Role.OFFSET: 0.005, Role.IDLE: 0.001}
"""Volts by which such a trace must move with the source; the kick of switching on counts."""
_LEAST = {
    Role.MAINS: 10.0,
    Role.LAMP: 2.0,
    Role.RAIL: 1.0,
    Role.OFFSET: 0.02,
    Role.IDLE: 0.005,
    Role.REGULATED: 0.5,
    Role.SINK: 3.0,
    Role.CAN: 3.0,
    Role.MIDPOINT: 0.5,
    Role.DROP: 0.05,
    Role.MAINS_AMPS: 0.05,
    Role.SUPPLY_VOLTS: 0.5,
    Role.SUPPLY_AMPS: 0.01,
}
"""The least leap worth a word, in the unit of the trace."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is thought of one reading.

    Attributes:
        outcome: what it counts as; OK where it is believed.
        doubt: why it is not, in a few words.
        text: one sentence where this is news; empty where it was said already.
        judged: whether it may break a limit all the same: it may be real.
        relief: whether the news is a good one.
    """

    outcome: Outcome
    doubt: str = ""
    text: str = ""
    judged: bool = False
    relief: bool = False


class Seen:
    """What one trace has read of late."""

    __slots__ = (
        "changed_at",
        "count",
        "differed",
        "flashes",
        "flashing",
        "followed",
        "follower",
        "fresh",
        "high",
        "leap",
        "leaps",
        "least",
        "low",
        "odd",
        "odd_since",
        "odd_target",
        "raw",
        "resolution",
        "rested",
        "same",
        "standing",
        "start",
        "stood",
        "told_still",
        "trace",
    )

    def __init__(self, trace: Trace, follower: follow.Follower | None) -> None:
        self.trace = trace
        self.follower = follower
        self.leap = _LEAST.get(trace.plan.role, 0.0)
        self.least = min(self.leap, PROVES.get(trace.plan.role, self.leap))
        """The least change from one reading to the next that is looked at."""
        self.low, self.high = 1.0, -1.0  # before the first reading it stands nowhere
        self.raw = ""
        self.count = self.differed = self.same = 0
        self.changed_at = 0
        self.resolution: float | None = None
        self.odd: float | None = None
        """The reading before, where it was one in another decade, or none that was believed."""
        self.odd_since = 0
        self.odd_target = 0.0
        self.leaps = self.flashes = 0
        self.flashing = 0
        """Flashes in a row just now."""
        self.rested: float | None = None
        """What it last read while the source was still, for one that has yet to be seen to move."""
        self.stood: float | None = None
        """What one of two sides last read while the source was still, or its trimmer may have been turned."""
        self.start: float | None = None
        """What it read when it began to be unproven."""
        self.fresh = self.followed = self.told_still = False
        """Unproven since the start of the run; seen to move with the source; told that it has not."""
        self.standing: Verdict | None = None

    def stand_at(self, value: float, resolution: float | None, t: int) -> None:
        """It stands at another value from now on."""
        band = follow.band(self.trace.plan.role, value, resolution)
        self.low, self.high = value - band, value + band
        self.resolution = resolution
        self.count = self.differed = self.same = 0
        self.changed_at = t
