"""Leads whose own resistance was measured by touching their tips: what to take off, and for how long."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from benchlog.textfile import key

HOLDS = timedelta(hours=1)
"""A null counts for so long (bench habit, no source): plugs warm up, and leads get changed."""

HIGHEST = 2.0
"""Leads and contacts of more than this, in ohms, want cleaning instead of a null (bench habit, no source)."""


@dataclass(frozen=True, slots=True)
class LeadNull:
    """What shorted leads read on two-wire ohms, and when."""

    value: float = key("what the shorted leads read", unit="ohm", low=0.0, high=HIGHEST)
    time: datetime = key("when, in UTC")

    def left(self, now: datetime) -> timedelta:
        """How long it still holds; nothing or less where it does not, also where it lies ahead of `now`."""
        age = now - self.time
        return HOLDS - age if age >= -_CLOCKS_DIFFER else timedelta(0)


_CLOCKS_DIFFER = timedelta(minutes=1)
"""A null from another computer's clock may lie this far ahead."""
