"""What is printed on a part, or typed in its place: `4k7`, `4K7J`, `R47`, `100n`, `104`, `0.1u 625V`, colour bands.

The letter code, the tolerance letters and the colours are those of IEC 60062. What can be read in more
than one way is never guessed: every way is offered, and the kind of the part decides where it can.
"""

import re
from dataclasses import dataclass

from benchlog.domain import colourbands, tolerance
from benchlog.domain.kind import RESISTORS, Kind
from benchlog.domain.lettercode import MARKED_IN, TOLERANCE_LETTERS, Raw, Wanted, readings
from benchlog.domain.quantity import (
    LONGEST,
    NUMBER,
    Overload,
    Quantity,
    decimals,
    meanings,
    normal,
    overload,
    quoted,
    show,
    suffix,
    symbol,
)
from benchlog.domain.tolerance import Tolerance, show_tolerance, split_percent
from benchlog.errors import BadInput

_KIND_OF = {"ohm": Kind.RESISTOR, "F": Kind.CAPACITOR, "H": Kind.INDUCTOR}
_TAIL = re.compile(rf"(?:([A-Z])|({NUMBER})\s?(V|v|VDC|V DC|VAC|V AC|W|w|°C))(?:\s+|$)")
_LARGEST = 9e37


@dataclass(frozen=True, slots=True)
class Meaning:
    """One way a text can be read: value in SI, and what was taken for what (empty where that is plain)."""

    kind: Kind | None
    value: float
    unit: str
    tolerance: Tolerance | None = None
    how: str = ""

    def __str__(self) -> str:
        shown = show(self.value, self.unit, digits=6)
        shown = f"{shown} {show_tolerance(self.tolerance)}" if self.tolerance else shown
        return f"{shown} ({self.how})" if self.how else shown


@dataclass(frozen=True, slots=True)
class Decoded:
    """What a text means.

    Attributes:
        text: as it was given.
        kind: of the part, as given or as the text tells.
        value: in SI; None for an overload and where the choices differ.
        unit: its code word, empty where a bare number tells none or the choices differ.
        tolerance: (low, high) as fractions; None where none is marked or the choices differ.
        choices: every way to read it, where there is more than one or the only one must be confirmed.
        overload: the overload it stands for.
        ratings: what else is printed: volts, watts, degC.
        tempco: of a sixth colour band, in ppm/K.
    """

    text: str
    kind: Kind | None
    value: float | None
    unit: str
    tolerance: Tolerance | None
    choices: tuple[Meaning, ...] = ()
    overload: Overload | None = None
    ratings: tuple[Quantity, ...] = ()
    tempco: int | None = None


def decode(text: str, kind: Kind | None = None) -> Decoded:
    """What a marking or a typed value means; raises `BadInput` where it means nothing."""
    clean = normal(text)
    if len(clean) > LONGEST:
        raise BadInput(quoted(text), "is too long for a marking", "give one part's marking")
    over = overload(clean)
    if over:
        return Decoded(text, kind, None, "", None, overload=over)
    colours = colourbands.words(clean)
    if colours:
        return _bands(text, colours, kind)
    rest, percent = split_percent(clean)
    found, letter, ratings = _head_and_tail(rest, kind, percent is not None)
    if not found and rest[:1] in ("+", "-"):
        found = [Raw(one.value, one.unit or (kind.unit if kind else "")) for one in meanings(rest)]
    if not found:
        raise BadInput(
            quoted(text), "is not a marking", 'write it as in 4k7, 100n 10%, "0.1u 625V" or 12.5 mV'
        )
    if any(abs(raw.value) >= _LARGEST for raw in found):
        raise BadInput(quoted(text), "is what a meter sends for no number", "type OL for an overload")
    fitting = [raw for raw in found if _fits(raw.unit, kind)]
    if kind is not None and not fitting:
        name = kind.replace("_", " ")
        unit = symbol(found[0].unit)
        raise BadInput(
            quoted(text), f"is in {unit}", f"the marking of {_article(name)} {name} is in {symbol(kind.unit)}"
        )
    meant, sure = _with_tolerance(text, fitting, letter, percent, kind)
    return _decoded(text, kind, meant, sure, ratings)


