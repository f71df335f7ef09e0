"""What feeds the unit just now, and what its raw rails should read behind it."""

from dataclasses import dataclass

from benchlog.domain import plan as plans
from benchlog.domain.plan_limit import Limit
from benchlog.domain.trace import SECOND, Trace

MOVING_SLOPE = 0.01
"""An applied voltage that moves by more than this fraction a second is being turned."""

MOVING_FROM = 10.0
"""Volts: below this 1 % a second would be less than a meter's noise, and 1 % of this a second counts."""

STEADY_FRACTION = 0.02
STEADY_FLOOR = 0.2
"""Volts by which anything may wander while at rest: near zero no fraction is ever steady."""
STEADY_SECONDS = 3.0
LONGEST_MOVE = 30.0
SLOPE_WINDOW = 3.0
MAINS_ON, LAMP_ON, RAIL_ON = 2.0, 1.0, 5.0
"""Volts above which a mains meter, a lamp or a growing rail shows that the unit is fed."""
TOGETHER = 0.05
ASTRAY, ASTRAY_OF_MAINS = 0.15, 0.05
"""A metered source this far from its setting, or this share of full mains, does not stand there."""
STANDS_STILL, STANDS_STILL_SECONDS = 0.005, 30.0
"""A rail that has come no lower by this share in so many seconds falls no more, however it wanders."""


@dataclass(frozen=True, slots=True)
class Band:
    """What a raw rail should read, by magnitude, in volts."""

    expected: float
    low: float
    high: float


def rail_band(
    source: plans.Source,
    applied: float,
    lamp: float | None,
    limit: Limit | None = None,
    known: float | None = None,
    *,
    behind: bool,
) -> Band:
    """The expected magnitude of a raw rail: as the unit's good run has shown, else ratio x left - diode drop.

    The band is the larger of 10 % and the limit's floor. Behind a lamp, until a good run has shown it, 25 % is
    allowed below: a rectifier draws its current in peaks, so that lamp and unit do not simply add up (common
    practice, no source). `known` is what the good run reads on so many volts, `behind`
    whether a lamp stands in series.
    """
    left = max(applied - (lamp or 0.0), 0.0)
    expected = known if known is not None else max(source.ratio * left - source.diode_drop, 0.0)
    floor = limit.floor if limit else 1.5
    fraction = limit.fraction if limit else None
    below = fraction if fraction is not None else (0.25 if behind and known is None else 0.10)
    above = fraction if fraction is not None else 0.10
    return Band(expected, expected - max(below * expected, floor), expected + max(above * expected, floor))


def room(source: plans.Source, setting: float) -> float:
    """Volts by which a metered source may miss its setting and still stand there."""
    return max(ASTRAY * setting, ASTRAY_OF_MAINS * source.mains)


class Stored:
    """Whether a rail above its band is only what its reservoir still holds.

    Turned down, the source gives way at once and a reservoir in its own time. What it holds never rises: a rail
    that has not risen since it was last inside its band, or since the unit was off, is beyond it because the
    source came down.
    """

    __slots__ = ("_low", "_low_at", "_most", "beyond", "stands")

    def __init__(self) -> None:
        self._most: float | None = None
        """Up to here it has not risen; None where it has, and what it reads is fed to it."""
        self.beyond = False
        """Whether it is above its band by what it holds."""
        self.stands = False
        """Whether it has stood there for so long that it falls no more."""
        self._low, self._low_at = 0.0, 0

    def take(self, size: float, high: float, t: int, *, fed: bool) -> None:
        """A reading of the rail, by magnitude, with the upper end of its band at that moment of plan time.

        `fed`: whether the unit is known to be on. What falls before is all from the reservoir; what rises then
        is fed already, and nobody has said so yet.
        """
        here, most, was_beyond = size + max(STEADY_FRACTION * size, STEADY_FLOOR), self._most, self.beyond
        self.beyond = False
        if not fed:
            self._most = here if most is None else min(most, here)
        elif size <= high:
            # Out of the widest band it was in is not held, however slowly it went.
            self._most = min(here, max(high, most or 0.0))
        elif most is None or size > most:
            self._most = None
        else:
            self._most, self.beyond = min(most, here), True
            if not was_beyond or size < (1.0 - STANDS_STILL) * self._low:
                self._low, self._low_at = size, t
        long_enough = t - self._low_at >= STANDS_STILL_SECONDS * SECOND
        self.stands = self.beyond and (self.stands or long_enough)


