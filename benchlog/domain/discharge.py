"""Whether a reservoir was seen to discharge: believed only along a curve from above 5 V to under 1 V.

Pure: fed with each reading of a reservoir's trace from off on, and asked how it stands. Off is a cut, or what
came before one: a unit put off for a drill or a change falls from there. A step to nothing, a
reading that is missing or not believed, a trace that never showed charge: none of them proves anything, and
only a meter across the capacitor's own terminals does. What was seen under 1 V is read again after a minute,
since a capacitor brings some of its charge back (dielectric absorption, 1 to 10 %: practice of the trade).
"""

import math
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.trace import SECOND, STALE_AT_LEAST, STALE_INTERVALS, Trace

HOLDS = (Role.RAIL, Role.REGULATED, Role.SUPPLY_VOLTS)
"""What a trace may show that holds charge when it is off."""
FROM, UNDER = 5.0, 1.0
"""Volts above which a reservoir must have been seen, and below which it then counts as low."""
STEEPEST = 5.0
"""What falls by more than this factor in a second has stepped: from 5 V to 1 V is that much."""
NOTHING = 0.2
"""Volts below which a step is lost in what a coarse meter shows."""
ON_THE_WAY = 2
"""Readings between 5 V and 1 V that a curve must have, and under 1 V to count: one alone may be anything."""
RISE, RISE_VOLTS, BACK_VOLTS = 0.05, 0.3, 0.1
"""What lies above the lowest by more than this share and so many volts has risen; of what was low, so many volts."""
LOOK_BACK = 10.0
"""Plan seconds whose fall is looked at; a bleeder alone makes 1 %/s."""
LEAST_FALL = 0.02
"""The share that must be gone in what is looked at, or nothing is seen to fall."""
AGAIN_AFTER = 60.0
"""Plan seconds after which what was seen low is read again, and what shows nothing is waited for no longer."""
LONGEST = 600.0
"""Plan seconds after which a run closes by itself, whatever its reservoirs hold."""
MEASURE = "measure across the capacitor's own terminals"


class Charge(StrEnum):
    """How a reservoir stands after off."""

    STANDS = "still charged"
    FALLING = "falling"
    DECAYED = "decayed"
    STAYED = "stayed low"
    REBOUND = "rebound"
    NOT_PROVEN = "not proven"


SEEN_LOW = (Charge.DECAYED, Charge.STAYED)
"""Where it was seen to decay and has not come back: low by this meter, and never safe."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How one reservoir stands, and that in words; `volts` None where no number is believed."""

    charge: Charge
    text: str
    volts: float | None = None


def time_to(level: float, rows: Sequence[tuple[float, float]]) -> float | None:
    """Seconds until a fall reaches `level` volts, going on as in `rows`; None where they are not seen to fall.

    Rows are (seconds, volts), oldest first. A least-squares line through ln V over t, by V = V0 exp(-t / tau).
    Rough: a bleeder alone falls ever slower.
    """
    found = [(t, math.log(abs(volts))) for t, volts in rows if abs(volts) >= NOTHING]
    if len(found) < 3 or len(found) < len(rows):
        return None
    mean_t, mean_y = (sum(column) / len(found) for column in zip(*found, strict=True))
    below = sum((t - mean_t) ** 2 for t, _ in found)
    slope = sum((t - mean_t) * (y - mean_y) for t, y in found) / below if below > 0.0 else 0.0
    if slope * (found[-1][0] - found[0][0]) > -LEAST_FALL:
        return None
    return max(0.0, (math.log(level) - found[-1][1]) / slope)


