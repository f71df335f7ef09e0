"""What something should read: `4k7 5%`, `12..15 mV`, `-38 V 10%`, `0 V +/-20 mV`, `> 1 M`, `OL`.

Limits are SI values and belong to the range; where only one is said the other is infinite. An
expectation of an overload (a reverse-biased diode, an insulator) has both limits at infinity.
"""

import math
import re
from dataclasses import dataclass, replace
from enum import StrEnum

from benchlog.domain.kind import USUAL_TOLERANCE, Kind
from benchlog.domain.marking import Decoded, decode
from benchlog.domain.quantity import (
    LONGEST,
    Quantity,
    meanings,
    normal,
    overload,
    quantity,
    quoted,
    scaled,
    show,
    step,
    symbol,
    tidy,
)
from benchlog.domain.tolerance import Tolerance, show_tolerance, split_percent
from benchlog.errors import BadInput

_HOW = "write it as in 4k7 5%, 12..15 mV, -38 V 10% or 0 V +/-20 mV"
_RANGE = re.compile(r"(.+?)\s*(?:\.{2,3}|\bto\b)\s*(.+)")
_DASHED = re.compile(r"([0-9.,][^-+%/]*)(?<![eE])-\s*([0-9.,][^-+%/]*)")
_BOUND = re.compile(r"(>=?|<=?|min\b|max\b|at least\b|at most\b)\s*(.+)")
_PLUS_MINUS = re.compile(r"(.+?)\s*\+/-\s*([^%]+)")
_UNEVEN = re.compile(r"(.+?)\s*\+\s*([^%/+-]+?)\s*/\s*-\s*([^%/+-]+)")
_AT = re.compile(r"(.+?)\s*(?:@|\bat\b)\s*([0-9.,]+\s?(?:[kM]?(?:Hz)?))", re.IGNORECASE)
_SIGNED = frozenset({"V", "A"})
_NEVER_NEGATIVE = frozenset({"ohm", "F", "H"})


class Origin(StrEnum):
    """Where an expectation comes from."""

    SHEET = "sheet"
    MIRROR = "mirror"
    EARLIER_UNIT = "earlier unit"
    EARLIER_VISIT = "earlier visit"
    MARKING = "marking"
    COMPUTED = "computed"
    PRACTICE = "practice"
    """What any good part of the kind reads, by common practice or a published limit."""


@dataclass(frozen=True, slots=True)
class Expectation:
    """What something should read.

    Attributes:
        nominal: the value it is made for; None where only limits were said.
        low, high: limits in `unit`, included; infinite where there is none.
        unit: code word, empty where none was said.
        origin: where it comes from.
        text: as it was written.
        exponent: power of ten of the prefix it was written with.
        frequency: of the test signal it holds for, Hz; None where that does not matter or was not said.
    """

    nominal: float | None
    low: float
    high: float
    unit: str
    origin: Origin = Origin.SHEET
    text: str = ""
    exponent: int = 0
    frequency: float | None = None

    @classmethod
    def parse(
        cls, text: str, kind: Kind | None = None, origin: Origin = Origin.SHEET, unit: str = ""
    ) -> "Expectation":
        """An expectation from what a person wrote; `unit` is the meter's, for numbers without one.

        Raises `BadInput` where it cannot be read, can be read in two ways, or has no tolerance.
        """
        clean = normal(text)
        if len(clean) > LONGEST:
            raise BadInput(quoted(text), "is too long", _HOW)
        if overload(clean) or clean.casefold() == "open":
            return cls(None, math.inf, math.inf, unit, origin, text)
        found = _AT.fullmatch(clean)
        if found:
            made = cls.parse(found[1], kind, origin, unit)
            return replace(made, text=text, frequency=_hertz(found[2], text))
        hint = unit or (kind.unit if kind else "")
        told = _Told(hint, sure=bool(unit))
        return (
            _bound(clean, told, origin, text)
            or _range(clean, told, origin, text)
            or _absolute(clean, told, origin, text)
            or _relative(clean, kind, hint, origin, text)
        )

    @classmethod
    def around(cls, value: float, unit: str, tolerance: Tolerance, origin: Origin) -> "Expectation":
        """An expectation from a value and its tolerance in fractions."""
        low, high = _limits(value, tolerance)
        made = cls(value, low, high, unit, origin, exponent=step(value, unit)[0])
        return replace(made, text=made.shown)

    @property
    def open(self) -> bool:
        """Whether an overload is what it should read."""
        return math.isinf(self.low) and self.low > 0

    @property
    def tolerance(self) -> Tolerance | None:
        """(low, high) in fractions of the nominal, by magnitude; None where there is none."""
        if not self.nominal or not (math.isfinite(self.low) and math.isfinite(self.high)):
            return None
        ends = [tidy(end / self.nominal - 1) for end in (self.low, self.high)]
        return min(ends), max(ends)

    @property
    def shown(self) -> str:
        """The expectation as a sheet prints it; `parse` reads it back."""
        if self.frequency is not None:
            return f"{replace(self, frequency=None).shown} at {show(self.frequency, 'Hz')}"
        if self.open:
            return "OL"
        if math.isinf(self.low) or math.isinf(self.high):
            sign, end = ("<", self.high) if math.isinf(self.low) else (">", self.low)
            return f"{sign} {show(end, self.unit, digits=15)}"
        if self.nominal is None:
            return self._range_shown()
        middle = show(self.nominal, self.unit, digits=15)
        tolerance = self.tolerance
        if tolerance and all(round(share * 100, 4) == tidy(share * 100) for share in tolerance):
            return f"{middle} {show_tolerance(tolerance)}"
        above, below = (tidy(abs(end - self.nominal)) for end in (self.high, self.low))
        if above == below:
            return f"{middle} ±{show(above, self.unit, digits=15)}"
        return f"{middle} +{show(above, self.unit, digits=15)}/-{show(below, self.unit, digits=15)}"

    def _range_shown(self) -> str:
        low, high = (show(end, self.unit, digits=15) for end in (self.low, self.high))
        first, _, first_unit = low.partition(" ")
        first = "0" if self.low == 0 else first
        return (
            f"{first}..{high}" if self.low == 0 or first_unit == high.partition(" ")[2] else f"{low}..{high}"
        )


