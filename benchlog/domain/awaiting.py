"""What must hold at a stage before the next one is offered: its waits, and what is doubted."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from benchlog.domain.follow import SURELY_MOVES
from benchlog.domain.guard import Guard
from benchlog.domain.observed import LAMP, Observation
from benchlog.domain.plan_stage import StagePlan, Wait
from benchlog.domain.plan_trace import Role
from benchlog.domain.spot import Spot, SpotReading
from benchlog.domain.trace import SECOND, Trace

LEAST_RAIL = 0.5
"""Share of what is expected below which no rail is as expected: a band may reach down to nothing."""

LEFT_IN = 0.02
"""Share of the applied volts across the lamp's clips above which a lamp is in where none should be."""


@dataclass(frozen=True, slots=True)
class Awaited:
    """One thing that must hold before the next stage: in words, whether it holds, how far it is."""

    what: str
    holds: bool
    progress: str = ""


class Awaiting:
    """What is awaited at the stage where the run stands; times are plan nanoseconds."""

    def __init__(self, guard: Guard) -> None:
        self._guard = guard
        self._came_at = 0
        self._holds_since: dict[int, int] = {}
        self.observed: dict[Observation, int] = {}
        """What a person told at this stage, and when."""
        self.spots: dict[str, SpotReading | None] = {}
        """What was read at this stage; None where it was skipped."""

    def begin(self) -> None:
        """Another stage is being set."""
        self._holds_since.clear()
        self.observed.clear()
        self.spots.clear()

    def came(self, t: int) -> None:
        """The unit is on at the stage: what held before the source was set says nothing about it."""
        self._came_at = t
        self._holds_since.clear()

    def observe(self, what: Observation, t: int) -> None:
        """A person tells what they see, hear, smell or feel; a lamp is one thing at a time."""
        for other in LAMP if what in LAMP else ():
            self.observed.pop(other, None)
        self.observed[what] = t

    def due(self, stage: StagePlan) -> str:
        """The first spot of a stage that was neither read nor skipped; empty where none is left."""
        return next((spot.name for spot in stage.spot if spot.name not in self.spots), "")

    def said(self, stage: StagePlan, t: int, *, here: bool) -> list[Awaited]:
        """Each thing awaited; `here`: it is on, stands where it should, and nobody is about to set another."""
        found = []
        for i, wait in enumerate(stage.awaits):
            if wait.observed:
                told = self.observed.get(Observation(wait.observed), -1) > self._came_at
                found.append(
                    Awaited(wait.observed, here and told, "" if told else "press its key when it is so")
                )
                continue
            now, progress = self._holds_now(wait, t, here=here)
            if not now:
                self._holds_since.pop(i, None)
            since = self._holds_since.setdefault(i, t) if now else t
            # A steadiness looks back over its own seconds already.
            enough = now and (wait.steady is not None or t - since >= wait.seconds * SECOND)
            found.append(Awaited(_in_words(wait, self._guard), enough, progress))
        found.extend(self._spot(spot) for spot in stage.spot)
        found.extend(self._left_in(here=here))
        found.extend(
            Awaited(f"{name} to be believed", False, trace.doubt)
            for name, trace in self._guard.traces.items()
            if trace.doubt and trace.plan.critical
        )
        found.extend(
            Awaited(f"{name} to be seen to move", False, "it reads what it read before the start")
            for name, trace in self._guard.traces.items()
            if trace.plan.role in SURELY_MOVES and trace.plan.critical and self._yet_to_move(trace)
        )
        return found

    def _left_in(self, *, here: bool) -> Iterator[Awaited]:
        """A lamp that is in where its plan has none: the limits go by what should be fitted."""
        lamp = self._guard.lamp
        if lamp is None or self._guard.lamp_watts > 0.0 or not here or lamp.t <= self._came_at:
            return
        shown = self._guard.shown(lamp)
        if shown is not None and shown > LEFT_IN * self._guard.applied()[0] > 0.0:
            yield Awaited("the lamp to be out", False, f"{lamp.plan.shown(shown)} across it")

    def _spot(self, spot: Spot) -> Awaited:
        """A spot holds once it was read, whatever it read, or skipped: the result is for a person to judge."""
        should = f", should read {spot.should_read}" if spot.should_read else ""
        if spot.name not in self.spots:
            return Awaited(f"{spot.name}{should}", False, "not measured yet")
        read = self.spots[spot.name]
        shown = " ".join(filter(None, (read.shown, read.result))) if read is not None else "skipped"
        return Awaited(f"{spot.name}{should}", True, shown)

    def _holds_now(self, wait: Wait, t: int, *, here: bool) -> tuple[bool, str]:
        trace = self._guard.traces[wait.trace]
        if trace.value is None:
            return False, "no reading"
        if trace.doubt:
            return False, trace.doubt
        if wait.trace in self._guard.quiet:
            return False, "no reading any more"
        if trace.overload_since is not None:
            return False, "beyond the range of its meter"
        progress = trace.plan.shown(trace.value)
        # What was read before the unit came to this stage, or beside it, says nothing about it.
        if not here or trace.t <= self._came_at:
            return False, progress
        if self._yet_to_move(trace):
            progress = f"{progress}, unproven: not seen to move with the source"
            if not trace.looked_at:
                return False, progress
        low = -math.inf if wait.low is None else wait.low
        high = math.inf if wait.high is None else wait.high
        if not low <= trace.value <= high:
            return False, progress
        if wait.as_expected and not self._as_expected(trace):
            return False, progress
        if wait.steady is not None:
            long_enough = t - self._came_at >= wait.seconds * SECOND
            return long_enough and trace.steady(wait.steady, wait.seconds, t), progress
        return True, progress

    def _yet_to_move(self, trace: Trace) -> bool:
        """Whether it was not seen to move since the start, and should have been by now."""
        least = SURELY_MOVES.get(trace.plan.role)
        if not trace.unproven or trace.doubt or least is None:
            return trace.unproven and not trace.doubt
        rail = trace.plan.role is Role.RAIL
        there = self._guard.rail_band(trace.plan.name).expected if rail else self._guard.feed.told
        return there > 2.0 * least

    def _as_expected(self, trace: Trace) -> bool:
        """Whether a raw rail reads what it should; nothing at all is never as expected, whatever the band."""
        band = self._guard.rail_band(trace.plan.name)
        size = (trace.value or 0.0) * trace.plan.sign
        return band.expected > 0.0 and max(band.low, LEAST_RAIL * band.expected) <= size <= band.high


def _in_words(wait: Wait, guard: Guard) -> str:
    shown = guard.traces[wait.trace].plan.shown
    parts = []
    if wait.low is not None and wait.high is not None:
        parts.append(f"between {shown(wait.low)} and {shown(wait.high)}")
    elif wait.low is not None:
        parts.append(f"above {shown(wait.low)}")
    elif wait.high is not None:
        parts.append(f"below {shown(wait.high)}")
    if wait.as_expected:
        parts.append("as expected")
    if wait.steady is not None:
        parts.append(f"steady within {100 * wait.steady:g} % for {wait.seconds:g} s")
    return f"{wait.trace} {', '.join(parts)}"
