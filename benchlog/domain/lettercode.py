"""The ways a number with its letters can be read: `4K7J`, `47K`, `104`, `0.1 uF`, `-38.9 V`.

The letters at the decimal point are those of IEC 60062. Each way comes out as one `Raw`; which of them
counts is for `marking` and the kind of the part.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from benchlog.domain.kind import RESISTORS, Kind
from benchlog.domain.quantity import NUMBER, decimals, scaled, suffix

MARKED_IN = frozenset({"ohm", "F", "H"})
"""Units of the parts whose marking is their value."""

TOLERANCE_LETTERS = "BCDEFGHJKLMNPQSTWZ"
_AT_POINT = {
    "R": (0, "ohm"), "k": (3, "ohm"), "K": (3, "ohm"), "M": (6, "ohm"), "G": (9, "ohm"), "L": (-3, "ohm"),
    "p": (-12, "F"), "n": (-9, "F"), "u": (-6, "F"), "m": (-3, "F"), "F": (0, "F"), "V": (0, "V"),
}  # fmt: skip
"""Power of ten and unit of a letter that stands at the decimal point (IEC 60062; V is trade habit on zeners)."""

_OLD_MICRO = frozenset({"MFD", "MFd", "Mfd", "mfd", "MF"})
_OLD_PICO = frozenset({"MMFD", "MMFd", "mmfd", "MMF", "mmF", "mmf", "uuF"})
_CODE = re.compile(r"([0-9]{0,4})([RKkMGLEpnumFV])([0-9]{1,4})\s*(.*)")
_PLAIN = re.compile(rf"([+-]?)\s*({NUMBER})(e[+-]?[0-9]{{1,3}}|E[+-][0-9]{{1,3}})?\s*(.*)")
_SMALLEST_ELECTROLYTIC = 0.1e-6


@dataclass(frozen=True, slots=True)
class Raw:
    """A value with the tolerance letter that stands behind it, before the letter is looked up."""

    value: float
    unit: str
    letter: str = ""
    how: str = ""
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is known before the number is read: the kind, its unit, and whether per cent stand behind it."""

    kind: Kind | None
    unit: str
    percent: bool


def readings(text: str, want: Wanted) -> list[Raw]:
    """Every way to read one value with its letters; none where it is no value."""
    found = list(_coded(text, want)) or list(_plain(text, want))
    return list(dict.fromkeys(found))


def _coded(text: str, want: Wanted) -> Iterator[Raw]:
    """A value whose letter stands at the decimal point: `4K7J`, `R47`, `4n7F`, `5L0`."""
    found = _CODE.fullmatch(text)
    if not found:
        return
    whole, point, rest, tail = found.groups()
    number = f"{whole or '0'}.{rest}"
    for exponent, unit, how in _at_point(point, want):
        value = float(f"{number}e{exponent}")
        known = suffix(tail)
        if tail and known is not None and known[0] == 0 and _same_unit(known[1], point, unit):
            yield Raw(value, known[1], how=how, sure=not how)
            if known[1] == want.unit == "H":
                continue
        if not tail or tail in TOLERANCE_LETTERS:
            yield Raw(value, unit, tail, how, not how)
    if point == "E" and want.unit in ("", "ohm") and whole and not tail:
        yield Raw(float(f"{whole}e{rest}"), want.unit, how="E as a power of ten", sure=False)


def _same_unit(stated: str, point: str, unit: str) -> bool:
    """Whether a unit behind `4n7` is one its letter can have: F and H share their prefixes."""
    return bool(stated) and (stated == unit or (point in "pnum" and unit == "F"))


def _at_point(point: str, want: Wanted) -> list[tuple[int, str, str]]:
    """(power of ten, unit, what must be confirmed) of the letter at the decimal point."""
    if point == "E":
        return [(0, "ohm", "E stands for the point")] if want.unit in ("", "ohm") else []
    exponent, unit = _AT_POINT[point]
    if want.unit == "H" and point in "Rnum":
        return [(-6 if point == "R" else exponent, "H", "")]
    if want.unit == "ohm" and point == "m":
        return [(-3, "ohm", "m as milli"), (6, "ohm", "m meant as M")]
    return [(exponent, unit, "")]


def _plain(text: str, want: Wanted) -> Iterator[Raw]:
    """A number with what follows it: `47K`, `470RJ`, `0.1 uF`, `104`, `-38.9 V`."""
    found = _PLAIN.fullmatch(text)
    if not found:
        return
    sign, number, power, letters = found[1], found[2], found[3] or "", found[4]
    numbers = decimals(number)
    for one in numbers:
        how = f"{number} as {one}" if len(numbers) > 1 else ""
        for raw in _meant(one, sign, power, letters, want):
            yield Raw(raw.value, raw.unit, raw.letter, "; ".join(filter(None, (how, raw.how))), raw.sure)


