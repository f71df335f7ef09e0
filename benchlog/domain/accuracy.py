"""How far a meter can be wrong: `0.5%+2@0.1`, `0.002%+0.0005% of range`, `50mV`; stated as one, by function, by range.

The figures of a data sheet bound the error; with no distribution stated they are the half-width of a
rectangular one (JCGM 100, 4.3.7), whose standard uncertainty is the half-width over the square root of 3.
"""

import math
import re
from dataclasses import dataclass

from benchlog.domain.quantity import NUMBER, Quantity, decimals, normal, quantity, quoted, symbol, tidy
from benchlog.errors import BadInput

COVERAGE = 2.0
"""The k of every expanded uncertainty."""

_PERCENT = re.compile(rf"({NUMBER})\s*%\s*(?:(?:of\s+)?(reading|rdg|range|rng)|@\s*(.+))?", re.IGNORECASE)
_OF_RANGE = ("range", "rng")
_COUNTS = re.compile(r"([0-9]{1,6})\s*(?:d|dgts?|digits?|cts?|counts?)?\s*(?:@\s*(.+))?")
_HOW = "write it as in 0.5%+2@0.1, 0.002%+0.0005%@10 or 50mV"

OVERRANGE = 1.25
"""How far past its nominal top a range may still show a reading (common practice, no source)."""

SAME_RANGE = 1e-3
"""How near a range that was told must be to one that is listed, as a fraction."""


@dataclass(frozen=True, slots=True)
class MeterError:
    """The bound of a meter's error, as its data sheet states it.

    Attributes:
        reading: fraction of the reading.
        range: fraction of the range, times that range, in the base unit.
        full: fraction of the range where that must come with the reading.
        fixed: in the base unit.
        counts: of the last digit.
        resolution: the value of one count in the base unit; None where it must come with the reading.
        unit: code word where one was written.
        text: as it was written.
    """

    reading: float = 0.0
    range: float = 0.0
    full: float = 0.0
    fixed: float = 0.0
    counts: int = 0
    resolution: float | None = None
    unit: str = ""
    text: str = ""

    @classmethod
    def parse(cls, text: str) -> "MeterError":
        """A meter's error from what a person wrote; `BadInput` where it cannot be read."""
        clean = normal(text).removeprefix("+/-").strip()
        if clean.startswith("(") and clean.endswith(")"):
            clean = clean[1:-1]
        terms = [term.strip() for term in clean.split("+")]
        found = [_term(term, text, alone=len(terms) == 1) for term in terms]
        units = {one.unit for one in found if one.unit}
        if len(units) > 1 or sum(one.counts > 0 for one in found) > 1:
            raise BadInput(quoted(text), "does not add up", _HOW)
        return cls(
            reading=tidy(sum(one.reading for one in found)),
            range=tidy(sum(one.range for one in found)),
            full=tidy(sum(one.full for one in found)),
            fixed=tidy(sum(one.fixed for one in found)),
            counts=sum(one.counts for one in found),
            resolution=next((one.resolution for one in found if one.resolution is not None), None),
            unit=units.pop() if units else "",
            text=text,
        )

    def half_width(self, value: float, resolution: float | None = None, range_: float | None = None) -> float:
        """How far a reading can be off, either way, in its base unit.

        `resolution` is the last digit of the range in use and `range_` its top; where one is needed and not
        known, it is refused rather than guessed (`BadInput`).
        """
        count = self.resolution if self.resolution is not None else resolution
        if self.counts and count is None:
            place, fix = quoted(self.text), "write what one count is, as in 0.5%+2@0.1"
            raise BadInput(place, "counts digits, and the last digit of this reading is not known", fix)
        if self.full and range_ is None:
            place, fix = quoted(self.text), "write which range, as in 0.002%+0.0005%@10"
            raise BadInput(
                place, "takes a share of the range, and the range of this reading is not known", fix
            )
        width = self.reading * abs(value) + self.range + self.full * abs(range_ or 0.0) + self.fixed
        return tidy(width + self.counts * (count or 0.0))

    def standard(self, value: float, resolution: float | None = None, range_: float | None = None) -> float:
        """The standard uncertainty of a reading."""
        return self.half_width(value, resolution, range_) / math.sqrt(3.0)


