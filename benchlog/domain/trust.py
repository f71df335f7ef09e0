"""Whether a reading may be believed, before it may count as what is at the leads now.

A meter's own annunciators say so, and what it said before, and what the source and the other meters do.
No clock and no I/O: readings come in with their plan time, a verdict goes out where there is anything to say.
"""

import math
from dataclasses import replace
from functools import partial

from benchlog.domain import follow, trust_words
from benchlog.domain.guard import Guard
from benchlog.domain.guard_words import Words
from benchlog.domain.plan_trace import Role
from benchlog.domain.quantity import show
from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.domain.runaway import AFTER_TOUCH
from benchlog.domain.seen import PROVES, Seen, Verdict
from benchlog.domain.trace import LOST, SECOND

UNPROVEN = "unproven"
"""The doubt in a number that was not seen to move since its clip was put on."""
NOT_LIVE = frozenset({"hold", "rel", "min", "max"})
"""Annunciators under which a display does not show what is at the leads now."""
PATIENCE = 10.0
"""Seconds for which a number that may still be real is doubted before its trace counts as lost.

Longer than for a reading that is none: where it is real, a limit of its own says better what is wrong.
"""
ONE_SIDE = 60.0
"""Seconds for an idle trace whose partner alone moved: its trimmer may be right down, and somebody has to look.
"""
AT_REST = 5.0
"""Seconds after which a source counts as still: what leaps then was not turned."""
LEAP = 0.2
"""A change by this fraction of the larger, from one reading to the next, is a leap."""
SLIP = 1000.0
DECADES = (10.0, 100.0, 1000.0)
WITHIN = 0.2
RANGE_STEP = 5.0
"""So much smaller or larger, and its least digit too: the meter has changed its range."""
COUNTABLE = 1e-5
"""Below this there is no telling a thousandth from noise."""
HIGHEST_VOLTS = 1000.0
"""No meter on a bench shows more; what does has slipped by a prefix."""
PLENTY = 0.5
"""Part of the highest setting from which on an idle trace that has not moved is worth a word."""
IN_THE_AIR = 0.1
"""Volts that a clip which has come off may read, either way."""
ITS_NOTHING = 0.2
"""Less than this part of that, after it stood at more than that, is a clip that may have come off."""
FLASHES = 2
"""More than so many in a row are no change of range: whatever it reads then is real."""
WITNESSED = 5.0
"""Seconds in which another trace must have moved as well, for a thousandth or a fall to nothing to be true."""
REPEATS, DIFFERED, DIFFERING, REPEATING = 20, 40, 0.95, 5.0
"""So many equal replies in a row over so many seconds, after so many of which so large a part differed."""


def believed(reading: Reading) -> Reading:
    """The reading itself, or, where its meter shows HOLD, REL, MIN or MAX, one without a value."""
    if not reading.flags or NOT_LIVE.isdisjoint(reading.flags):
        return reading
    return reading._replace(outcome=Outcome.NOT_LIVE, value=None)


def annunciated(job: str, reading: Reading) -> str:
    """What should be said of a meter's annunciators; empty where nothing should."""
    doubt = not_live(reading)
    if doubt:
        return f"{job} shows {doubt.removeprefix('not live: ')}: not live"
    return f"{job} has a low battery" if "low_battery" in reading.flags else ""


def not_live(reading: Reading) -> str:
    """Why what a meter shows is not of now, in a few words; empty where it is."""
    shown = ", ".join(flag.upper().replace("_", " ") for flag in reading.flags if flag in NOT_LIVE)
    return f"not live: {shown}" if shown else ""


