"""Values with their units: what a person types becomes SI, and SI becomes what a sheet would print.

Values are SI floats; the units are `ohm F V A H Hz W s degC` and an empty text for a bare number.
"""

import math
import re
from dataclasses import dataclass
from decimal import Context, Decimal
from enum import Enum

from benchlog.errors import BadInput


class Overload(Enum):
    """What a meter shows beyond its range: data on ohms, an alarm on volts, never a number."""

    POSITIVE = "OL"
    NEGATIVE = "-OL"


OVERLOAD_WORDS = frozenset({"ol", "o.l", "0l", "0.l", "ovld", "ovrld", "ovload", "overload", "overflow"})
"""What meters show, and people type, for a reading beyond the range (as printed in meter manuals)."""

LONGEST = 80
"""Nobody types a value longer than this."""

PREFIXES = {
    "": 0, "p": -12, "n": -9, "u": -6, "m": -3, "k": 3, "K": 3, "M": 6, "meg": 6, "Meg": 6, "G": 9,
}  # fmt: skip
"""Power of ten of each prefix; the case counts, m is not M."""

UNIT_WORDS = {
    "": "", "ω": "ohm", "ohm": "ohm", "ohms": "ohm", "r": "ohm", "f": "F", "h": "H", "hz": "Hz", "w": "W", "s": "s",
    "v": "V", "vdc": "V", "vac": "V", "v dc": "V", "v ac": "V", "vrms": "V", "v rms": "V", "a": "A", "adc": "A",
    "aac": "A", "a dc": "A", "a ac": "A", "°c": "degC", "degc": "degC", "deg c": "degC",
}  # fmt: skip
"""Unit of each word, in lower case: a unit's case does not count."""

SYMBOLS = {"ohm": "Ω", "degC": "°C"}
"""How a unit is shown where its code word is not the symbol."""

_SAME = str.maketrans(
    {
        "µ": "u", "μ": "u", "\u2126": "Ω", "℃": "°C", "±": "+/-", "…": "..", "≥": ">=", "≤": "<=",
        "−": "-", "–": "-", "\u2010": "-", "\u2011": "-", "\u00a0": " ", "\u2009": " ", "\u202f": " ",
    }
)  # fmt: skip
NUMBER = r"(?:[0-9][0-9.,]*|[.,][0-9]+)"
_PLAIN = re.compile(rf"([+-]?)\s*({NUMBER})(?:[eE]([+-]?[0-9]{{1,3}}))?\s*(.*)")
_INSIDE = re.compile(r"([+-]?)\s*([0-9]*)([RkKMGmunpVF])([0-9]+)\s*(.*)")
_NOT_A_NUMBER = 9e37

_STEPS: dict[str, tuple[tuple[str, int, str], ...]] = {
    "ohm": (("0", -3, "m"), ("1e-3", 0, ""), ("1e3", 3, "k"), ("1e6", 6, "M"), ("1e9", 9, "G")),
    "F": (("0", -12, "p"), ("1e-9", -9, "n"), ("1e-6", -6, "µ"), ("1", 0, "")),
    "V": (("0", -6, "µ"), ("2e-4", -3, "m"), ("0.2", 0, ""), ("1e4", 3, "k")),
    "A": (("0", -9, "n"), ("1e-6", -6, "µ"), ("1e-3", -3, "m"), ("1", 0, "")),
    "H": (("0", -9, "n"), ("1e-6", -6, "µ"), ("1e-3", -3, "m"), ("1", 0, "")),
    "Hz": (("0", 0, ""), ("1e4", 3, "k"), ("1e6", 6, "M")),
    "W": (("0", -3, "m"), ("0.1", 0, ""), ("1e3", 3, "k")),
    "s": (("0", -3, "m"), ("1", 0, "")),
}
"""For each unit: from which value on which prefix is printed, as service sheets do it (common practice,
no source): 0.341 ohm and 4700 uF, not 341 milliohm and 4.7 mF."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in SI with what was written beside it.

    Attributes:
        value: in the base unit.
        unit: the code word of the unit, empty where none was written.
        exponent: the power of ten of the prefix, 0 where none was written.
        bare: whether neither prefix nor unit was written, so that either may have been meant.
    """

    value: float
    unit: str = ""
    exponent: int = 0
    bare: bool = False


def normal(text: str) -> str:
    """The text with one spelling for each of minus, micro, ohm, plus-minus, dots and blanks."""
    return " ".join(text.translate(_SAME).split())


