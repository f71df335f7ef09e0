"""A part typed as one line: `R12 4k7 5%`, `C3 film 100n 10%`, `Q7L be 0.5..0.7 V`, `R12 4k7 5% = 4.68`.

A designator, where it is needed the kind of part, what it should read, and behind `=` what it read. The
kind is told by the designator's first letters where these mean one thing in the trade; else it is asked.
"""

import re
from collections import Counter
from dataclasses import dataclass

from benchlog.domain.designator import fold, leading
from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.kind import CAPACITORS, RESISTORS, Kind
from benchlog.domain.marking import Decoded, decode
from benchlog.domain.quantity import LONGEST, quoted, show
from benchlog.domain.typed import TypedReading, read_typed
from benchlog.domain.unit import PartEntry
from benchlog.errors import BadInput

LARGE = 1e-6
"""A capacitor from this many farads on is taken for an electrolytic (common practice, no source)."""

LONGEST_LINE = 2 * LONGEST
_HOW = "write it as in R12 4k7 5%, or R12 4k7 5% = 4.68"

_BY_LETTERS = {
    "R": Kind.RESISTOR,
    "VR": Kind.RESISTOR,
    "C": Kind.CAPACITOR,
    "L": Kind.INDUCTOR,
    "D": Kind.DIODE,
    "ZD": Kind.ZENER,
    "DZ": Kind.ZENER,
    "Q": Kind.TRANSISTOR_JUNCTION,
    "TR": Kind.TRANSISTOR_JUNCTION,
    "F": Kind.FUSE,
    "S": Kind.SWITCH,
    "SW": Kind.SWITCH,
}
"""Kinds that the first letters of a designator tell; T may be a transistor or a transformer and tells none."""

_BY_WORD = {kind.replace("_", " "): kind for kind in Kind} | {
    "emitter": Kind.EMITTER_RESISTOR,
    "elko": Kind.ELECTROLYTIC,
    "transistor": Kind.TRANSISTOR_JUNCTION,
    "junction": Kind.TRANSISTOR_JUNCTION,
    "relay": Kind.CONTACT,
    "coil": Kind.WINDING,
}
_JUNCTION = re.compile(r"(?:be|eb|bc|cb|ce|ec)(?=\s|=|$)", re.IGNORECASE)
_QUOTED = re.compile(r'"([^"]+)"\s*(.*)')
_LETTERS = re.compile(r"[A-Za-z]+")


@dataclass(frozen=True, slots=True)
class TypedPart:
    """A line as it was understood; `assumed` says what was taken for granted, empty where nothing was."""

    entry: PartEntry
    reading: TypedReading | None = None
    assumed: str = ""


@dataclass(frozen=True, slots=True)
class Split:
    """A line in its pieces: the designator, what stands behind it, and what was read (None without `=`)."""

    designator: str
    rest: str
    reading: str | None = None


def split_line(text: str) -> Split:
    """The pieces of a line, without asking what they mean. Raises `BadInput` where no designator stands first."""
    if len(text) > LONGEST_LINE:
        raise BadInput(quoted(text), "is too long for one part", _HOW)
    clean = " ".join(text.split())
    head, equals, read = clean.partition("=")
    head, read = head.strip(), read.strip()
    found = _QUOTED.fullmatch(head)
    designator, rest = (found[1].strip(), found[2]) if found else _first_word(head)
    if not designator:
        raise BadInput(quoted(text), "names no part", _HOW)
    if equals and not read:
        raise BadInput(
            quoted(text), "has nothing behind the =", "write what it read, as in R12 4k7 5% = 4.68"
        )
    return Split(designator, rest.strip(), read if equals else None)


