"""After a trip: whether the same plan may climb back with short dwells, or why not.

Pure, and it refuses whatever it does not know. A short dwell says nothing of the unit's health: every limit,
proof and wait stands as in any other run. The figures are bench habit (common practice, no source).
"""

import math
from dataclasses import dataclass

from benchlog.domain.plan_limit import LimitKind
from benchlog.domain.plan_trace import Role

WITHIN = 3600.0
"""Seconds after the trip in which the climb may be short."""
SHORT_DWELL = 10.0
"""Seconds the source rests at each stage below the one reached before."""
RAIL_DOWN = 5.0
"""Volts by magnitude under which a rail is back."""
SINK_BACK = 5.0
"""Kelvin by which a sink may stand above what it read when that run was switched on."""

_DRAWS = frozenset(
    {Role.LAMP, Role.DROP, Role.MAINS_AMPS, Role.SUPPLY_VOLTS, Role.SUPPLY_AMPS, Role.SUPPLY_STATE}
)
_SHORT = frozenset({LimitKind.APART, LimitKind.POLARITY, LimitKind.SUPPLY})
_LOW = frozenset({LimitKind.LOW, LimitKind.RAIL_LOW})
_WARMS = frozenset({Role.IDLE, Role.SINK})
"""Their limit may have been the first to see a runaway: hot, it would be the first again."""
_RUNS_AWAY = frozenset({LimitKind.RUNAWAY, LimitKind.RISE})


@dataclass(frozen=True, slots=True)
class Tripped:
    """What is known of the trip: whose limit of which kind (None: no limit), and the highest stage reached.

    `off_known`: whether somebody, or a meter, has seen the unit off since.
    """

    role: Role | None
    kind: LimitKind | None
    reached: int
    off_known: bool = True


@dataclass(frozen=True, slots=True)
class Sink:
    """A metered sink in degrees Celsius: when the run was switched on, and now; None where it is not read."""

    name: str
    at_on: float | None
    now: float | None


@dataclass(frozen=True, slots=True)
class Reentry:
    """The answer: back to the stage of this index with short dwells, or why not in one sentence."""

    back_to: int = -1
    why_not: str = ""

    @property
    def allowed(self) -> bool:
        """Whether the climb may be short."""
        return not self.why_not

    def dwell(self, index: int, planned: float) -> float:
        """Seconds of dwell at a stage; the plan's own at the stage reached before, and above it."""
        return min(SHORT_DWELL, planned) if self.allowed and index < self.back_to else planned


def reentry(
    tripped: Tripped, seconds: float, cause: str, rails: dict[str, float | None], sinks: tuple[Sink, ...]
) -> Reentry:
    """Whether a climb may be short `seconds` after a trip, by a person's word on its cause and what is read now.

    `rails` holds every metered rail by name in volts, None where it is not read.
    """
    why = forbidden(tripped) or _of_time(seconds) or _of_cause(cause)
    why = why or _of_rails(rails) or _of_sinks(tripped.role, sinks)
    return Reentry(why_not=why) if why else Reentry(back_to=tripped.reached)


def forbidden(tripped: Tripped) -> str:
    """Why no climb after such a trip may be short, whatever is read or named; empty where one may be."""
    if not tripped.off_known:
        return "STILL LIVE: nothing has shown that the unit went off after that trip."
    role, kind = tripped.role, tripped.kind
    if role is None or kind is None:
        return "No limit of the plan tripped: go up with full dwells."
    if kind in _RUNS_AWAY:
        return "It was running away: go up with full dwells."
    if role in _DRAWS:
        return "The unit drew too much, as with a short: go up with full dwells."
    if kind in _SHORT or (role in (Role.RAIL, Role.MIDPOINT, Role.REGULATED) and kind in _LOW):
        return "The rails fell or stood apart, as with a short: go up with full dwells."
    if tripped.reached < 0:
        return "No stage was reached before the trip: go up with full dwells."
    return ""


def _of_time(seconds: float) -> str:
    if not 0.0 <= seconds <= WITHIN:
        return "The trip is not known to be less than an hour ago: go up with full dwells."
    return ""


def _of_cause(cause: str) -> str:
    return "" if cause.strip() else "No cause has been named: write down what tripped it."


def _of_rails(rails: dict[str, float | None]) -> str:
    if not rails:
        return "No meter shows that a rail is down: go up with full dwells."
    for name, volts in rails.items():
        if volts is None or not math.isfinite(volts):
            return f"{name} is not read now: let its meter read, then ask again."
        if abs(volts) >= RAIL_DOWN:
            return f"{name} still stands at {volts:.1f} V: wait until it is under {RAIL_DOWN:g} V."
    return ""


def _of_sinks(role: Role | None, sinks: tuple[Sink, ...]) -> str:
    if role in _WARMS and not sinks:
        return "No meter shows that the sinks are back to their start: go up with full dwells."
    for sink in sinks:
        if sink.now is None or not math.isfinite(sink.now):
            return f"{sink.name} is not read now: let its meter read, then ask again."
        if sink.at_on is None or not math.isfinite(sink.at_on):
            return f"{sink.name} was not read at switch-on: go up with full dwells."
        above = sink.now - sink.at_on
        if above > SINK_BACK:
            return f"{sink.name} is {above:.1f} K above its start: wait until it is within {SINK_BACK:g} K."
    return ""