@dataclass(frozen=True, slots=True)
class MeterRange:
    """One range of a function: its top, the value of its last digit and its error, each in the base unit.

    `resolution` and `error` are None where nobody has said.
    """

    top: float
    resolution: float | None = None
    error: MeterError | None = None


@dataclass(frozen=True, slots=True)
class FunctionError:
    """What is known of a meter's error in one function; `error` holds on every range that states none."""

    unit: str
    error: MeterError | None = None
    ranges: tuple[MeterRange, ...] = ()

    @property
    def needs_range(self) -> bool:
        """Whether the error, or the last digit it counts, depends on the range."""
        if any(one.error is not None for one in self.ranges):
            return True
        error = self.error
        return error is not None and (error.full > 0.0 or (error.counts > 0 and error.resolution is None))

    def in_use(self, value: float, resolution: float | None, top: float | None) -> MeterRange | None:
        """The listed range a reading was taken on; None where it cannot be told, or cannot have been that one.

        `top` is the range as it was set or asked back, `resolution` the last digit as the reading shows it.
        """
        if top is not None:
            found = [one for one in self.ranges if math.isclose(one.top, top, rel_tol=SAME_RANGE)]
        elif resolution is not None:
            found = [
                one for one in self.ranges if one.resolution and math.isclose(one.resolution, resolution)
            ]
        else:
            found = list(self.ranges) if len(self.ranges) == 1 else []
        # Two ranges with one last digit: what is meant is the one that reaches far enough.
        found = [one for one in found if abs(value) <= one.top * OVERRANGE]
        return min(found, key=lambda one: one.top, default=None)

    def of(
        self, value: float, resolution: float | None = None, top: float | None = None
    ) -> tuple[float | None, float | None]:
        """A reading's half-width and last digit, each None where it is not known."""
        if top is not None and abs(value) > top * OVERRANGE:
            top = None  # set otherwise meanwhile
        range_ = self.in_use(value, resolution, top)
        digit = resolution if resolution is not None or range_ is None else range_.resolution
        error = (range_.error if range_ else None) or self.error
        if error is None or (error.unit and error.unit != self.unit):
            return None, digit
        try:
            return error.half_width(value, digit, range_.top if range_ else top), digit
        except BadInput:
            return None, digit


def _term(term: str, text: str, *, alone: bool) -> MeterError:
    """One summand of a data sheet's figure."""
    percent = _PERCENT.fullmatch(term)
    if percent:
        number = decimals(percent[1])
        if len(number) != 1 or float(number[0]) > 100:
            raise BadInput(quoted(text), f"{percent[1]} % is not a meter's error", _HOW)
        share = float(number[0]) / 100
        if percent[3]:
            full = _positive(percent[3], text)
            return MeterError(range=share * full.value, unit=full.unit)
        of_range = (percent[2] or "").casefold() in _OF_RANGE
        return MeterError(full=share) if of_range else MeterError(reading=share)
    counts = _COUNTS.fullmatch(term)
    if counts and (counts[2] or not alone or not term.isdigit()):
        one = _positive(counts[2], text) if counts[2] else None
        return MeterError(
            counts=int(counts[1]), resolution=one.value if one else None, unit=one.unit if one else ""
        )
    try:
        width = quantity(term)
    except BadInput:
        raise BadInput(quoted(text), "is not a meter's error", _HOW) from None
    if width.value < 0 or (width.bare and counts):
        fix = "write 2@0.1 for counts, or a unit as in 2 mV" if width.value >= 0 else _HOW
        raise BadInput(quoted(text), "is not a meter's error", fix)
    return MeterError(fixed=width.value, unit=width.unit)


def _positive(text: str, whole: str) -> Quantity:
    """A range or a count: more than nothing."""
    one = quantity(text)
    if one.value <= 0:
        raise BadInput(
            quoted(whole), f"{text} {symbol(one.unit)} is no range and no count".replace("  ", " "), _HOW
        )
    return one