@dataclass(frozen=True, slots=True)
class _Told:
    """The unit of a number without one; `sure` where the meter tells it, and not the kind of part alone."""

    unit: str
    sure: bool


def _bound(clean: str, told: _Told, origin: Origin, text: str) -> Expectation | None:
    """`> 1 M`, `max 0.05`: one limit alone."""
    found = _BOUND.fullmatch(clean)
    if not found:
        return None
    end = _stated(found[2], told)
    if found[1] in (">", ">=", "min", "at least"):
        return Expectation(None, end.value, math.inf, end.unit, origin, text, end.exponent)
    if end.value <= 0 or end.unit not in (*_SIGNED, "", "degC"):
        low = 0.0 if end.value > 0 else -math.inf
        return Expectation(None, low, end.value, end.unit, origin, text, end.exponent)
    if end.unit == "degC":
        return Expectation(None, -math.inf, end.value, end.unit, origin, text, end.exponent)
    shown = show(end.value, end.unit, digits=9)
    raise BadInput(
        quoted(text), "leaves open how far it may go below zero", f"write 0..{shown} or 0 +/-{shown}"
    )


def _range(clean: str, told: _Told, origin: Origin, text: str) -> Expectation | None:
    """`12..15 mV`, `0.55-0.7 V`, `900 to 1k1`: the prefix of the last number holds for a bare first one."""
    found = _RANGE.fullmatch(clean) or _DASHED.fullmatch(clean)
    if not found or "%" in clean:
        return None
    last = _stated(found[2], told)
    first = quantity(found[1])
    if first.unit and last.unit and first.unit != last.unit:
        raise BadInput(
            quoted(text), f"goes from {symbol(first.unit)} to {symbol(last.unit)}", "write one unit"
        )
    low = first.value
    if first.bare and last.exponent:
        moved = scaled(first.value, last.exponent)
        low = first.value if moved > last.value >= first.value else moved
    ends = sorted((tidy(low), tidy(last.value)))
    return Expectation(None, ends[0], ends[1], last.unit or first.unit, origin, text, last.exponent)


