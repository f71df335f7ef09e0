"""Hands-free taking (rules 31 to 35): what the tips of a walking meter do, told from its readings alone.

A part is taken from a contact that was seen to begin after air, once it has come to rest; the tips must be seen
in the air again before the next. What the air reads itself (ohms or a diode over range, a few picofarads, volts near
zero) is never taken by settling: that wants a key. A reading off by more than a factor of three is held until a
key bears it out, or the same value again after a lift.
"""

import math
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from benchlog.domain.asking import AGAIN
from benchlog.domain.expectation import Expectation
from benchlog.domain.quantity import Overload
from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.domain.rulings_reading import LEADS_FARADS
from benchlog.domain.settle import FLOOR, Settler
from benchlog.domain.trace import SECOND
from benchlog.domain.typed import nearby

AIR_READINGS, AIR_SECONDS = 2, 0.2
"""So many readings of air in a row, over so long at least, are a lift; less is a contact that bounces."""
SILENT = 3.0
"""Seconds without a reply after which the meter is said to be silent."""
ALIKE = (0.8, 1.25)
"""A reading between these multiples of the other side's explains itself."""

OVER_IN_AIR = frozenset({Function.OHMS, Function.OHMS_4W, Function.DIODE, Function.INDUCTANCE})
"""Functions in which open leads read over range."""
TOLD_BY_AIR = OVER_IN_AIR | {Function.CAPACITANCE}
"""Functions in which a contact can be told from the air; in any other each reading wants a key."""


class Tips(StrEnum):
    """What is going on at the tips; the word is shown."""

    NOTHING = "nothing ahead"
    LIFT = "lift"
    AIR = "in the air"
    CONTACT = "contact"
    SETTLING = "settling"
    KEY = "by key"
    WRONG = "wrong function"
    SILENT = "meter silent"


Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Coming:
    """A part that is to be taken next.

    Attributes:
        reading: the id its reading will carry.
        function: what it is measured with.
        near: values that need no second look, lowest and highest; None where nothing says what it should read.
        over: whether over range needs none.
        by_key: whether its reading wants a key, since the air reads much the same.
    """

    reading: str
    function: Function
    near: tuple[Span, ...] | None = None
    over: bool = True
    by_key: bool = False

    @property
    def wants_key(self) -> bool:
        """Whether it is never taken by settling."""
        return self.by_key or self.function not in TOLD_BY_AIR

    def needs_no_look(self, value: float | None) -> bool:
        """Whether a value is near what it should be; None is over range."""
        if value is None:
            return self.over
        return self.near is None or any(low <= value <= high for low, high in self.near)


@dataclass(frozen=True, slots=True)
class Took:
    """A reading of a part.

    Attributes:
        of: the part.
        reading: what was read.
        settled: whether it had come to rest.
        heading: where it was creeping to; None where nothing tells, or it had come to rest.
        looked: whether it was far off and was borne out.
    """

    of: Coming
    reading: Reading
    settled: bool
    heading: float | None = None
    looked: bool = False


def coming(
    reading: str,
    function: Function,
    expectation: Expectation | None,
    beside: Iterable[float | Overload] = (),
) -> Coming:
    """A part as it is to be taken; `beside` is what it read before and what its other side reads (rule 33)."""
    if expectation is None:
        return Coming(reading, function)
    least, most = nearby(expectation)
    known = list(beside)
    spans = [(least, most), (-most, -least)]
    for value in known:
        # What the leads read alone they read on both sides.
        alone = function is Function.CAPACITANCE and isinstance(value, float) and value <= LEADS_FARADS
        if isinstance(value, float) and value and not alone:
            low, high = sorted(value * share for share in ALIKE)
            spans.append((low, high))
    over = math.isinf(expectation.high) or any(isinstance(one, Overload) for one in known)
    like_air = function is Function.CAPACITANCE and least <= LEADS_FARADS
    return Coming(reading, function, tuple(spans), over, by_key=like_air or expectation.open)


def is_air(reading: Reading) -> bool:
    """Whether a reading is what open leads read."""
    if reading.function in OVER_IN_AIR:
        return reading.outcome is Outcome.OVERLOAD
    return (
        reading.function is Function.CAPACITANCE
        and reading.value is not None
        and reading.value <= LEADS_FARADS
    )


