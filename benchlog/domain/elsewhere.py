"""What a part should read, from elsewhere: the other side, earlier visits, other units, its marking, the sheet.

Each is proposed with where it comes from; none is taken by itself. A reading that is to be a measure for another
gets the width rule 26 gives part against part (5 %, 0.1 ohm at least), or the marked tolerance where that is
wider: two good parts may lie as far apart as they are marked.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.kind import Kind
from benchlog.domain.marking import decode
from benchlog.domain.measures import Measure
from benchlog.domain.quantity import Overload, tidy
from benchlog.domain.standing import MIRROR_FLOOR, MIRROR_WITHIN
from benchlog.domain.tolerance import Tolerance
from benchlog.domain.unit import Part
from benchlog.errors import BadInput

DIGITS = 4
"""A reading that becomes a measure is no sharper than this many digits."""
SLIPS = (1000.0, 100.0, 10.0)
"""Ratios that a slipped point or prefix leaves."""
_SLIP_WITHIN = 0.12
_NEVER_NEGATIVE = frozenset({"ohm", "F", ""})


@dataclass(frozen=True, slots=True)
class Source:
    """Something read elsewhere: whose, in words, and what."""

    origin: Origin
    whose: str
    value: float | Overload | None


@dataclass(frozen=True, slots=True)
class OnSheet:
    """What was written down for the part, now or before: `holds` while it is what readings are judged by.

    `misprint` says who says that the sheet is wrong here; empty where nobody does.
    """

    id: str
    text: str
    origin: Origin
    holds: bool = False
    misprint: str = ""


@dataclass(frozen=True, slots=True)
class Proposal:
    """One way to say what a part should read.

    Attributes:
        whose: where it comes from, in words.
        holds: whether readings are judged by it now.
        id: of what is written down already; empty for what is only proposed.
        misprint: who says that the sheet is wrong here.
    """

    expectation: Expectation
    whose: str
    holds: bool = False
    id: str = ""
    misprint: str = ""

    @property
    def origin(self) -> Origin:
        """Where it comes from."""
        return self.expectation.origin


WHOSE = {
    Origin.SHEET: "the sheet",
    Origin.MARKING: "its marking",
    Origin.COMPUTED: "a calculation",
    Origin.MIRROR: "the other side",
    Origin.EARLIER_UNIT: "an earlier unit",
    Origin.EARLIER_VISIT: "an earlier visit",
    Origin.PRACTICE: "common practice",
}
"""Where something written down comes from, where nothing nearer is known."""


def proposals(
    kind: Kind, measure: Measure, written: tuple[OnSheet, ...], marking: str, sources: tuple[Source, ...]
) -> tuple[Proposal, ...]:
    """Everything that can be proposed for a measure of a part; what holds comes first, the sheet before the rest."""
    unit = measure.unit
    found = [one for row in written if (one := _written(row, kind, measure)) is not None]
    found.sort(key=lambda one: (not one.holds, bool(one.misprint), one.origin is not Origin.SHEET))
    held = next((one.expectation for one in found if one.holds), None)
    width = _tolerance(held, found)
    printed = of_marking(marking, kind, unit, width)
    if printed is not None and printed.tolerance:
        width = width or printed.tolerance
    rest = [Proposal(printed, f"its marking, {marking}")] if printed is not None else []
    for source in sources:
        made = around(source.value, unit, width, source.origin)
        if made is not None:
            rest.append(Proposal(made, source.whose))
    return (*found, *(one for one in rest if not any(_same(one, other) for other in found)))


def _written(row: OnSheet, kind: Kind, measure: Measure) -> Proposal | None:
    """What is written down as a proposal; None where it cannot be read any more, or is about something else."""
    try:
        expectation = measure.expected(kind, row.text, row.origin)
    except BadInput:
        return None
    if expectation.unit not in ("", measure.unit):
        return None
    return Proposal(expectation, WHOSE[row.origin], row.holds, row.id, row.misprint)


def _tolerance(held: Expectation | None, found: list[Proposal]) -> Tolerance | None:
    """The marked tolerance, from what holds or else from anything written down."""
    known = [held] if held is not None else []
    known += [one.expectation for one in found]
    return next((one.tolerance for one in known if one.tolerance), None)


def _same(one: Proposal, other: Proposal) -> bool:
    """Whether a proposal says what is written down from the same place already."""
    first, second = one.expectation, other.expectation
    return one.origin is other.origin and (first.low, first.high) == (second.low, second.high)


def of_marking(marking: str, kind: Kind, unit: str, width: Tolerance | None) -> Expectation | None:
    """What a marking promises; its tolerance from elsewhere where it says none. None where it promises nothing."""
    if not marking.strip():
        return None
    try:
        found = Expectation.parse(marking, kind, Origin.MARKING, unit)
    except BadInput:
        found = None
    if found is not None:
        return found if found.unit == unit else None
    try:
        decoded = decode(marking, kind)
    except BadInput:
        return None
    if decoded.value is None or decoded.unit != unit or not decoded.value:
        return None
    tolerance = decoded.tolerance or width
    return Expectation.around(decoded.value, unit, tolerance, Origin.MARKING) if tolerance else None


def around(
    value: float | Overload | None, unit: str, width: Tolerance | None, origin: Origin
) -> Expectation | None:
    """What should be read where that was read elsewhere; None where nothing was, or nothing can be said of it."""
    if value is None:
        return None
    if isinstance(value, Overload):
        return Expectation(None, math.inf, math.inf, unit, origin, "OL")
    middle = float(f"{value:.{DIGITS}g}")
    low, high = width or (0.0, 0.0)
    made = (
        Expectation.around(middle, unit, (min(low, -MIRROR_WITHIN), max(high, MIRROR_WITHIN)), origin)
        if middle
        else Expectation(0.0, 0.0, 0.0, unit, origin)
    )
    floor = MIRROR_FLOOR[unit] if unit in _NEVER_NEGATIVE else 0.0
    made = replace(made, low=min(made.low, tidy(middle - floor)), high=max(made.high, tidy(middle + floor)))
    if unit in _NEVER_NEGATIVE:
        made = replace(made, low=max(0.0, made.low))
    return replace(made, text=made.shown) if made.high > made.low else None


def middle_of(expectation: Expectation) -> float | None:
    """Its nominal, else the middle of its limits, else the one there is; None for OL."""
    if expectation.open:
        return None
    if expectation.nominal is not None:
        return expectation.nominal
    ends = [end for end in (expectation.low, expectation.high) if math.isfinite(end)]
    return sum(ends) / len(ends) if ends else None


def agree(one: Expectation, other: Expectation) -> bool:
    """Whether what one wants is what the other allows, either way round."""
    if one.open or other.open:
        return one.open and other.open
    first, second = middle_of(one), middle_of(other)
    if first is None or second is None:
        return True
    return one.low <= second <= one.high or other.low <= first <= other.high


def against(one: Expectation, held: Expectation) -> str:
    """How a proposal lies beside what holds, in words: `agrees`, `12 % more`, `a tenth: a slipped point?`."""
    if agree(one, held):
        return "agrees"
    first, second = middle_of(one), middle_of(held)
    if first is None or second is None:
        return "OL against a figure" if one.open else "a figure against OL"
    if not first or not second or first * second < 0:
        return "apart by sign" if first and second else "apart"
    ratio = first / second
    for slip in SLIPS:
        if abs(ratio / slip - 1.0) <= _SLIP_WITHIN:
            return f"{slip:g} times as much: a slipped point or prefix?"
        if abs(ratio * slip - 1.0) <= _SLIP_WITHIN:
            return f"a {_PART[slip]} of it: a slipped point or prefix?"
    if ratio >= 2.0:
        return f"{ratio:.2g} times as much"
    return f"{abs(ratio - 1.0) * 100:.0f} % {'more' if ratio > 1.0 else 'less'}"


_PART = {1000.0: "thousandth", 100.0: "hundredth", 10.0: "tenth"}

OF_THE_PLACE = frozenset({Origin.SHEET, Origin.COMPUTED, Origin.MIRROR, Origin.EARLIER_UNIT})
"""Where something comes from that speaks of the place, whatever sits there; the rest speaks of one item."""


def carried_over(
    part: Part, known: Iterable[tuple[str, Origin, str]], marking: str
) -> tuple[tuple[str, Origin, str], ...]:
    """What a new item should read (text, origin, measure): what speaks of its place, else its own marking.

    `known` is what holds for the item before, whose own marking says nothing of the new one (rule 38).
    """
    before = tuple(known)
    kept = [one for one in before if one[1] in OF_THE_PLACE]
    if any(not measure for _, _, measure in kept) or part.asked[0].word:
        return tuple(kept)
    unit = part.measured_with.unit
    width = None
    for text, origin, measure in before:
        if not measure:
            width = width or _width_of(text, part.kind, origin, unit)
    printed = of_marking(marking, part.kind, unit, width)
    if printed is None:
        return tuple(kept)
    return ((printed.text or printed.shown, Origin.MARKING, ""), *kept)


def _width_of(text: str, kind: Kind, origin: Origin, unit: str) -> Tolerance | None:
    try:
        return Expectation.parse(text, kind, origin, unit).tolerance
    except BadInput:
        return None
