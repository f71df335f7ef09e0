"""One limit under watch: for how long it has been broken, and how long until it is armed."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

from benchlog.domain.guard_words import Words
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Action, Limit, LimitKind
from benchlog.domain.source import Feed
from benchlog.domain.trace import SECOND

J = TypeVar("J", bound=Callable[..., object])

NOT_YET = math.inf
"""What must come first before a limit is armed has not begun: nobody can say how long."""

DIRECT, BEHIND_LAMP = 2.0, 5.0
"""Seconds after which reservoirs have followed a source that is steady."""
RISE_AFTER = 30.0
"""Seconds of rest after which a rise is looked for where the plan does not say."""
_AFTER_STEADY = frozenset({LimitKind.LOW, LimitKind.RAIL_LOW, LimitKind.RAIL_HIGH})


@dataclass(frozen=True, slots=True)
class Beyond:
    """How a limit is broken; `at` is the plan time that was judged, where it is not the reading's own."""

    words: Words
    value: float | None
    bound: float | None
    at: int | None = None


def after_steady(limit: Limit, plan: Plan, *, behind: bool) -> float | None:
    """Seconds that a limit waits for the source, or for a supply since it was set; None where it does not wait.

    A supply charges what hangs on it with its limit, C x V / I, the longest of the stages; behind a lamp
    (`behind`) the reservoirs take longer.
    """
    if limit.kind is LimitKind.SUPPLY and limit.capacitance > 0.0:
        stages = [stage for stage in plan.stage if stage.volts and stage.current_limit]
        charging = [limit.capacitance * (one.volts or 0.0) / (one.current_limit or 1.0) for one in stages]
        return max(limit.after_steady or 0.0, *charging, 0.0)
    if limit.after_steady is not None:
        return limit.after_steady
    if limit.kind is LimitKind.RISE:
        return RISE_AFTER
    if limit.kind in _AFTER_STEADY or limit.of_trace is not None:
        return BEHIND_LAMP if behind else DIRECT
    return None


class Watch(Generic[J]):
    """One limit of the plan with the state it is judged by.

    What its kind comes to is looked up once, not at every reading: how it judges, whether it rests while
    the source moves, how long it waits for the source, and how many nanoseconds it must stay broken.
    """

    __slots__ = (
        "after",
        "after_lamp",
        "count",
        "gate_since",
        "judge",
        "lasting",
        "limit",
        "of_supply",
        "rests",
        "said",
        "since",
    )

    def __init__(self, limit: Limit, judge: J, plan: Plan) -> None:
        self.limit = limit
        self.judge = judge
        self.rests = limit.rests_while_moving
        self.of_supply = limit.kind is LimitKind.SUPPLY
        self.after = after_steady(limit, plan, behind=False)
        self.after_lamp = after_steady(limit, plan, behind=True)
        self.lasting = limit.seconds * SECOND
        self.since: int | None = None
        self.count = 0
        self.said: Action | None = None
        self.gate_since: int | None = None

    def change(self, limit: Limit) -> None:
        """Another figure of the same limit: it is counted anew against it."""
        self.limit = limit
        self.lasting = limit.seconds * SECOND
        self.rest()

    def rest(self) -> None:
        """Forget what was broken: it is not armed, or holds again."""
        self.since = None
        self.count = 0
        self.said = None

    def broke(self, t: int, follows: Action) -> bool:
        """Count one broken reading, whatever `follows`; whether that is enough, said once.

        Where it was told as a warning and now trips, as when what it is held against is read again, it is
        counted anew: one odd reading of that other trace is no trip.
        """
        if self.said is Action.WARN and follows is Action.TRIP:
            self.rest()
        if self.since is None:
            self.since = t
        self.count += 1
        enough = self.count >= self.limit.readings and t - self.since >= self.lasting
        if not enough or self.said is not None:
            return False
        self.said = follows
        return True

    def arms_in(self, feed: Feed, t: int) -> float:
        """Plan seconds until it is armed, 0 where it is; `NOT_YET` where what it waits for has not begun."""
        limit, left = self.limit, 0.0
        if limit.lamp_watts is not None and limit.lamp_watts != feed.lamp_watts:
            return NOT_YET
        if limit.gate is not None:
            if self.gate_since is None:
                return NOT_YET
            left = limit.gate.seconds - (t - self.gate_since) / SECOND
        if self.rests and (feed.moving or feed.on_since is None):
            return NOT_YET
        if limit.after_on > 0.0:
            if feed.on_since is None:
                return NOT_YET
            left = max(left, limit.after_on - (t - feed.on_since) / SECOND)
        return max(left, self._steady_in(feed, t), 0.0)

    def _steady_in(self, feed: Feed, t: int) -> float:
        """Until the source has rested, or for a supply's state been set, for long enough."""
        after = self.after_lamp if feed.lamp_watts > 0.0 else self.after
        if self.of_supply:
            return NOT_YET if feed.on_since is None else (after or 0.0) - (t - feed.changed) / SECOND
        if after is None:
            return 0.0
        return NOT_YET if feed.steady_since is None else after - (t - feed.steady_since) / SECOND