def shorten(text: str) -> str:
    """The text as it can stand in a sentence: one line, printable, not too long."""
    clean = "".join(c if c.isprintable() else "?" for c in text)
    return clean if len(clean) <= LONGEST else clean[:LONGEST] + "..."


def quoted(text: str) -> str:
    """The text in quotes, as it stands in front of what is wrong with it."""
    return f'"{shorten(text)}"'


def scaled(value: float, exponent: int) -> float:
    """`value` times ten to the `exponent`, without the dust of binary arithmetic."""
    return float(f"{value:.15g}".partition("e")[0] + f"e{_exponent_of(value) + exponent}")


def tidy(value: float) -> float:
    """`value` to twelve digits, so that 1.1 x 4700 is 5170 and a reading on the limit is inside."""
    return float(f"{value:.12g}")


def overload(text: str) -> Overload | None:
    """The overload a text stands for, or None where it is something else."""
    word = normal(text).casefold()
    sign, word = (word[:1], word[1:].strip()) if word[:1] in ("+", "-") else ("", word)
    word = re.sub(r"\s*(ω|ohms?|v|a|[kmg]ω|[kmg]ohms?|mv|ma)$", "", word) if " " in word else word
    if word not in OVERLOAD_WORDS:
        return None
    return Overload.NEGATIVE if sign == "-" else Overload.POSITIVE


def suffix(text: str) -> tuple[int, str] | None:
    """The (power of ten, unit) of what follows a number: `kΩ`, `mV`, `n`, `VDC`; None where unknown."""
    if text[-1:] == "S":  # a tolerance letter, never seconds
        return None
    for prefix, exponent in PREFIXES.items():
        unit = UNIT_WORDS.get(text[len(prefix) :].strip().casefold())
        if text.startswith(prefix) and unit is not None and (prefix in ("", "m") or text[-1:] != "R"):
            return exponent, unit
    return None


def decimals(number: str) -> tuple[str, ...]:
    """How a typed number can be meant, with a point: one text, two for `1,234`, none where it is no number.

    A lone point is always the decimal point. Where both signs stand, the last is the decimal one.
    """
    point, comma = number.count("."), number.count(",")
    if not comma and point <= 1:
        return (number,)
    if comma == 1 and not point:
        meant = number.replace(",", ".")
        return (meant, number.replace(",", "")) if _grouped(number, ",") and number[0] != "0" else (meant,)
    if not (point and comma):
        sign = "," if comma else "."
        return (number.replace(sign, ""),) if _grouped(number, sign) else ()
    last = max(number, key=lambda c: number.rfind(c) if c in ".," else -1)
    whole, _, rest = number.rpartition(last)
    other = "," if last == "." else "."
    if last in whole or other in rest or not _grouped(whole, other):
        return ()
    return (f"{whole.replace(other, '')}.{rest}",)


def meanings(text: str) -> tuple[Quantity, ...]:
    """What a typed value can mean: one quantity, or two where a comma may be either sign.

    Takes `4.65`, `4k7`, `-38,9 V`, `.61`, `12 mV`, `R33`, `2e-5`. Raises `BadInput` for the rest.
    """
    clean = normal(text)
    if len(clean) > LONGEST:
        raise BadInput(shorten(text), "is too long for a value", "type one value, as in 4k7 or -38.9 V")
    found = _inside(clean) or _plain(clean)
    if not found:
        raise BadInput(quoted(text), "is not a value", "type it as in 4k7, 0.22, 100 nF or -38.9 V")
    if any(abs(one.value) >= _NOT_A_NUMBER for one in found):
        raise BadInput(quoted(text), "is what a meter sends for no number", "type OL for an overload")
    return found


def quantity(text: str, unit: str = "") -> Quantity:
    """The one value a text means, in `unit` where that is given; `BadInput` where it is not one."""
    found = meanings(text)
    if len(found) > 1:
        raise BadInput(
            quoted(text),
            "can be read in two ways",
            "write " + " or ".join(plain(one.value) for one in found),
        )
    (one,) = found
    if unit and one.unit and one.unit != unit:
        raise BadInput(quoted(text), f"is in {symbol(one.unit)}", f"give it in {symbol(unit)}")
    return Quantity(one.value, one.unit or unit, one.exponent, one.bare)


def symbol(unit: str) -> str:
    """How a unit is shown: `Ω` for `ohm`."""
    return SYMBOLS.get(unit, unit)


