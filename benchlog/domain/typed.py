"""What a person types as a reading, understood in the light of what it should be.

A number pad has no k: a bare `4.65` against 4k7 means 4.65 k where that alone lands within a factor of
three. What was assumed is said; where nothing or more than one thing fits, it is asked.
"""

import math
from dataclasses import dataclass

from benchlog.domain.expectation import Expectation
from benchlog.domain.quantity import (
    PREFIXES,
    Overload,
    Quantity,
    meanings,
    overload,
    quoted,
    scaled,
    show,
    step,
)
from benchlog.errors import BadInput

FACTOR = 3.0
"""A typed number further off than this from what it should be is not taken for it (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class TypedReading:
    """A typed reading: SI value or overload, its unit (empty where none is known), and what was assumed.

    `assumed` is empty where the text says it all, else a phrase such as `4.65 taken as 4.65 kΩ`.
    """

    text: str
    value: float | Overload
    unit: str
    assumed: str = ""


def read_typed(text: str, expectation: Expectation | None = None, unit: str = "") -> TypedReading:
    """A typed reading; `unit` is the meter's. Raises `BadInput` with the choices where it must be asked."""
    own = unit or (expectation.unit if expectation else "")
    over = overload(text)
    if over:
        return TypedReading(text, over, own)
    ways = _ways(meanings(text), expectation, own)
    if len(ways) == 1:
        (one,) = ways
        return TypedReading(text, one.value, one.unit)
    fitting = [one for one in ways if expectation is not None and lands_near(one.value, expectation)]
    if len(fitting) > 1 and expectation is not None and expectation.low == 0:
        # From nothing up to a limit every smaller prefix fits as well: what was written is what was meant.
        fitting = [one for one in fitting if one is ways[0]] or fitting
    if len(fitting) == 1:
        (one,) = fitting
        assumed = "" if one is ways[0] else f"{text.strip()} taken as {_named(one)}"
        return TypedReading(text, one.value, one.unit, assumed)
    choices = " or ".join(_named(one) for one in fitting or _near(ways[0], expectation) or ways)
    should = f"; it should read {expectation.shown}" if expectation and not fitting else ""
    raise BadInput(quoted(text), f"can be meant in more than one way{should}", f"write {choices}")


def lands_near(value: float, expectation: Expectation) -> bool:
    """Whether a value lands within a factor of three of what it should be, whatever its sign."""
    least, most = nearby(expectation)
    return least <= abs(value) <= most


def nearby(expectation: Expectation) -> tuple[float, float]:
    """The magnitudes that lie within a factor of three of what it should be; infinite where it has no end."""
    if expectation.nominal:
        least = most = abs(expectation.nominal)
    else:
        least, most = sorted((abs(expectation.low), abs(expectation.high)))
        least = 0.0 if expectation.low <= 0 <= expectation.high else least
    return least / FACTOR, most * FACTOR


def _ways(found: tuple[Quantity, ...], expectation: Expectation | None, unit: str) -> list[Quantity]:
    """Every value the text can mean, as it stands first; equal ones once."""
    ways: dict[float, Quantity] = {}
    for one in found:
        ways.setdefault(one.value, Quantity(one.value, one.unit or unit, one.exponent, one.bare))
        for exponent in _prefixes(expectation) if one.bare else ():
            value = scaled(one.value, exponent)
            ways.setdefault(value, Quantity(value, unit, exponent))
    return list(ways.values())


def _prefixes(expectation: Expectation | None) -> list[int]:
    """The prefixes a bare number may leave out: the one the sheet writes and the one the screen shows."""
    if expectation is None or expectation.open:
        return []
    ends = [abs(end) for end in (expectation.low, expectation.high) if math.isfinite(end)]
    shown = step(abs(expectation.nominal or max(ends)), expectation.unit)[0]
    return [exponent for exponent in (expectation.exponent, shown) if exponent]


def _near(one: Quantity, expectation: Expectation | None) -> list[Quantity]:
    """What the number would be with a prefix nobody named, where that comes near: asked, never taken."""
    if expectation is None or not one.bare:
        return []
    moved = [scaled(one.value, exponent) for exponent in PREFIXES.values()]
    return [Quantity(value, one.unit) for value in dict.fromkeys(moved) if lands_near(value, expectation)]


def _named(one: Quantity) -> str:
    return show(one.value, one.unit, digits=9)