def _absolute(clean: str, told: _Told, origin: Origin, text: str) -> Expectation | None:
    """`0 V +/-20 mV`, `38 V +1/-2 V`: a tolerance in the unit itself."""
    found = _PLUS_MINUS.fullmatch(clean) or _UNEVEN.fullmatch(clean)
    if not found:
        return None
    below = _stated(found[found.lastindex or 2], told)
    above = _like(quantity(found[2]), below, text)
    middle = _like(quantity(found[1]), below, text)
    if below.value < 0 or above < 0:
        raise BadInput(quoted(text), "has a negative tolerance", _HOW)
    if quantity(found[1]).bare and below.exponent and 0 < abs(middle) < below.value:
        raise BadInput(quoted(text), "has no unit behind its first number", "write it, as in 9.9 V +/-100 mV")
    low, high = tidy(middle - below.value), tidy(middle + above)
    exponent = below.exponent if middle == 0 else quantity(found[1]).exponent
    return Expectation(middle, low, high, below.unit or quantity(found[1]).unit, origin, text, exponent)


def _like(one: Quantity, other: Quantity, text: str) -> float:
    """A value beside another of the same unit; a bare one takes the other's prefix."""
    if one.unit and other.unit and one.unit != other.unit:
        raise BadInput(quoted(text), f"has {symbol(one.unit)} beside {symbol(other.unit)}", "write one unit")
    return scaled(one.value, other.exponent) if one.bare else one.value


def _relative(clean: str, kind: Kind | None, hint: str, origin: Origin, text: str) -> Expectation:
    """`4k7 5%`, `4K7J`, `10u +50/-20% 63V`: a marking, or a value with its tolerance in per cent."""
    rest, percent = split_percent(clean)
    typed = _typed(rest)
    if typed and typed.unit and kind is not None and typed.unit != kind.unit:
        decoded = Decoded(
            text, kind, typed.value, typed.unit, percent
        )  # measured otherwise than it is marked
    else:
        decoded = _one_meaning(decode(clean, kind), hint)
    if decoded.value is not None and decoded.tolerance is None and kind in USUAL_TOLERANCE:
        decoded = replace(decoded, tolerance=USUAL_TOLERANCE[kind])
    if decoded.value is None or decoded.tolerance is None:
        raise BadInput(
            quoted(text), "does not say how far it may be off", f"write a tolerance, as in {rest} 5%"
        )
    if decoded.value == 0:
        raise BadInput(quoted(text), "takes per cent of nothing", "write it as in 0 V +/-20 mV")
    if decoded.tolerance[0] <= -1:
        raise BadInput(quoted(text), "may be off by all of it", "write a tolerance below 100 %")
    if kind is not None and decoded.value < 0 and decoded.unit in _NEVER_NEGATIVE:
        raise BadInput(quoted(text), f"has less than 0 {symbol(decoded.unit)}", "take the sign away")
    low, high = _limits(decoded.value, decoded.tolerance)
    exponent = typed.exponent if typed else step(decoded.value, decoded.unit)[0]
    return Expectation(decoded.value, low, high, decoded.unit or hint, origin, text, exponent)


def _hertz(text: str, whole: str) -> float:
    """The frequency of a test signal."""
    found = quantity(text)
    if found.unit not in ("", "Hz") or found.value <= 0:
        raise BadInput(quoted(whole), "names no frequency behind its at", "write it as in < 0.2 at 120 Hz")
    return found.value


def _limits(value: float, tolerance: Tolerance) -> Tolerance:
    """The limits around a value; on a negative one `+` is away from zero."""
    ends = sorted(tidy(value * (1 + share)) for share in tolerance)
    return ends[0], ends[1]


def _one_meaning(decoded: Decoded, hint: str) -> Decoded:
    """The one way to read it that has the meter's unit; `BadInput` with the choices where there are more."""
    choices = [one for one in decoded.choices if not hint or one.unit in (hint, "")]
    if not decoded.choices:
        return decoded
    if len(choices) == 1:
        (one,) = choices
        return Decoded(decoded.text, one.kind, one.value, one.unit, one.tolerance)
    ways = ", or ".join(str(one) for one in choices or decoded.choices)
    raise BadInput(quoted(decoded.text), "can be read in more than one way", f"write which: {ways}")


def _typed(text: str) -> Quantity | None:
    """The text as a plain typed value, or None where it is a marking of another form."""
    try:
        found = meanings(text)
    except BadInput:
        return None
    return found[0] if len(found) == 1 else None


def _stated(text: str, told: _Told) -> Quantity:
    """A limit with its unit: as written, else the meter's, else what prefix and kind tell (k is ohms)."""
    one = quantity(text)
    unit = told.unit
    if one.exponent >= 3 and not told.sure:
        unit = "ohm"
    elif one.exponent <= -9 and not unit:
        unit = "F"
    return Quantity(tidy(one.value), one.unit or unit, one.exponent, one.bare)