class HandsFree:
    """What the tips of one meter do, reading by reading; times are plan nanoseconds.

    Attributes:
        tips: what is going on.
        held: a reading of the part at hand that wants a second look.
        why: what ails, where `tips` is WRONG: the outcome of the reply.
    """

    def __init__(self, t: int) -> None:
        self.tips = Tips.NOTHING
        self.held: Took | None = None
        self.why = ""
        self._ahead: deque[Coming] = deque()
        self._settler: Settler | None = None
        self._keyed = False
        """Whether a key has asked for what is being read now, whatever it is."""
        self._spent = False
        """Whether the contact under way has given its part."""
        self._air = 0
        self._air_since = 0
        self._heard = t

    @property
    def at(self) -> Coming | None:
        """The part at hand."""
        return self._ahead[0] if self._ahead else None

    # --- what is ahead ---------------------------------------------------------------------------

    def ahead(self, parts: Sequence[Coming]) -> None:
        """Take these from now on; a contact under way counts only where its part is still the first of them."""
        before, self._ahead = self.at, deque(parts)
        now = self.at
        if before is not None and now is not None and before.reading == now.reading:
            return
        self.held = None
        if self.tips in (Tips.CONTACT, Tips.SETTLING):
            self._spent = True
        self._go_on(before)

    def drop(self, reading: str) -> bool:
        """Forget a held reading; whether that one was held. Its contact is spent."""
        if self.held is None or self.held.of.reading != reading:
            return False
        self.held = None
        return True

    # --- what is read ----------------------------------------------------------------------------

    def read(self, reading: Reading, t: int) -> Took | None:
        """Take one reply; the part's reading where it was taken by it."""
        if reading.outcome is not Outcome.MISSING:
            self._heard = t
        at = self.at
        if at is None:
            return None
        astray = reading.outcome in (Outcome.NOT_LIVE, Outcome.WRONG_FUNCTION)
        if reading.function is not at.function or astray:
            self._lose(Tips.WRONG, reading.outcome.value if astray else reading.function.value)
            return None
        if reading.outcome in (Outcome.OK, Outcome.OVERLOAD):
            return self._look_at(at, reading, t)
        # Nothing that means anything: what was coming to rest begins anew.
        return self._settle(at, reading, t) if self._settler is not None else None

    def hear(self, t: int) -> None:
        """The meter is there, whatever it says: it is being set to another function."""
        self._heard = t

    def silent(self, t: int) -> bool:
        """Look at the clock: whether the meter has said nothing for too long."""
        if self.at is not None and t - self._heard > SILENT * SECOND:
            self._lose(Tips.SILENT)
        return self.tips is Tips.SILENT

    def key(self, reading: str, t: int) -> Took | None:
        """A key asks for the part with that id: what is held, or what is read from now on, whatever it is.

        Nothing where another part is at hand by now, or its contact has given a part already.
        """
        at = self.at
        if at is None or at.reading != reading:
            return None
        if self.held is not None:
            return self._take(replace(self.held, looked=True))
        spent = self._spent and not at.wants_key
        if not spent and self._settler is None and self.tips not in (Tips.WRONG, Tips.SILENT):
            self._settler, self._keyed = Settler(t), True
            self.tips = Tips.SETTLING
        return None

    def _look_at(self, at: Coming, reading: Reading, t: int) -> Took | None:
        air = is_air(reading)
        if air:
            self._in_air(at, t)
        else:
            self._air = 0
        if self._keyed:
            return self._settle(at, reading, t)
        if air:
            # A contact that bounces begins anew; one that is over was nothing.
            self._settler = None
        elif at.wants_key:
            self.tips = Tips.KEY
        elif self.tips is Tips.AIR or (self.tips in (Tips.CONTACT, Tips.SETTLING) and self._settler is None):
            self._settler = Settler(t)
            self.tips = Tips.CONTACT
            return self._settle(at, reading, t)
        elif self._settler is not None:
            self.tips = Tips.SETTLING
            return self._settle(at, reading, t)
        elif self.tips in (Tips.WRONG, Tips.SILENT):
            self.tips = Tips.LIFT
        return None

    def _in_air(self, at: Coming, t: int) -> None:
        if not self._air:
            self._air_since = t
        self._air += 1
        if self._air < AIR_READINGS or t - self._air_since < AIR_SECONDS * SECOND:
            return
        self._spent = False
        if not self._keyed:
            self.tips = Tips.KEY if at.wants_key else Tips.AIR

    def _settle(self, at: Coming, reading: Reading, t: int) -> Took | None:
        settler = self._settler
        assert settler is not None  # noqa: S101 - asked only then
        found = settler.take(reading, t)
        if found is None:
            return None
        kept, settled = found
        if kept.outcome is Outcome.OVERLOAD and not self._keyed:
            # Over range on a capacitor: a short, a leak, or a range too low. A key may ask for it.
            self._settler = None
            self.tips = Tips.KEY
            return None
        took = Took(at, kept, settled, None if settled else settler.heading)
        if self.held is not None and settled and _agree(self.held.reading, kept):
            return self._take(replace(took, looked=True))
        if at.needs_no_look(took.heading if took.heading is not None else kept.value):
            return self._take(took)
        self.held = took
        self._spend(is_air(kept))
        return None

    # --- from one part to the next ---------------------------------------------------------------

    def _take(self, took: Took) -> Took:
        self._ahead.popleft()
        self.held = None
        self._spend(is_air(took.reading))
        self._go_on(took.of)
        return took

    def _spend(self, air: bool) -> None:
        """The contact has given its part."""
        self._settler, self._keyed = None, False
        self._spent = not air
        self.tips = Tips.AIR if air else Tips.LIFT

    def _go_on(self, before: Coming | None) -> None:
        """Another part is at hand; in another function whatever the tips touch may have been touched before."""
        at = self.at
        stays = at is not None and before is not None and at.function is before.function
        if self.tips is Tips.AIR and stays and not at.wants_key:  # type: ignore[union-attr]  # it is there
            return
        self._settler, self._keyed, self._air, self.why = None, False, 0, ""
        self.tips = Tips.NOTHING if at is None else Tips.KEY if at.wants_key else Tips.LIFT

    def _lose(self, to: Tips, why: str = "") -> None:
        """What is at the tips is not known: it must be seen in the air again."""
        self._settler, self._keyed, self._air = None, False, 0
        self.tips, self.why = to, why


def _agree(one: Reading, other: Reading) -> bool:
    """Whether a second contact reads as the first did."""
    if one.value is None or other.value is None:
        return False  # Over range reads as the air does: only a key bears it out.
    return abs(one.value - other.value) <= max(AGAIN * abs(one.value), FLOOR.get(one.function, 0.0))
