"""Several measures for one part on one scale, all places as shares of its width from 0 to 1. No Qt.

Measures that lie far apart, as a misprint does, are laid on a scale of equal ratios, or the narrow one could not
be seen beside the other.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchlog.domain.elsewhere import middle_of
from benchlog.domain.expectation import Expectation
from benchlog.domain.quantity import Overload, show, step, symbol

FAR = 4.0
"""From this ratio between the largest and the smallest on, equal ratios are equally far apart."""
OPEN_FROM = 0.88
"""Where the field for OL begins, where anything is OL."""
AROUND = 0.12
"""How far the scale goes beyond what lies on it, as a share."""
_STEPS = (1.0, 2.0, 5.0)


@dataclass(frozen=True, slots=True)
class Band:
    """A measure on the scale: its ends, and the value it is made for, None where it is limits alone."""

    low: float
    high: float
    middle: float | None = None


@dataclass(frozen=True, slots=True)
class Scale:
    """Every measure, the reading and the numbers below; `value` None where nothing was read."""

    bands: tuple[Band, ...] = ()
    value: float | None = None
    ticks: tuple[tuple[float, str], ...] = ()
    unit: str = ""
    over: float | None = None
    """Where the field for OL begins, where there is one."""


@dataclass(frozen=True, slots=True)
class _Axis:
    low: float
    high: float
    ratios: bool
    right: float

    def at(self, value: float) -> float:
        if math.isinf(value):
            return self.right if value > 0 else 0.0
        if self.ratios and value <= 0.0:
            return 0.0
        low, high, here = (
            (math.log(one) for one in (self.low, self.high, value))
            if self.ratios
            else (self.low, self.high, value)
        )
        return min(self.right, max(0.0, (here - low) / (high - low) * self.right))


def scale_of(measures: Sequence[Expectation], value: float | Overload | None, most_ticks: int = 6) -> Scale:
    """The scale on which every measure and the reading can be seen; empty where there is nothing to lay on it."""
    over = isinstance(value, Overload) or any(one.open for one in measures)
    axis = _axis(measures, value if isinstance(value, float) else None, OPEN_FROM - 0.03 if over else 1.0)
    unit = next((one.unit for one in measures if one.unit), "")
    if axis is None:
        bands = tuple(Band(OPEN_FROM, 1.0) for _ in measures)
        return Scale(bands, (OPEN_FROM + 1.0) / 2 if over and value is not None else None, over=OPEN_FROM)
    ticks, shown = _ticks(axis, unit, most_ticks)
    place = None
    if isinstance(value, Overload):
        place = (OPEN_FROM + 1.0) / 2
    elif value is not None:
        place = axis.at(value)
    return Scale(
        tuple(_band(axis, one) for one in measures), place, ticks, shown, OPEN_FROM if over else None
    )


def _axis(measures: Sequence[Expectation], value: float | None, right: float) -> _Axis | None:
    ends = [end for one in measures for end in (one.low, one.high) if math.isfinite(end)]
    numbers = ends + ([value] if value is not None else [])
    if not numbers:
        return None
    positive = [number for number in numbers if number > 0.0]
    if len(positive) == len(numbers) and max(numbers) / min(numbers) > FAR:
        room = (max(numbers) / min(numbers)) ** AROUND
        return _Axis(min(numbers) / room, max(numbers) * room, ratios=True, right=right)
    low, high = min(numbers), max(numbers)
    room = (high - low or abs(high) or 1.0) * AROUND
    return _Axis(
        low - room if low < 0.0 or low > room else min(low, 0.0), high + room, ratios=False, right=right
    )


def _band(axis: _Axis, one: Expectation) -> Band:
    if one.open:
        return Band(OPEN_FROM, 1.0)
    middle = middle_of(one) if one.nominal is not None else None
    return Band(axis.at(one.low), axis.at(one.high), axis.at(middle) if middle is not None else None)


def _ticks(axis: _Axis, unit: str, most: int) -> tuple[tuple[tuple[float, str], ...], str]:
    """Round numbers along the scale, each with its own prefix where ratios are laid out."""
    if axis.ratios:
        return _round_ratios(axis, unit, most), symbol(unit)
    exponent, prefix = step(max(abs(axis.low), abs(axis.high)), unit)
    power = 10.0 ** math.floor(math.log10((axis.high - axis.low) / most))
    apart = next(power * one for one in (*_STEPS, 10.0) if (axis.high - axis.low) / (power * one) <= most)
    first, last = math.ceil(axis.low / apart - 1e-9), math.floor(axis.high / apart + 1e-9)
    places = max(0, exponent - math.floor(math.log10(apart) + 1e-9))
    marks = [
        (axis.at(at * apart), f"{at * apart / 10.0**exponent:.{places}f}") for at in range(first, last + 1)
    ]
    return tuple(marks), f"{prefix}{symbol(unit)}"


def _round_ratios(axis: _Axis, unit: str, most: int) -> tuple[tuple[float, str], ...]:
    decades = range(math.floor(math.log10(axis.low)), math.ceil(math.log10(axis.high)) + 1)
    for steps in (_STEPS, (1.0, 3.0), (1.0,)):
        found = [10.0**decade * one for decade in decades for one in steps]
        found = [one for one in found if axis.low <= one <= axis.high]
        if len(found) <= most:
            break
    else:
        found = found[:: math.ceil(len(found) / most)]
    return tuple(
        (axis.at(one), show(one, unit, digits=2).partition(" ")[0] + _prefix(one, unit)) for one in found
    )


def _prefix(value: float, unit: str) -> str:
    """The prefix a number on a scale of ratios carries by itself: `10k`."""
    prefix = step(value, unit)[1]
    return f" {prefix}" if prefix else ""