def _bands(text: str, colours: tuple[str, ...], kind: Kind | None) -> Decoded:
    """Colour bands; they are read for resistors alone."""
    if kind is not None and kind not in RESISTORS:
        raise BadInput(quoted(text), "are bands of a resistor", "type the value of any other part")
    coded = colourbands.decode_bands(colours)
    kind = kind or Kind.RESISTOR
    how = "the charts disagree on this band" if len(coded.tolerances) > 1 else ""
    meant = [Meaning(kind, coded.value, "ohm", one, how) for one in coded.tolerances]
    found = _decoded(text, kind, meant, len(meant) == 1, ())
    return Decoded(
        text, found.kind, found.value, found.unit, found.tolerance, found.choices, tempco=coded.tempco
    )


def _decoded(
    text: str, kind: Kind | None, meant: list[Meaning], sure: bool, ratings: tuple[Quantity, ...]
) -> Decoded:
    """One answer, or all of them with only what they agree on filled in."""
    first = meant[0]
    if sure and len(meant) == 1:
        return Decoded(text, first.kind, first.value, first.unit, first.tolerance, ratings=ratings)
    one_value = len({(one.value, one.unit) for one in meant}) == 1
    one_kind = len({one.kind for one in meant}) == 1
    return Decoded(
        text=text,
        kind=first.kind if one_kind else kind,
        value=first.value if one_value else None,
        unit=first.unit if one_value else "",
        tolerance=None,
        choices=tuple(meant),
        ratings=ratings,
    )


def _head_and_tail(
    text: str, kind: Kind | None, percent: bool
) -> tuple[list[Raw], str, tuple[Quantity, ...]]:
    """Every way to read the value, the lone tolerance letter and the ratings behind it."""
    pieces = text.split()
    for cut in range(len(pieces), 0, -1):
        tail = _tail(" ".join(pieces[cut:]))
        if tail is None:
            continue
        letter, ratings = tail
        unit = kind.unit if kind else ""
        if kind is None and ratings:
            unit = "ohm" if ratings[0].unit == "W" else "F"
        want = Wanted(kind, unit, percent)
        head = " ".join(pieces[:cut])
        found = readings(head, want)
        if found:
            return found, letter, ratings
    return [], "", ()


def _tail(text: str) -> tuple[str, tuple[Quantity, ...]] | None:
    """A lone tolerance letter and ratings such as `63 V`; None where something else stands there."""
    letter, ratings, at = "", [], 0
    while at < len(text):
        found = _TAIL.match(text, at)
        if not found or (found[1] and (letter or found[1] not in TOLERANCE_LETTERS)):
            return None
        at = found.end()
        if found[1]:
            letter = found[1]
            continue
        number, known = decimals(found[2]), suffix(found[3])
        if len(number) != 1 or known is None:
            return None
        ratings.append(Quantity(float(number[0]), known[1]))
    return letter, tuple(ratings)


def _fits(unit: str, kind: Kind | None) -> bool:
    """Whether a part of that kind can be marked so; other parts than R, C and L carry anything."""
    return kind is None or kind.unit not in MARKED_IN or not unit or unit == kind.unit


def _article(name: str) -> str:
    return "an" if name[0] in "aeio" else "a"


def _with_tolerance(
    text: str, found: list[Raw], letter: str, percent: Tolerance | None, kind: Kind | None
) -> tuple[list[Meaning], bool]:
    """Every meaning with its tolerance, and whether the letters and numbers in it are beyond doubt."""
    meant: list[Meaning] = []
    sure = True
    if percent and not all(raw.letter for raw in found):
        found = [raw for raw in found if not raw.letter]
    for raw in found:
        mark = raw.letter or letter
        if (percent and mark) or (raw.letter and letter):
            raise BadInput(quoted(text), "has more than one tolerance", "write one, as in 4k7 5%")
        sure = sure and raw.sure
        options: tuple[Tolerance | None, ...] = (percent,)
        if mark:
            known = tolerance.letter(mark, raw.value, raw.unit)
            if known is None:
                continue
            options, sure = known.options, sure and known.sure
        how = raw.how
        if mark and len(found) > 1:
            how = f"{how}, {mark} for its tolerance".lstrip(", ")
        own = kind or _KIND_OF.get(raw.unit)
        meant += [Meaning(own, raw.value, raw.unit, option, how) for option in options]
    if not meant:
        raise BadInput(
            quoted(text), "has a letter that is no tolerance here", "write it in per cent, as in 4k7 5%"
        )
    return list(dict.fromkeys(meant)), sure