class Trust:
    """Looks at each reading of a plan's traces before the guard does."""

    def __init__(self, guard: Guard) -> None:
        self._guard = guard
        self._follow = follow.Follow(guard)
        self._seen = {
            name: Seen(trace, self._follow.of(name))
            for name, trace in guard.traces.items()
            if trace.plan.measures is not Function.STATE
        }
        mains = guard.plan.source.mains
        settings = [stage.volts or (stage.fraction or 0.0) * mains for stage in guard.plan.stage]
        self._plenty = PLENTY * max(settings, default=0.0)

    def begin(self) -> dict[str, Verdict]:
        """A run is armed: what is to be doubted from the start, by trace."""
        found = {}
        for name, seen in self._seen.items():
            if seen.trace.plan.role in follow.SURELY_MOVES:
                seen.trace.unproven, seen.start = True, seen.trace.value
            elif seen.trace.plan.role in PROVES:
                text = f"{name} is unproven until it has moved by {_unprove(seen)} with the source"
                found[name] = Verdict(Outcome.OK, UNPROVEN, text)
                seen.fresh = True
        return found

    def wrong_function(self, name: str, reading: Reading) -> Verdict:
        """A meter left on a function that its trace does not want."""
        trace = self._guard.traces[name]
        doubt = f"wrong function: {reading.function}"
        news = trace.doubt != doubt
        trace.doubt, trace.patience = doubt, LOST
        text = f"{trace.plan.job} reads {reading.function} where {name} wants {trace.plan.measures}: not kept"
        return Verdict(Outcome.WRONG_FUNCTION, doubt, text if news else "")

    def take(self, name: str, reading: Reading, t: int) -> Verdict | None:
        """What is thought of one reading of a trace; None where it is believed and there is nothing to say."""
        seen = self._seen.get(name)
        if seen is None:
            return None
        value = reading.value
        if value is None or reading.outcome is not Outcome.OK:
            self._no_number(seen, reading)
            return None
        if seen.low <= value <= seen.high:
            seen.count += 1
            if reading.raw != seen.raw:
                seen.raw = reading.raw
                seen.differed += 1
                seen.same = 0
                seen.changed_at = t
            else:
                seen.same += 1
                if seen.same >= REPEATS and _repeated(seen, t):
                    return self._doubt(seen, Outcome.REPEATED, partial(trust_words.again_and_again, name), t)
            follower = seen.follower
            if follower is not None and follower.stuck(value, t):
                return self._doubt(seen, Outcome.STUCK, follower.sentence, t)
        else:
            found = self._elsewhere(seen, value, reading, t)
            if found is not None:
                return found
        seen.odd, seen.flashing = None, 0
        if seen.trace.plan.role is Role.IDLE:
            self._look_whether_it_follows(seen, value, t)
        if seen.fresh and seen.trace.unproven and seen.trace.plan.role is Role.IDLE:
            still = self._idle_still(seen, value, t)
            if still is not None:
                return still
        if seen.trace.doubt or seen.trace.unproven:
            return self._may_believe(seen, value, t)
        return None

    def touched(self, name: str) -> Verdict:
        """Its clip was put on anew: what it read before says nothing about it.

        What surely moves with the source is looked at against where it stood; the others are unproven again.
        """
        seen, trace = self._seen[name], self._guard.traces[name]
        self._clear(seen)
        seen.low, seen.high, seen.odd, seen.flashing = 1.0, -1.0, None, 0
        if trace.plan.role not in PROVES:
            return Verdict(Outcome.OK, "", f"{name} is read again", relief=True)
        trace.forget()
        seen.fresh = seen.followed = seen.told_still = False
        text = f"{name} is read again, unproven until it moves by {_unprove(seen)} with the source"
        trace.looked_at = True
        return Verdict(Outcome.OK, UNPROVEN, f"{text}; that its clip is on was told", relief=True)

    # --- a number -------------------------------------------------------------------------------

    def _elsewhere(self, seen: Seen, value: float, reading: Reading, t: int) -> Verdict | None:
        """It does not stand where it stood: turned, leapt, slipped, fell, or only changing its range."""
        good = seen.trace.value
        found = None
        if good is not None:
            if seen.standing is not None and seen.standing.outcome in _ALONE:
                found = self._still_alone(seen, value, t)
            elif not seen.trace.doubt and abs(value - good) > seen.least:
                if self._at_rest(t):
                    found = self._leap(seen, value, good, reading, t)
                elif self._untouched_since(seen.trace.t):
                    # What follows the source does not fall to nothing, or to a thousandth, while that is set.
                    follows = seen.trace.plan.role in follow.WELL_UP
                    found = self._alone(seen, value, good, t) if follows else None
                    found = found or self._flash(seen, value, good, reading)
            if found is not None and found.outcome is not Outcome.OK:
                return found
        seen.raw = reading.raw
        seen.stand_at(value, reading.resolution, t)
        if seen.follower is not None:
            seen.follower.comes_to(value, reading.resolution, t)
        return found

    def _at_rest(self, t: int) -> bool:
        feed = self._guard.feed
        if feed.on_since is None or feed.moving or feed.steady_since is None:
            return False
        return t - feed.steady_since > AT_REST * SECOND

    def _untouched_since(self, then: int) -> bool:
        """Whether nobody has turned the source since a plan time, though rails and lamp may not have followed yet."""
        feed = self._guard.feed
        still = feed.on_since is not None and not feed.moving and feed.steady_since is not None
        return still and then >= (feed.steady_since or 0)

    def _leap(self, seen: Seen, value: float, good: float, reading: Reading, t: int) -> Verdict | None:
        """A change from one reading to the next while the source stands still."""
        trace = seen.trace
        name, shown, role = trace.plan.name, trace.plan.shown, trace.plan.role
        alone = self._alone(seen, value, good, t)
        if alone is not None:
            return alone
        flash = self._flash(seen, value, good, reading)
        if flash is not None:
            return flash
        if _to_nothing(role, value, good) and not trace.unproven:
            seen.fresh = False
            text = f"{name} went from {shown(good)} to {shown(value)} at once, and is unproven until it"
            return Verdict(Outcome.OK, UNPROVEN, f"{text} moves by {_unprove(seen)} with the source")
        if abs(value - good) > max(seen.leap, LEAP * max(abs(value), abs(good))):
            seen.leaps += 1
            text = f"{name} leapt from {shown(good)} to {shown(value)}{trust_words.often(seen.leaps)}"
            return Verdict(Outcome.OK, _unproven(seen), text if trust_words.tell(seen.leaps) else "")
        return None

    def _alone(self, seen: Seen, value: float, good: float, t: int) -> Verdict | None:
        """A thousandth of what it was, or nothing at all, while no other trace has moved."""
        trace = seen.trace
        name, shown, role = trace.plan.name, trace.plan.shown, trace.plan.role
        larger, smaller = max(abs(value), abs(good)), min(abs(value), abs(good))
        alone = None
        if smaller >= COUNTABLE and _about(larger / smaller, SLIP):
            alone = Outcome.SLIPPED
        elif abs(good) > follow.WELL_UP.get(role, math.inf) and abs(value) < follow.NOTHING[role]:
            alone = Outcome.FELL
        if alone is None or self._guard.falls_on_purpose() or self._follow.others_moved(name, trace.t):
            return None
        seen.odd, seen.odd_since, seen.odd_target = value, t, self._guard.feed.target
        absurd = trace.plan.measures.unit == "V" and larger > HIGHEST_VOLTS
        judged = not absurd and (alone is Outcome.FELL or larger == abs(value))
        moved = " and nothing else moved" if self._nothing_moved(name, trace.t) else ""
        words = partial(_SAYS[alone], name, shown(good), shown(value), moved)
        return self._doubt(seen, alone, words, t, judged=judged)

    @staticmethod
    def _flash(seen: Seen, value: float, good: float, reading: Reading) -> Verdict | None:
        """Whether it reads what a meter shows for a moment while it changes its range."""
        larger, smaller = max(abs(value), abs(good)), min(abs(value), abs(good))
        ratio, odd = larger / smaller if smaller >= COUNTABLE else 0.0, seen.odd
        if abs(value - good) <= seen.leap or seen.flashing >= FLASHES:
            return None
        if odd is not None and abs(value - odd) <= WITHIN * abs(odd):
            return None  # it stays there
        if not any(_about(ratio, decade) for decade in DECADES) and not _other_range(
            ratio, seen.resolution, reading
        ):
            return None
        seen.odd = value
        seen.flashes += 1
        seen.flashing += 1
        shown = seen.trace.plan.shown(value)
        text = (
            f"{seen.trace.plan.name} showed {shown} for one reading, {trust_words.of_ranging(seen.flashes)}"
        )
        # One that another one contradicts is neither; where it stays, the next one says so.
        return Verdict(
            Outcome.FLASH, Outcome.FLASH.value, text if trust_words.tell(seen.flashes) else "", odd is None
        )

    def _still_alone(self, seen: Seen, value: float, t: int) -> Verdict | None:
        """Whether one that slipped or fell by itself stays there, with nothing to bear it out soon after."""
        standing, role = seen.standing, seen.trace.plan.role
        if standing is None or seen.odd is None:
            return None
        if standing.outcome is Outcome.FELL:
            same = abs(value) < follow.NOTHING[role]
        else:
            same = seen.odd != 0.0 and 1.0 / RANGE_STEP < value / seen.odd < RANGE_STEP
            # What seemed to slip may be a clip in the air: what that reads next is as good as anything.
            same = same or (role in follow.NOTHING and max(abs(value), abs(seen.odd)) < IN_THE_AIR)
        # What moves because somebody was asked to turn the source, or cut it, bears nothing out.
        feed = self._guard.feed
        undisturbed = feed.on_since is not None and feed.target == seen.odd_target
        soon = undisturbed and t - seen.odd_since <= WITNESSED * SECOND
        if not same or (soon and self._follow.others_moved(seen.trace.plan.name, seen.trace.t)):
            return None
        if standing.outcome is Outcome.SLIPPED:
            # What slides on from there, as a rail does after off, has still slipped: a prefix put right leaps.
            seen.odd = value
        return standing

    def _nothing_moved(self, name: str, since: int) -> bool:
        """Whether every other trace has been read since, is believed, and stands where it stood."""
        for other, seen in self._seen.items():
            trace = seen.trace
            if other == name or trace.value is None:
                continue
            then = trace.at(since)
            if trace.doubt or then is None or abs(trace.value - then) > max(seen.leap, LEAP * abs(then)):
                return False
        return True

    def _idle_still(self, seen: Seen, value: float, t: int) -> Verdict | None:
        """An idle trace that has not moved since the start, where the other side has, or the source stands well up.

        While a trimmer may be turned it rests: this one may just have been turned right down.
        """
        trace, guard = seen.trace, self._guard
        if seen.start is None or abs(value - seen.start) > PROVES[Role.IDLE]:
            return None
        if seen.standing is not None and seen.standing.outcome is Outcome.STUCK:
            return seen.standing
        if not self._at_rest(t):
            return None
        name, stayed = trace.plan.name, trace.plan.shown(value)
        if not self._being_turned(t):
            for other in self._seen.values():
                plan = other.trace.plan
                if other.followed and plan.role is Role.IDLE and plan.side != trace.plan.side:
                    to = plan.shown(other.trace.value or 0.0)
                    words = partial(trust_words.one_side, name, stayed, plan.name, to)
                    return self._doubt(seen, Outcome.STUCK, words, t, patience=ONE_SIDE)
        if seen.told_still or guard.feed.told < self._plenty:
            return None
        seen.told_still = True
        return Verdict(Outcome.OK, UNPROVEN, trust_words.stays(name, stayed, guard.feed.told))

    def _being_turned(self, t: int) -> bool:
        """Whether somebody may have a trimmer in hand: for as long as a runaway rests for it."""
        touched = self._guard.touched
        return touched is not None and t - touched < AFTER_TOUCH * SECOND

    def _look_whether_it_follows(self, seen: Seen, value: float, t: int) -> None:
        """One side that moves while the source does, and by no trimmer: the other may be held against it."""
        off = self._guard.feed.on_since is None
        if seen.stood is None or off or self._at_rest(t) or self._being_turned(t):
            seen.stood = value
        elif abs(value - seen.stood) > PROVES[Role.IDLE]:
            seen.followed = True

    def _doubt(
        self,
        seen: Seen,
        outcome: Outcome,
        words: Words,
        t: int,
        *,
        judged: bool = True,
        patience: float | None = None,
    ) -> Verdict:
        """A doubt that lasts; said once, until it is believed again."""
        standing = seen.standing
        # Where no limit that trips can judge it meanwhile, there is nothing to be patient for.
        fallen = outcome is Outcome.FELL
        waits = judged and self._guard.would_trip(seen.trace.plan.name, t, fallen=fallen)
        seen.trace.patience = patience or (PATIENCE if waits else LOST)
        if standing is not None and (standing.outcome, standing.judged) == (outcome, judged):
            return standing
        seen.trace.doubt = outcome.value
        seen.standing = Verdict(outcome, outcome.value, judged=judged)
        return replace(seen.standing, text=words())

    def _may_believe(self, seen: Seen, value: float, t: int) -> Verdict | None:
        """A number that nothing speaks against, of a trace that was doubted, or never seen to move."""
        trace = seen.trace
        if trace.doubt:
            text = f"{trace.plan.name} is believed again, no longer: {trace.doubt}"
            if trace.doubt == Outcome.STUCK.value and trace.plan.role is Role.IDLE:
                trace.unproven = False  # it has moved by more than proves it
            self._clear(seen)
            return Verdict(Outcome.OK, _unproven(seen), text, relief=True)
        role = trace.plan.role
        if seen.start is None or (role is Role.IDLE and self._guard.feed.on_since is None):
            seen.start = value
        if role in follow.SURELY_MOVES:
            trace.unproven = abs(value - seen.start) <= follow.SURELY_MOVES[role]
            return None
        turned = role is Role.IDLE and self._guard.touched is not None
        if turned and seen.rested is not None and abs(value - seen.rested) > PROVES[role]:
            trace.unproven = False
            return Verdict(Outcome.OK, "", f"{trace.plan.name} has moved: its clip is on", relief=True)
        if seen.rested is None or (self._at_rest(t) and not turned) or self._guard.feed.on_since is None:
            seen.rested = value
        elif abs(value - seen.rested) > PROVES[role]:
            trace.unproven = False
            text = f"{trace.plan.name} has moved with the source: its clip is on"
            return Verdict(Outcome.OK, "", text, relief=True)
        return None

    # --- none -----------------------------------------------------------------------------------

    def _no_number(self, seen: Seen, reading: Reading) -> None:
        """An overload is the guard's; of a meter on HOLD its own sentence has been said."""
        if reading.outcome is Outcome.NOT_LIVE:
            seen.standing = None
            seen.trace.doubt = not_live(reading) or Outcome.NOT_LIVE.value
            seen.trace.patience = LOST
        elif reading.outcome is Outcome.OVERLOAD:
            self._clear(seen)
            seen.low, seen.high = 1.0, -1.0

    @staticmethod
    def _clear(seen: Seen) -> None:
        seen.standing = None
        seen.trace.doubt, seen.trace.patience = "", LOST


