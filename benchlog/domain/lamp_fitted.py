"""Whether the lamp that is fitted looks larger than the plan's: it takes much less than that one should.

A lamp too small trips by its own limit, a larger one only looks good: it lets more through, and what is allowed
across it goes by the plan's. Told once a stage, as a warning: a unit that draws little looks the same.
"""

from benchlog.domain.guard import Guard
from benchlog.domain.reference import table_share
from benchlog.domain.stages import Stages, State
from benchlog.domain.trace import SECOND

SHORT_OF_RUN, SHORT_OF_TABLE = 0.75, 0.65
"""The share of what it should read below which the next larger lamp is likelier: a good run knows, a table roughly.

Between 40, 60, 100 and 150 W each takes about half to two thirds of what the one before takes.
"""
TABLE_FROM = 0.9
"""The share of full mains from which what a lamp's watts say holds: below, a unit draws too little to tell."""
FOR = 5.0
"""Plan seconds at rest for which it must read so little."""


class LampFitted:
    """Looks at the lamp of one run; times are plan nanoseconds."""

    def __init__(self, guard: Guard) -> None:
        self._guard = guard
        self._since: int | None = None
        self._said_at = -1

    def look(self, stages: Stages, t: int) -> str:
        """The sentence, once at a stage; empty where nothing is to be said or nobody can tell."""
        here = stages.state in (State.DWELLING, State.READY, State.HELD) and stages.astray() is None
        if not here or stages.index == self._said_at:
            self._since = None
            return ""
        said = self._too_little()
        if not said:
            self._since = None
            return ""
        self._since = t if self._since is None else self._since
        if t - self._since < FOR * SECOND:
            return ""
        self._said_at = stages.index
        return said

    def _rails_stand(self) -> bool:
        """Whether each raw rail reads what is left to it: a unit that lacks one draws less behind any lamp."""
        guard = self._guard
        for rail in guard.rails:
            shown = guard.shown(rail)
            if shown is None or rail.plan.sign * shown < guard.rail_band(rail.plan.name).low:
                return False
        return True

    def _too_little(self) -> str:
        guard, feed = self._guard, self._guard.feed
        lamp, shown, watts = guard.lamp, guard.shown(guard.lamp), guard.lamp_watts
        applied, _ = guard.applied()
        if lamp is None or shown is None or watts == 0.0 or applied <= 0.0:
            return ""
        if feed.moving or feed.on_since is None or lamp.t <= feed.changed or not self._rails_stand():
            return ""
        good = guard.reference
        known = good.lamp_share(applied, watts) if good is not None else None
        larger = f"a larger lamp than the plan's {watts:g} W may be fitted"
        reads = f"{larger}: {lamp.plan.name} {lamp.plan.shown(shown)}"
        if good is not None and known is not None:
            if abs(shown) >= SHORT_OF_RUN * known * applied:
                return ""
            should = lamp.plan.shown(known * applied)
            return f"{reads}, {should} in {good.called}"
        table = table_share(watts)
        if table is None or applied < TABLE_FROM * guard.plan.source.mains:
            return ""
        if abs(shown) >= SHORT_OF_TABLE * table * applied:
            return ""
        return f"{reads}, about {table * applied:.0f} V expected, unless the unit draws little"
