"""A clip that is being moved: its trace rests for a while, and is trusted anew after that.

While it rests, what its meter reads is of nothing in particular: it is kept as no number, breaks no limit and
mends none. No clock and no I/O; wire time comes with each call, in nanoseconds.
"""

from dataclasses import dataclass

from benchlog.domain.guard import Broken, Guard
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.reading import Outcome, Reading
from benchlog.domain.seen import Verdict
from benchlog.domain.trace import LOST, SECOND, STALE_AT_LEAST, STALE_INTERVALS, Trace
from benchlog.domain.trust import Trust
from benchlog.errors import BadInput

RESTS = 20.0
"""Seconds of wire time in which a clip must be back in its place."""
DOUBT = Outcome.CLIP.value
_NO_CLIP = (Role.SUPPLY_VOLTS, Role.SUPPLY_AMPS, Role.SUPPLY_STATE)


def has_clip(trace: TracePlan) -> bool:
    """Whether a clip stands between the unit and what reads that trace."""
    return trace.role not in _NO_CLIP


@dataclass(slots=True)
class _Moving:
    """One clip on its way: until when, whether the unit was on, and when its meter last gave a number meanwhile."""

    until: int
    live: bool
    back: int | None = None


class Clips:
    """The clips of one run that are being moved."""

    def __init__(self, guard: Guard, trust: Trust) -> None:
        self._guard = guard
        self._trust = trust
        self._moving: dict[str, _Moving] = {}

    def touch(self, name: str, t: int, wire: int) -> Verdict:
        """Somebody takes the clip of that trace in hand, or says that it is on again; BadInput where it cannot rest."""
        trace = self._guard.traces.get(name)
        if trace is None:
            known = ", ".join(self._guard.traces)
            raise BadInput("clip", f"no trace is called {name!r}", f"the plan has {known}")
        moving = self._moving.get(name)
        if moving is not None:
            if not self._is_back(trace, moving, wire):
                left = max(moving.until - wire, 0) / SECOND
                raise BadInput("clip", f"no reading of {name} has come back yet", f"{left:.0f} s are left")
            return self._ends(name)
        if not has_clip(trace.plan):
            raise BadInput("clip", f"{name} is read by the supply itself", "it has no clip to move")
        if trace.plan.critical and not self._guard.watched_without(name, t):
            problem = f"{name} is the last critical trace that looks"
            raise BadInput("clip", problem, "switch off, move the clip, switch on again")
        self._moving[name] = _Moving(wire + int(RESTS * SECOND), self._guard.feed.on_since is not None)
        self._guard.rest_trace(name)
        trace.doubt, trace.patience = DOUBT, LOST
        text = f"the clip of {name} is being moved: it rests for {RESTS:.0f} s, then it counts as lost"
        return Verdict(Outcome.CLIP, DOUBT, text)

    def take(self, name: str, reading: Reading) -> Verdict | None:
        """What is thought of a reading while its clip is moved; None where it is not."""
        moving = self._moving.get(name)
        if moving is None:
            return None
        if reading.outcome is Outcome.OK:
            moving.back = reading.at
        return Verdict(Outcome.CLIP, DOUBT)

    def look(self, t: int, wire: int) -> tuple[dict[str, Verdict], tuple[Broken, ...]]:
        """Whose time is over: those that read again, and what is broken by those that do not.

        After off nothing ends by itself: what a clip in the air reads then proves none.
        """
        if not self._guard.armed:
            return {}, ()
        ended: dict[str, Verdict] = {}
        broken: tuple[Broken, ...] = ()
        off = self._guard.feed.on_since is None
        over = [name for name, one in self._moving.items() if wire >= one.until and not (one.live and off)]
        for name in over:
            trace, moving = self._guard.traces[name], self._moving[name]
            back = self._is_back(trace, moving, wire)
            verdict = self._ends(name)
            if back:
                ended[name] = verdict
            else:
                broken += self._guard.lost_clip(name, RESTS, t, wire)
        return ended, broken

    def left(self, wire: int) -> list[tuple[str, float]]:
        """The traces whose clips are being moved, and the seconds each has left."""
        return [(name, max(moving.until - wire, 0) / SECOND) for name, moving in self._moving.items()]

    @staticmethod
    def _is_back(trace: Trace, moving: _Moving, wire: int) -> bool:
        fresh = max(STALE_INTERVALS * trace.interval, STALE_AT_LEAST)
        return moving.back is not None and wire - moving.back <= fresh * SECOND

    def _ends(self, name: str) -> Verdict:
        moving, trace = self._moving.pop(name), self._guard.traces[name]
        if moving.back is not None:
            trace.good_wire = moving.back
            trace.first_wire = trace.first_wire or moving.back
        self._guard.resting.discard(name)
        return self._trust.touched(name)