def _unprove(seen: Seen) -> str:
    """It has yet to be seen to move; by how much, for a sentence."""
    seen.trace.unproven, seen.trace.looked_at = True, False
    seen.rested = seen.start = seen.stood = None
    return show(PROVES[seen.trace.plan.role], "V")


def _unproven(seen: Seen) -> str:
    """The doubt that is left; of what surely moves the wait for the next stage says it."""
    return UNPROVEN if seen.trace.unproven and seen.trace.plan.role in PROVES else ""


def _to_nothing(role: Role, value: float, good: float) -> bool:
    """Whether what may well read nothing does so from one reading to the next."""
    proves = PROVES.get(role, 0.0)
    return abs(good) > proves and abs(value) < ITS_NOTHING * proves


_ALONE = (Outcome.SLIPPED, Outcome.FELL)
_SAYS = {Outcome.SLIPPED: trust_words.by_a_thousand, Outcome.FELL: trust_words.fell}


def _repeated(seen: Seen, t: int) -> bool:
    """Whether equal replies cannot be the resolution: nearly all before them, at this very value, differed."""
    before = seen.count - seen.same
    differing = before >= DIFFERED and seen.differed >= DIFFERING * before
    return differing and t - seen.changed_at >= REPEATING * SECOND


def _about(ratio: float, factor: float) -> bool:
    return abs(ratio - factor) <= WITHIN * factor


def _other_range(ratio: float, before: float | None, reading: Reading) -> bool:
    """Whether the least digit changed, and the value by far more than another least digit explains."""
    return before is not None and reading.resolution not in (None, before) and ratio >= RANGE_STEP
