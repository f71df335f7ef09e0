"""Whether an off-switch has truly switched off: only the far end can say so.

Fed with the readings that come after a cut was asked. Downstream of the off-switch, a mains meter
below 5 % of its value just before is proof. Without it the lamp must have stood at a tenth of the
applied voltage and fallen below a quarter of that, and every rail above 5 V must have begun to fall only
after the request. What was already falling, or near nothing, proves nothing. A rail whose reading is lost or not
believed may stand above 5 V, so that a lamp proves nothing beside it; of one that has never moved, whose clip may
be off, it is said that the off rests on the lamp alone.

That it is off is one thing, whose doing it is another: the traces see the unit, not the switch. A reading begun
after a switch should have acted, and still live, convicts that switch for good, whoever switches off later.
"""

from dataclasses import dataclass
from enum import StrEnum

from benchlog.domain.guard import Guard
from benchlog.domain.trace import LOST, SECOND, Trace

MAINS_LEFT = 0.05
MAINS_AT_LEAST = 2.0
"""Volts: below this the mains meter read nothing before the cut, and its nothing proves nothing."""
LAMP_STOOD = 0.10
LAMP_AT_LEAST = 1.0
LAMP_LEFT = 0.25
RAIL_FROM = 5.0
FALL = 0.02
FALL_SECONDS = 2.0
STOOD = 0.01
"""A rail that already fell faster than this each second was falling: bleeders alone do as much."""
IN_A_ROW = 2
"""One reading of nothing may be a meter changing its range."""
LAG, LAG_WIRE = 0.7, 0.25
"""Plan seconds for which an averaging meter may still read what was there before, and at least so many real ones."""


class CutOutcome(StrEnum):
    """How an off-switch stands after a cut."""

    ASKED = "asked"
    VERIFIED = "verified off"
    STILL_LIVE = "asked, still live"
    REFUSED = "refused"
    UNKNOWN = "unknown"


FAILED = frozenset({CutOutcome.STILL_LIVE, CutOutcome.REFUSED})
"""Outcomes of an off-switch that did not do what it is for."""


def off_is_known(outcome: str, *, told: bool) -> bool:
    """Whether a unit went off, by how its off-switches stood: seen off, or `told` so with no meter against it."""
    return outcome == CutOutcome.VERIFIED or (told and outcome == CutOutcome.UNKNOWN)


@dataclass(frozen=True, slots=True)
class Finding:
    """What is known of an off-switch so far, and in which words.

    `off` says that what it switches is seen off, whoever did that: the outcome of one that failed stays as it is.
    """

    outcome: CutOutcome
    text: str
    off: bool = False

    @property
    def seen_off(self) -> bool:
        """Whether the far end is off, by this off-switch or by another."""
        return self.off or self.outcome is CutOutcome.VERIFIED


class _Fall:
    """One trace from the request on: how it stood, and what it has read since."""

    __slots__ = ("after", "before", "live", "name", "stood", "trace")

    def __init__(self, trace: Trace, t: int) -> None:
        self.trace = trace
        self.name = trace.plan.name
        self.before = trace.magnitude
        self.stood = _stands(trace, t)
        self.after: list[tuple[int, float]] = []
        self.live: tuple[int, float] | None = None
        """When the last reading that showed it live was begun, and what it read."""

    def read(self, begun: int, t: int, value: float, left: float) -> None:
        """Take a reading; from `left` times what stood before upward it is live."""
        self.after.append((t, value))
        if value >= left * self.before:
            self.live = (begun, value)

    def below(self, level: float) -> bool:
        """Whether the last readings were all below this many volts."""
        last = self.after[-IN_A_ROW:]
        return len(last) == IN_A_ROW and all(value < level for _, value in last)

    @property
    def fell(self) -> bool:
        """It has fallen by 2 % a second over the last two seconds."""
        if not self.after:
            return False
        last_t, last = self.after[-1]
        for t, value in reversed(self.after):
            seconds = (last_t - t) / SECOND
            if seconds >= FALL_SECONDS:
                return value > 0 and (value - last) / value >= FALL * seconds
        return False


def _stands(trace: Trace, t: int) -> bool:
    """Whether it is seen not to fall; a trace that is not seen proves nothing."""
    slope = trace.relative_slope(FALL_SECONDS, t)
    return slope is not None and slope * (1 if trace.value is not None and trace.value > 0 else -1) > -STOOD


def _unseen(trace: Trace, t: int, rate: float) -> bool:
    """Whether nobody knows what that rail stands at: its reading is not believed, or its meter silent."""
    if trace.value is None or trace.doubt:
        return True
    return t - trace.t > LOST * rate * SECOND