def _meant(number: str, sign: str, power: str, letters: str, want: Wanted) -> Iterator[Raw]:
    """Every way to read a number with a point and the letters behind it."""
    if not letters:
        if sign or power:
            yield Raw(float(f"{sign}{number}{power}"), want.unit)
        else:
            yield from _bare(number, "", want)
        return
    if letters == "mF":
        yield Raw(float(f"{sign}{number}e-3"), "F", how="mF as millifarad", sure=False)
        yield Raw(float(f"{sign}{number}e-6"), "F", how="mF in the old sense of µF", sure=False)
        return
    if letters in _OLD_MICRO | _OLD_PICO:
        yield Raw(float(f"{sign}{number}e{-6 if letters in _OLD_MICRO else -12}"), "F")
        return
    stated = suffix(letters)
    if stated and not (stated[1] in ("F", "H") and stated[0] > 0):  # nobody means a kilofarad
        yield from _stated(float(f"{sign}{number}e{stated[0] + int(power[1:] or 0)}"), letters, stated, want)
        apart = letters[-2:] in (" F", " H")  # a letter that stands apart may be a tolerance
        if len(letters) > 1 and not apart:
            return
    if not sign and not power and letters[-1] in TOLERANCE_LETTERS.replace("W", ""):
        yield from _lettered(number, letters.replace(" ", ""), want)


def _stated(value: float, letters: str, stated: tuple[int, str], want: Wanted) -> Iterator[Raw]:
    """A value with its prefix or unit written."""
    exponent, unit = stated
    if unit:
        how = f"{letters} as the unit" if letters in ("F", "H") and not want.unit else ""
        yield Raw(value, unit, how=how)
    elif want.unit == "ohm" and letters == "m":
        yield Raw(value, "ohm", how="m as milli", sure=False)
        yield Raw(scaled(value, 9), "ohm", how="m meant as M", sure=False)
    elif exponent == -3 or (want.unit and want.unit not in MARKED_IN):
        yield Raw(value, want.unit)
    elif exponent < 0:
        yield Raw(value, "H" if want.unit == "H" else "F")
    else:
        yield Raw(value, "ohm")


def _lettered(number: str, letters: str, want: Wanted) -> Iterator[Raw]:
    """A number with a tolerance letter behind it: `22J`, `47K`, `470RJ`, `100nJ`."""
    mark, before = letters[-1], letters[:-1]
    if not before:
        if want.unit in ("", "ohm") and mark not in "KMG":
            ohms = {"L": "e-3"}.get(mark, "")
            if mark in "EL":
                yield Raw(float(f"{number}{ohms}"), "ohm", how=f"{mark} for the point", sure=False)
            yield from _bare(number, mark, Wanted(want.kind, "ohm", want.percent))
        if want.unit in ("", "F"):
            yield from _bare(number, mark, Wanted(want.kind or Kind.CAPACITOR, "F", want.percent))
        return
    stated = suffix(before)
    if stated:
        unit = stated[1] or ("ohm" if stated[0] >= 0 else "F")
        yield Raw(float(f"{number}e{stated[0]}"), unit, mark)


def _bare(number: str, mark: str, want: Wanted) -> Iterator[Raw]:
    """A number alone, read as its kind is marked."""
    whole = number.isdigit()
    if want.unit == "F":
        yield from _farads(number, mark, want.kind or Kind.CAPACITOR)
    elif want.unit == "ohm":
        yield Raw(float(number), "ohm", mark, "as it stands")
        coded = whole and not want.percent and want.kind in RESISTORS and _is_code(number, ohms=True)
        if coded:
            yield Raw(
                float(f"{number[:-1]}e{number[-1]}"),
                "ohm",
                mark,
                "as a code that ends in the number of zeros",
            )
    elif want.unit != "H":
        yield Raw(float(number), want.unit, mark, "as it stands")
        if want.kind is None and whole and _is_code(number):
            yield from _code(number, mark)


def _is_code(number: str, *, ohms: bool = False) -> bool:
    """Whether digits can be a code: three of them, and four on a resistor unless the last is a nought."""
    return number[0] != "0" and (len(number) == 3 or (ohms and len(number) == 4 and number[-1] != "0"))


def _farads(number: str, mark: str, kind: Kind) -> Iterator[Raw]:
    """A bare number on a capacitor (which decade a bare number means is common practice, no source)."""
    coded = list(_code(number, mark)) if number.isdigit() and _is_code(number) else []
    if kind is Kind.ELECTROLYTIC:
        large = [raw for raw in coded if raw.value >= _SMALLEST_ELECTROLYTIC]
        yield from coded if number[-1] != "0" else large
        if not large or number[-1] == "0":
            yield Raw(float(f"{number}e-6"), "F", mark, "in µF")
        return
    yield from coded
    if not number.isdigit() and float(number) < 1:
        yield Raw(float(f"{number}e-6"), "F", mark, "in µF")
    elif number[0] != "0" and (not coded or number[-1] == "0"):
        yield Raw(float(f"{number}e-12"), "F", mark, "in pF")
        if kind is Kind.FILM and len(number.partition(".")[0]) < 3:
            yield Raw(float(f"{number}e-6"), "F", mark, "in µF")


def _code(number: str, mark: str) -> Iterator[Raw]:
    """Two digits and the number of zeros, in pF; 8 and 9 as the last digit are read in two ways."""
    zeros = int(number[2])
    how = "as a three-digit code in pF"
    yield Raw(float(f"{number[:2]}e{zeros - 12}"), "F", mark, how)
    if zeros >= 8:
        yield Raw(
            float(f"{number[:2]}e{zeros - 22}"), "F", mark, f"{how}, {zeros} for x {10.0 ** (zeros - 10):g}"
        )
