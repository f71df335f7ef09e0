"""Tolerances: the letters parts are marked with, and what a person types behind a value.

A tolerance is (low, high) in fractions of the value: 5 % is (-0.05, 0.05).
"""

import re
from dataclasses import dataclass

from benchlog.domain.quantity import NUMBER, decimals, normal, quoted, tidy
from benchlog.errors import BadInput

Tolerance = tuple[float, float]

ABSOLUTE_BELOW = 10e-12
"""Below this capacitance (F) the letters B C D F G stand for picofarads (IEC 60062)."""

_EVEN = {"B": 0.001, "C": 0.0025, "D": 0.005, "F": 0.01, "G": 0.02, "J": 0.05, "K": 0.1, "M": 0.2, "N": 0.3}
_UNEVEN = {"T": (-0.1, 0.5), "S": (-0.2, 0.5), "Z": (-0.2, 0.8)}
_PICOFARADS = {"B": 0.1e-12, "C": 0.25e-12, "D": 0.5e-12, "F": 1e-12, "G": 2e-12}
_DISPUTED: dict[str, tuple[Tolerance, ...]] = {
    "E": ((-0.00005, 0.00005),),
    "H": ((-0.03, 0.03), (-0.025, 0.025)),
    "L": ((-0.0001, 0.0001),),
    "P": ((-0.0002, 0.0002),),
    "Q": ((-0.1, 0.3),),
    "W": ((-0.0005, 0.0005),),
}
"""Letters on which public lists disagree or are silent: offered, never taken."""

_OLD_P: Tolerance = (0.0, 1.0)
_BOTH = re.compile(rf"([+-])\s*({NUMBER})\s*%?\s*[/,]?\s*([+-])\s*({NUMBER})\s*%")
_ONE = re.compile(rf"(\+/-|\+-|[+-])?\s*({NUMBER})\s*%")
_LARGEST = 10.0


@dataclass(frozen=True, slots=True)
class Letter:
    """What a tolerance letter can mean; `sure` is false where it must be confirmed."""

    options: tuple[Tolerance, ...]
    sure: bool = True


def letter(mark: str, value: float, unit: str) -> Letter | None:
    """What a letter means behind a value in its unit, or None where it is no tolerance letter of that kind."""
    if unit == "F" and mark in _PICOFARADS and 0 < value < ABSOLUTE_BELOW:
        share = tidy(_PICOFARADS[mark] / value)
        return Letter(((-share, share),))
    if mark in _EVEN:
        return Letter(((-_EVEN[mark], _EVEN[mark]),))
    if mark in _UNEVEN:
        return Letter((_UNEVEN[mark],)) if unit == "F" else None
    if mark == "P" and unit == "F":
        return Letter((_OLD_P, *_DISPUTED["P"]), sure=False)
    if mark in _DISPUTED and (mark != "Q" or unit == "F"):
        return Letter(_DISPUTED[mark], sure=False)
    return None


def split_percent(text: str) -> tuple[str, Tolerance | None]:
    """A typed text without its `5%`, `±5 %` or `+20/-10%`, and that tolerance; None where there is none."""
    clean = normal(text)
    found = _BOTH.search(clean)
    if found and found[1] != found[3]:
        parts = {found[1]: _fraction(found[2], text), found[3]: _fraction(found[4], text)}
        tolerance = (0.0 - parts["-"], parts["+"])
    else:
        found = _ONE.search(clean)
        if not found:
            return clean, None
        if found[1] in ("+", "-"):
            both = "+10/-0%" if found[1] == "+" else "+0/-10%"
            raise BadInput(
                quoted(text), "has a tolerance on one side only", f"write both, as in {both}, or 10%"
            )
        share = _fraction(found[2], text)
        tolerance = (0.0 - share, share)
    rest = normal(f"{clean[: found.start()]} {clean[found.end() :]}")
    if "%" in rest:
        raise BadInput(quoted(text), "has more than one tolerance", "write one, as in 4k7 5%")
    return rest, tolerance


def show_tolerance(tolerance: Tolerance) -> str:
    """A tolerance as a sheet prints it: `±5 %`, `+50/-20 %`."""
    low, high = (f"{abs(share) * 100:.6g}" for share in tolerance)
    return f"±{high} %" if low == high else f"+{high}/-{low} %"


def _fraction(number: str, text: str) -> float:
    """Per cent as typed, as a fraction."""
    found = decimals(number)
    if len(found) != 1 or not 0 <= float(found[0]) / 100 <= _LARGEST:
        raise BadInput(quoted(text), f"{number} % is not a tolerance", "write it as in 5% or +20/-10%")
    return tidy(float(found[0]) / 100)