def plain(value: float) -> str:
    """A number in full, without exponent: `0.000047`."""
    text = format(Decimal(repr(value)), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def step(value: float, unit: str) -> tuple[int, str]:
    """The (power of ten, prefix) a sheet would print `value` with."""
    found = (0, "")
    if value == 0:
        return found
    for least, exponent, prefix in _STEPS.get(unit, ()):
        if abs(Decimal(repr(value))) >= Decimal(least):
            found = (exponent, prefix)
    return found


def show(value: float, unit: str, *, digits: int = 4, resolution: float | None = None) -> str:
    """A value as a sheet would print it: `4.68 kΩ`, `0.341 Ω`, `-38.9 V`.

    To `digits` significant digits without trailing zeros, or to the meter's last digit where
    `resolution` (in the base unit) is known.
    """
    if not math.isfinite(value):
        return "OL" if value > 0 else "-OL"
    rounded, places = _rounded(value, digits, resolution)
    exponent, prefix = step(float(rounded), unit)
    return f"{_digits(rounded, places, exponent)} {prefix}{symbol(unit)}".rstrip()


def span(low: float, high: float, unit: str, *, digits: int = 5) -> str:
    """Two limits in one phrase: `4.465 to 4.935 kΩ`, `at most 0.05 Ω`, `at least 1 MΩ`."""
    if math.isinf(low):
        return f"at most {show(high, unit, digits=digits)}"
    if math.isinf(high):
        return f"at least {show(low, unit, digits=digits)}"
    first, _, first_unit = show(low, unit, digits=digits).partition(" ")
    last, _, last_unit = show(high, unit, digits=digits).partition(" ")
    if low == 0 or first_unit == last_unit:
        return f"{first} to {last} {last_unit}".rstrip()
    if high == 0:
        return f"{first} to {last} {first_unit}"
    return f"{first} {first_unit} to {last} {last_unit}"


def _exponent_of(value: float) -> int:
    """The power of ten that `value` is printed with, 0 where it is printed without."""
    return int(f"{value:.15g}".partition("e")[2] or 0)


def _grouped(number: str, sign: str) -> bool:
    """Whether `sign` parts the number in groups of three, as in 1,234,567 and 12."""
    first, *rest = number.split(sign)
    return 1 <= len(first) <= 3 and all(len(group) == 3 for group in rest)


def _inside(text: str) -> tuple[Quantity, ...]:
    """A value whose letter stands at the decimal point: `4k7`, `R33`, `5V1`."""
    found = _INSIDE.fullmatch(text)
    if not found:
        return ()
    sign, whole, letter, rest, tail = found.groups()
    unit = {"R": "ohm", "V": "V", "F": "F"}.get(letter, "")
    stated = suffix(tail)
    if stated is None or stated[0] or (unit and stated[1] and unit != stated[1]):
        return ()
    exponent = PREFIXES.get(letter, 0)
    return (Quantity(float(f"{sign}{whole or '0'}.{rest}e{exponent}"), unit or stated[1], exponent),)


def _plain(text: str) -> tuple[Quantity, ...]:
    """A number with what follows it: `-38,9 V`, `.61`, `2e-5`."""
    found = _PLAIN.fullmatch(text)
    known = suffix(found[4]) if found else None
    if not found or known is None:
        return ()
    exponent, unit = known
    power = exponent + int(found[3] or 0)
    bare = not found[4] and not found[3]
    numbers = decimals(found[2])
    return tuple(Quantity(float(f"{found[1]}{number}e{power}"), unit, exponent, bare) for number in numbers)


def _rounded(value: float, digits: int, resolution: float | None) -> tuple[Decimal, int | None]:
    """The value to its last digit, and how many places after the point must stand (None: no zeros)."""
    exact = Decimal(repr(value))
    if resolution is None or not 0 < resolution < math.inf:
        return Context(prec=digits).plus(exact), None
    least = Decimal(repr(resolution))
    places = int(least.adjusted())
    return (exact / least).to_integral_value() * least, -places


def _digits(value: Decimal, places: int | None, exponent: int) -> str:
    """The digits of a rounded value in its prefix, with `places` after the point in the base unit."""
    moved = value.scaleb(-exponent)
    if places is not None:
        text = f"{moved:.{max(0, places + exponent)}f}"
        return text.lstrip("-") if not moved else text
    text = f"{moved:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text