def read_line(text: str, origin: Origin = Origin.SHEET) -> TypedPart:
    """A line as a part, and its reading where one is in it.

    `origin` is where what it should read comes from. Raises `BadInput` with the choices where something must
    be asked.
    """
    pieces = split_line(text)
    kind, said, rest = _kind(pieces)
    assumed = ""
    if kind is Kind.CAPACITOR and not said and _large(rest):
        kind, assumed = Kind.ELECTROLYTIC, f"{pieces.designator} taken for an electrolytic"
    entry = PartEntry(
        designator=pieces.designator,
        kind=kind,
        marking=rest if kind in RESISTORS or kind in CAPACITORS or kind is Kind.INDUCTOR else "",
        should_read=rest,
        from_=origin,
    )
    expectation = entry.expectation
    if pieces.reading is None:
        return TypedPart(entry, None, assumed)
    reading = read_typed(pieces.reading, expectation, entry.measured_with.unit)
    return TypedPart(entry, reading, "; ".join(one for one in (assumed, reading.assumed) if one))


def read_parts(text: str, origin: Origin = Origin.SHEET) -> tuple[TypedPart, ...]:
    """A line as the parts it names: one as `read_line` reads it, or several alike, as in `R301-R348 4k7 5%`."""
    if len(text) > LONGEST_LINE:
        raise BadInput(quoted(text), "is too long for one line", _HOW)
    names, rest = leading(text)
    if not names:
        return (read_line(text, origin),)
    if "=" in rest:
        raise BadInput(
            f"{names[0]} to {names[-1]}",
            "cannot all have read one value",
            "type what each one read by itself",
        )
    folded = Counter(map(fold, names))
    twice = next((name for name in names if folded[fold(name)] > 1), None)
    if twice is not None:
        raise BadInput(twice, "is named twice in this line", "name each part once")
    return tuple(read_line(f"{name} {rest}", origin) for name in names)


def kind_called(text: str) -> Kind | None:
    """The kind of part that a word such as `film` or `electrolytic` names, also in the plural; None where none."""
    word = fold(text)
    return _BY_WORD.get(word) or _BY_WORD.get(word.removesuffix("s"))


def told_by(designator: str) -> Kind | None:
    """The kind of part that the first letters of a designator tell; None where they tell none."""
    found = _LETTERS.match(designator)
    return _BY_LETTERS.get(found[0].upper()) if found else None


def describe(part: TypedPart) -> str:
    """What a line was understood as, in one phrase: `R12, resistor, should read 4.7 kΩ ±5 %, read 4.68 kΩ`."""
    entry = part.entry
    expectation: Expectation | None = entry.expectation
    said = [entry.designator, entry.kind.replace("_", " ")]
    if expectation is not None:
        said.append(f"should read {expectation.shown}")
    if part.reading is not None:
        value = part.reading.value
        said.append(
            f"read {show(value, part.reading.unit, digits=9) if isinstance(value, float) else value.value}"
        )
    return ", ".join(said)


def _first_word(head: str) -> tuple[str, str]:
    """The designator and the rest; `Q7L be` is one designator."""
    designator, _, rest = head.partition(" ")
    junction = _JUNCTION.match(rest)
    if junction and told_by(designator) in (None, Kind.TRANSISTOR_JUNCTION):
        return f"{designator} {junction[0]}", rest[junction.end() :]
    return designator, rest


def _kind(pieces: Split) -> tuple[Kind, bool, str]:
    """The kind, whether it was said, and what is left of the line."""
    rest = pieces.rest
    for word in sorted(_BY_WORD, key=len, reverse=True):
        if fold(rest) == word or fold(rest).startswith(f"{word} "):
            return _BY_WORD[word], True, rest[len(word) :].strip()
    kind = told_by(pieces.designator)
    if kind is None and _JUNCTION.fullmatch(pieces.designator.rpartition(" ")[2]):
        kind = Kind.TRANSISTOR_JUNCTION
    if kind is None:
        raise BadInput(
            quoted(pieces.designator),
            "does not tell what kind of part it is",
            f"write it behind the name, as in {pieces.designator} transistor, {pieces.designator} contact or"
            f" {pieces.designator} winding",
        )
    return kind, False, rest


def _large(rest: str) -> bool:
    """Whether a capacitor's marking tells an electrolytic."""
    try:
        found: Decoded = decode(rest, Kind.CAPACITOR)
    except BadInput:
        return False
    return found.value is not None and found.value >= LARGE