class Feed:
    """The state of the source: what was told of it, and whether it is on, moving or steady.

    Times are plan nanoseconds. `told` is the voltage a person or the program says is applied; a
    mains meter, where the plan has one, goes before it. `coming_on` is true from switching on until it has come
    to rest.
    """

    __slots__ = (
        "asked",
        "changed",
        "coming_on",
        "lamp_watts",
        "left_up",
        "moving",
        "no_moves_until",
        "on_since",
        "steady_since",
        "target",
        "told",
    )

    def __init__(self, lamp_watts: float = 0.0) -> None:
        self.lamp_watts = lamp_watts
        """The lamp in series as it is fitted now, 0 for none."""
        self.told = 0.0
        self.target = 0.0
        self.on_since: int | None = None
        self.steady_since: int | None = None
        self.changed = 0
        self.moving = False
        self.asked = False
        self.no_moves_until = 0
        self.coming_on = False
        self.left_up = 0
        """Readings in a row since it was switched on that showed a dial left up."""

    def begin_move(self, target: float, t: int, *, asked: bool = True) -> None:
        """The source is about to be changed to `target` volts; `asked`: somebody was told to."""
        self.target = target
        self.asked = asked
        self.moving = True
        self.changed = t
        self.steady_since = None

    def seen_moving(self, t: int) -> None:
        """The meters show that somebody turns it without having been asked."""
        self.begin_move(self.target, t, asked=False)

    def told_set(self) -> None:
        """The person, or the supply's read-back, says that the target is reached."""
        self.told = self.target
        self.asked = False

    def told_not_set(self, t: int) -> None:
        """It could not be set, and stays where it was."""
        self.target = self.told
        self.asked = False
        self.settle(t)

    def settle(self, t: int) -> bool:
        """It has come to rest, or half a minute is over; whether it did rest.

        Where it did not, no unasked move counts for as long again: low limits may not rest for ever
        under a source that swings.
        """
        rested = t - self.changed < LONGEST_MOVE * SECOND
        self.moving = self.coming_on = False
        self.steady_since = t
        if not rested and not self.asked:
            self.no_moves_until = t + int(LONGEST_MOVE * SECOND)
        return rested

    def switch(self, on: bool, t: int) -> None:
        """It was switched on or off."""
        self.on_since = t if on else None
        self.changed = t
        self.steady_since = None
        self.moving = self.coming_on = on
        self.left_up = 0
        self.asked = False

    @property
    def assumed(self) -> float:
        """The told voltage; until a move is done, the higher of where it was and where it goes."""
        return max(self.told, self.target) if self.moving or self.asked else self.told

    @property
    def least(self) -> float:
        """The told voltage; until a move is done, the lower of where it was and where it goes."""
        return min(self.told, self.target) if self.moving or self.asked else self.told


def came_to_rest(mains: Trace | None, fed: list[Trace], feed: Feed, now: int) -> bool:
    """Whether a move is over: steady within 2 % for 3 s, or half a minute has gone by.

    Without a mains meter the traces in `fed` show it: the raw rails, or a supply's volts. A source
    that somebody was asked to turn and that stands still has not been turned yet.
    """
    if now - feed.changed >= LONGEST_MOVE * SECOND:
        return True
    if feed.asked or now - feed.changed < STEADY_SECONDS * SECOND:
        return False
    watched = [mains] if mains is not None else fed
    live = [trace for trace in watched if trace.value is not None]
    return bool(live) and all(
        trace.steady(STEADY_FRACTION, STEADY_SECONDS, now, floor=STEADY_FLOOR) for trace in live
    )


def looks_on(mains: Trace | None, lamp: Trace | None, rails: list[Trace], feed: Feed, now: int) -> bool:
    """Whether the meters show a unit that is fed, whatever was told: mains, lamp, or a rail that grows.

    Only readings of a second or more after the last change count; what a reservoir still holds falls.
    """
    since = feed.changed + SECOND
    if any(trace.t > since for trace in showing_fed(mains, lamp, now)):
        return True
    return any(
        rail.t > since and rail.magnitude > RAIL_ON and _growth(rail, now) > MOVING_SLOPE for rail in rails
    )


def showing_fed(mains: Trace | None, lamp: Trace | None, now: int) -> list[Trace]:
    """The traces that show volts behind the off-switch now."""
    return [
        trace
        for trace, level in ((mains, MAINS_ON), (lamp, LAMP_ON))
        if trace is not None and _last_two_above(trace, level, now)
    ]


def _last_two_above(trace: Trace, level: float, now: int) -> bool:
    """One reading alone proves nothing."""
    last = trace.recent(trace.reach(SLOPE_WINDOW), now)[-2:]
    return len(last) == 2 and all(abs(value) > level for _, value in last)


def looks_moved(mains: Trace | None, lamp: Trace | None, rails: list[Trace], now: int) -> bool:
    """Whether somebody turns the source unasked.

    By the mains meter where there is one. Without it only when both rails move together, their
    ratio within 5 %, and the lamp does not brighten: one rail alone is never a moving source.
    """
    if mains is not None:
        return abs(_growth(mains, now)) > MOVING_SLOPE
    if len(rails) < 2:
        return False
    growths = [_growth(rail, now) for rail in rails]
    if not (min(growths) > MOVING_SLOPE or max(growths) < -MOVING_SLOPE):
        return False
    return _in_step(rails, now) and not (lamp is not None and _growth(lamp, now) > MOVING_SLOPE)


def _growth(trace: Trace, now: int) -> float:
    """How fast its size grows, as a fraction a second, 0 where that is unknown.

    A negative rail that goes further down grows.
    """
    slope = trace.slope(SLOPE_WINDOW, now)
    if slope is None or trace.value is None:
        return 0.0
    return (slope if trace.value >= 0.0 else -slope) / max(trace.magnitude, MOVING_FROM)


def _in_step(rails: list[Trace], now: int) -> bool:
    """Whether the rails' ratio to the first has stayed within 5 % while they moved, at equal times each.

    Their slopes cannot be compared: two meters that answer at different moments see different parts
    of the same turn.
    """
    last = min(rail.t for rail in rails)
    first = max(rail.recent(rail.reach(SLOPE_WINDOW), now)[0][0] for rail in rails)
    then, since = [rail.at(first) for rail in rails], [rail.at(last) for rail in rails]
    ratios = []
    for before, after in zip(then, since, strict=True):
        if not before or not after:
            return False
        ratios.append(after / before)
    return all(abs(ratio - ratios[0]) <= TOGETHER * abs(ratios[0]) for ratio in ratios)