class OffProof:
    """Collects readings from the request of a cut onward, and says what they prove.

    `asked` and all times are plan nanoseconds. A reading counts only if it was begun after the
    request: its arrival less its trace's interval of plan time.
    """

    def __init__(self, guard: Guard, asked: int, rate: float = 1.0) -> None:
        self.asked = asked
        self._rate = rate
        self._applied = guard.applied()[0]
        self._guarded = guard.mains is not None or guard.lamp is not None or bool(guard.rails)
        self._mains = _Fall(guard.mains, asked) if guard.mains is not None else None
        self._lamp = _Fall(guard.lamp, asked) if guard.lamp is not None else None
        self._rails = [_Fall(trace, asked) for trace in guard.rails if trace.magnitude > RAIL_FROM]
        self._unseen = " and ".join(trace.plan.name for trace in guard.rails if _unseen(trace, asked, rate))
        self._unmoved = " and ".join(trace.plan.name for trace in guard.rails if trace.unproven)
        self._by_name = {
            fall.name: fall for fall in (self._mains, self._lamp, *self._rails) if fall is not None
        }

    def reading(self, name: str, value: float, t: int) -> None:
        """Take a good reading of a trace."""
        fall = self._by_name.get(name)
        if fall is None:
            return
        begun = t - int(fall.trace.interval * self._rate * SECOND)
        if begun >= self.asked:
            fall.read(begun, t, abs(value), MAINS_LEFT if fall is self._mains else LAMP_LEFT)

    def finding(self) -> Finding:
        """What is proven of the unit so far; UNKNOWN as long as nothing is."""
        mains = self._mains
        if mains is not None and mains.before > MAINS_AT_LEAST:
            return self._by_mains(mains)
        return self._by_lamp()

    @property
    def _witness(self) -> _Fall | None:
        """The one trace by which it can be seen live."""
        mains, lamp = self._mains, self._lamp
        if mains is not None and mains.before > MAINS_AT_LEAST:
            return mains
        stood = lamp is not None and lamp.before >= LAMP_STOOD * self._applied > 0.0
        return lamp if stood else None

    def of_switch(self, acts: float, *, others: bool) -> Finding:
        """What is proven of an off-switch that acts within so many real seconds if it works.

        `others` says that somebody else was called to switch off as well: then an off that came later than the
        switch acts, and too soon to convict it, may be anybody's.
        """
        unit = self.finding()
        witness = self._witness
        if witness is None or witness.live is None:
            return unit
        begun, value = witness.live
        later = (begun - self.asked) / SECOND
        if later > acts * self._rate + max(LAG, LAG_WIRE * self._rate):
            if unit.outcome is CutOutcome.STILL_LIVE:
                return unit
            read = f"{witness.name} read {witness.trace.plan.shown(value)} {later:.1f} s after off was asked"
            then = "off since, not by this one" if unit.seen_off else unit.text
            return Finding(CutOutcome.STILL_LIVE, f"did not act: {read}; {then}", off=unit.seen_off)
        if unit.seen_off and others and later > acts * self._rate:
            return Finding(CutOutcome.UNKNOWN, f"{unit.text}; not known which switched it off", off=True)
        return unit

    def _by_mains(self, mains: _Fall) -> Finding:
        if not mains.after:
            return Finding(
                CutOutcome.UNKNOWN, f"no reading from {mains.name} since off was asked: pull the plug"
            )
        value = mains.after[-1][1]
        if value >= MAINS_LEFT * mains.before:
            return Finding(
                CutOutcome.STILL_LIVE, f"STILL LIVE: {mains.name} reads {mains.trace.plan.shown(value)}"
            )
        if not mains.below(MAINS_LEFT * mains.before):
            return Finding(CutOutcome.UNKNOWN, f"one reading of {mains.name} alone proves nothing")
        return Finding(CutOutcome.VERIFIED, f"{mains.name} fell to {mains.trace.plan.shown(value)}")

    def _by_lamp(self) -> Finding:
        lamp = self._lamp
        not_proven = "off not proven: pull the plug"
        if lamp is None or not lamp.after:
            return Finding(CutOutcome.UNKNOWN, not_proven)
        value = lamp.after[-1][1]
        if lamp.before < LAMP_STOOD * self._applied or self._applied <= 0.0:
            return Finding(CutOutcome.UNKNOWN, not_proven)
        if value >= LAMP_LEFT * lamp.before:
            return Finding(
                CutOutcome.STILL_LIVE, f"STILL LIVE: {lamp.name} reads {lamp.trace.plan.shown(value)}"
            )
        dark = lamp.below(LAMP_LEFT * lamp.before)
        if dark and self._unseen:
            shown = lamp.trace.plan.shown(value)
            text = f"{lamp.name} fell to {shown}, but {self._unseen} cannot be seen to fall: {not_proven}"
            return Finding(CutOutcome.UNKNOWN, text)
        if dark and all(rail.stood and rail.fell for rail in self._rails):
            falling = ", ".join(
                f"{rail.name} {rail.trace.plan.shown(rail.after[-1][1])}" for rail in self._rails
            )
            rails = f", rails falling: {falling}" if falling else "; no rail stood above 5 V to bear it out"
            if self._unmoved:
                rails = (
                    f"{rails if falling else ', by the lamp alone'}; {self._unmoved} was never seen to move"
                )
            return Finding(CutOutcome.VERIFIED, f"{lamp.name} fell to {lamp.trace.plan.shown(value)}{rails}")
        return Finding(CutOutcome.UNKNOWN, not_proven)

    @property
    def can_show(self) -> bool:
        """Whether any trace could show that the unit is off; else a person's word is all there is."""
        return self._guarded

    def seen_falling(self) -> str:
        """What shows that a person has switched off, for practice or a change: a dark lamp, or a rail that falls."""
        lamp = self._lamp
        if lamp is not None and lamp.after and lamp.before >= LAMP_AT_LEAST:
            dark = lamp.below(LAMP_LEFT * lamp.before)
            unseen = self._unseen or self._unmoved
            alone = f", by the lamp alone: {unseen} is not seen" if unseen else ""
            return f"{lamp.name} fell to {lamp.trace.plan.shown(lamp.after[-1][1])}{alone}" if dark else ""
        return next((f"{rail.name} falls" for rail in self._rails if rail.stood and rail.fell), "")