class Reservoir:
    """One trace from off on; times are plan nanoseconds, `rate` how fast they run."""

    def __init__(self, trace: Trace, t: int, rate: float) -> None:
        self._plan: TracePlan = trace.plan
        self._floor = STALE_AT_LEAST * rate
        self._recent: deque[tuple[int, float]] = deque(maxlen=512)
        self._pace = 0.0
        self._lost = ""
        self._broken = f"never seen above {FROM:g} V"
        self._lowest = math.inf
        self._passed = self._under = 0
        self._low_at: int | None = None
        self._again: float | None = None
        self._back = False
        self._up_at: int | None = None
        if trace.value is None or trace.doubt:
            self._lost = trace.doubt
            return
        self._recent.append((min(trace.t, t), trace.magnitude))
        self._up_at = t if trace.magnitude >= UNDER else None
        if trace.magnitude > FROM:
            self._begin(trace.magnitude)

    def reading(self, value: float | None, t: int, why: str = "") -> None:
        """Take a reading; `value` None where it is missing or not believed, and `why` that is."""
        if value is None or not math.isfinite(value):
            self._lost = why or "no reading"
            return
        size, self._lost = abs(value), ""
        if self._recent:
            self._follow(size, t)
        if self._broken and size > FROM:
            self._begin(size)
        self._recent.append((t, size))
        if size >= UNDER:
            self._up_at = t
        if not self._broken:
            self._go_down(size, t)

    def _begin(self, size: float) -> None:
        """A curve begins here."""
        self._broken, self._lowest = "", size
        self._passed = self._under = 0
        self._low_at = self._again = None
        self._back = False

    def _break(self, why: str) -> None:
        """What is read from here on proves nothing, until it is seen above 5 V again."""
        self._broken = self._broken or why
        self._low_at = None

    def _follow(self, size: float, t: int) -> None:
        """Whether this reading goes on along the curve of those before it."""
        last = self._recent[-1][0]
        gap = (t - last) / SECOND
        if gap > self._patience:
            self._break("a gap in its readings")
        self._pace += (gap - self._pace) * (0.1 if self._pace else 1.0)
        most, since = size, t
        for at, before in reversed(self._recent):
            if t - at > SECOND and at != last:
                break
            if before > most:
                most, since = before, at
        if most >= NOTHING and size < most / STEEPEST ** max(1.0, (t - since) / SECOND):
            self._break(f"it stepped to {self._plan.shown(size)}")
        elif self._low_at is None and size > self._lowest + max(RISE * self._lowest, RISE_VOLTS):
            self._break("it has risen")

    def _go_down(self, size: float, t: int) -> None:
        if UNDER <= size <= FROM:
            self._passed += 1
        self._under = self._under + 1 if size < UNDER else 0
        if self._low_at is None and self._under >= ON_THE_WAY:
            if self._passed < ON_THE_WAY:
                self._break("it was gone before it was seen to fall")
                return
            self._low_at = t
        elif self._low_at is not None:
            self._look_again(size, t)
        self._lowest = min(self._lowest, size)

    def _look_again(self, size: float, t: int) -> None:
        """It was low: whether it comes back, now or after a minute."""
        if size >= UNDER and size > self._lowest + BACK_VOLTS:
            self._back, self._again = True, None
        elif self._back and self._under >= ON_THE_WAY:
            self._back, self._low_at, self._lowest = False, t, size
        elif self._again is None and size < UNDER and t - (self._low_at or t) >= AGAIN_AFTER * SECOND:
            self._again = size

    @property
    def _patience(self) -> float:
        return max(self._floor, STALE_INTERVALS * self._pace)

    def standing(self, t: int) -> Standing:
        """How it stands at `t`."""
        if not self._recent or self._lost:
            return self._not_proven(self._lost or "no reading", None)
        at, volts = self._recent[-1]
        if (t - at) / SECOND > self._patience:
            return self._not_proven("no reading any more", None)
        if self._broken:
            return self._not_proven(self._broken, volts)
        if self._back:
            return Standing(Charge.REBOUND, f"rebound to {self._plan.shown(volts)}", volts)
        if self._low_at is not None and volts < UNDER:
            if self._again is None:
                text = f"under {UNDER:g} V, seen to decay from above {FROM:g} V"
                return Standing(Charge.DECAYED, text, volts)
            text = (
                f"under {UNDER:g} V, seen to decay; after {AGAIN_AFTER:g} s {self._plan.shown(self._again)}"
            )
            return Standing(Charge.STAYED, text, volts)
        if self._falls(t):
            return Standing(Charge.FALLING, "falling", volts)
        return Standing(Charge.STANDS, "still charged, not seen to fall", volts)

    def _not_proven(self, why: str, volts: float | None) -> Standing:
        return Standing(Charge.NOT_PROVEN, f"not proven, {why}: {MEASURE}", volts)

    def _falls(self, t: int) -> bool:
        reach = max(LOOK_BACK, 4.0 * self._pace) * SECOND
        rows = [(at / SECOND, volts) for at, volts in self._recent if t - at <= reach]
        return time_to(UNDER, rows) is not None

    def holds(self, t: int) -> bool:
        """Whether there is anything left to see of it, so that the run stays open."""
        standing = self.standing(t)
        if standing.charge is Charge.STAYED or self._up_at is None:
            return False
        if standing.charge is not Charge.NOT_PROVEN or (standing.volts or 0.0) >= UNDER:
            return True
        return t - self._up_at < AGAIN_AFTER * SECOND


class Discharge:
    """The reservoirs of one run from off on; `traces` as the guard has them at that moment."""

    def __init__(self, traces: Mapping[str, Trace], t: int, rate: float = 1.0) -> None:
        self._begun = t
        self._reservoirs = {
            name: Reservoir(trace, t, rate) for name, trace in traces.items() if trace.plan.role in HOLDS
        }

    def begin(self, t: int) -> None:
        """Off was asked now: for so long as it may be kept open counts from here, whatever fell before."""
        self._begun = t

    def reading(self, name: str, value: float | None, t: int, why: str = "") -> None:
        """Take a reading of any trace; `value` None where it is not believed, and `why`."""
        reservoir = self._reservoirs.get(name)
        if reservoir is not None:
            reservoir.reading(value, t, why)

    def standings(self, t: int) -> dict[str, Standing]:
        """How each reservoir stands."""
        return {name: reservoir.standing(t) for name, reservoir in self._reservoirs.items()}

    def to_follow(self, t: int) -> bool:
        """Whether any is still worth watching; ten minutes after off none is."""
        return not self.too_long(t) and any(reservoir.holds(t) for reservoir in self._reservoirs.values())

    def too_long(self, t: int) -> bool:
        """Whether the run has been kept open for as long as it may be."""
        return t - self._begun >= LONGEST * SECOND
