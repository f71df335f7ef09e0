"""What every part of a run works with: its clock, where its words go, who can be asked, the alarm."""

from collections.abc import Callable
from dataclasses import dataclass, field

from benchlog.recorder.clock import Clock
from benchlog.recorder.off_hand import Sound
from benchlog.recorder.outlet import Outlet
from benchlog.recorder.prompts import Prompts


@dataclass(slots=True)
class LeftUp:
    """What the run before may have left standing, until somebody says otherwise."""

    dial: bool = False
    failed: dict[str, str] = field(default_factory=dict)
    """Off-switches that did not act when they were last asked, and what was found then."""


def _nothing_against_it() -> None:
    """Where no pedal hangs on the bench."""


@dataclass(frozen=True, slots=True)
class Means:
    """The means of a run."""

    clock: Clock
    outlet: Outlet
    prompts: Prompts
    alarm: Sound
    left_up: LeftUp = field(default_factory=LeftUp)
    may_rise: Callable[[], None] = _nothing_against_it
    """BadInput where nothing may be turned on or up just now: a pedal that cuts is pressed. It never waits."""

    def session_time(self, t: int) -> int:
        """Plan time as it is stored: nanoseconds since the session began."""
        return max(t - self.outlet.zero, 0)
