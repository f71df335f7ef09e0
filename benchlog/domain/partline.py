"""A part typed as one line: `R12 4k7 5%`, `C3 film 100n 10%`, `Q7L be 0.5..0.7 V`, `R12 4k7 5% = 4.68`.

A designator, where it is needed the kind of part, which of its measures where that is not its own value, what
it should read, and behind `=` what it read. The kind is told by the designator's first letters where these mean
one thing in the trade; else it is asked.
"""

import re
from collections import Counter
from dataclasses import dataclass, replace

from benchlog.domain.designator import fold, leading
from benchlog.domain.expectation import Origin
from benchlog.domain.kind import CAPACITORS, RESISTORS, Kind
from benchlog.domain.marking import Decoded, decode
from benchlog.domain.measures import MEASURES, VALUE
from benchlog.domain.quantity import LONGEST, quoted, show
from benchlog.domain.severaltyped import BETWEEN, TypedValue, read_several
from benchlog.domain.typed import TypedReading
from benchlog.domain.unit import Part, PartEntry
from benchlog.domain.usual import zener_volts
from benchlog.errors import BadInput

LARGE = 1e-6
"""A capacitor from this many farads on is taken for an electrolytic (common practice, no source)."""

MARKED = RESISTORS | CAPACITORS | {Kind.INDUCTOR, Kind.POTENTIOMETER}
"""Kinds on which their value is printed."""

LONGEST_LINE = 2 * LONGEST
_HOW = "write it as in R12 4k7 5%, or R12 4k7 5% = 4.68"

_BY_LETTERS = {
    "R": Kind.RESISTOR,
    "VR": Kind.POTENTIOMETER,
    "RV": Kind.POTENTIOMETER,
    "C": Kind.CAPACITOR,
    "L": Kind.INDUCTOR,
    "D": Kind.DIODE,
    "ZD": Kind.ZENER,
    "DZ": Kind.ZENER,
    "BR": Kind.BRIDGE,
    "Q": Kind.TRANSISTOR,
    "TR": Kind.TRANSISTOR,
    "F": Kind.FUSE,
    "S": Kind.SWITCH,
    "SW": Kind.SWITCH,
}
"""Kinds that the first letters of a designator tell; T may be a transistor or a transformer and tells none."""

_BY_WORD = {kind.replace("_", " "): kind for kind in Kind} | {
    "emitter": Kind.EMITTER_RESISTOR,
    "elko": Kind.ELECTROLYTIC,
    "fusible": Kind.RESISTOR,
    "junction": Kind.TRANSISTOR_JUNCTION,
    "bias": Kind.BIAS_PACKAGE,
    "pot": Kind.POTENTIOMETER,
    "trimmer": Kind.POTENTIOMETER,
    "insulator": Kind.INSULATION,
    "mica": Kind.INSULATION,
    "relay": Kind.CONTACT,
    "coil": Kind.WINDING,
}
_JUNCTION = re.compile(r"(?:be|eb|bc|cb|ce|ec)(?=\s|=|$)", re.IGNORECASE)
_JUNCTION_NAME = re.compile(r".*[0-9\s](?:be|eb|bc|cb|ce|ec)", re.IGNORECASE)
"""A junction that is listed as a part of its own: Q101BE, or "Q7L be" in a sheet."""
_QUOTED = re.compile(r'"([^"]+)"\s*(.*)')
_LETTERS = re.compile(r"[A-Za-z]+")


@dataclass(frozen=True, slots=True)
class TypedPart:
    """A line as it was understood; `assumed` says what was taken for granted, empty where nothing was.

    `measure` is what was read, or is to be, by its word; empty: the part's own value.
    """

    entry: PartEntry
    reading: TypedReading | None = None
    assumed: str = ""
    measure: str = ""
    values: tuple[TypedValue, ...] = ()
    """All of them where several were read in one go; `reading` is the first."""


@dataclass(frozen=True, slots=True)
class Split:
    """A line in its pieces: the designator, what stands behind it, and what was read (None without `=`).

    `measure` is a word behind the name that can only be one, such as the `be` of `Q7L be`; `rest` is without it.
    """

    designator: str
    rest: str
    reading: str | None = None
    measure: str = ""

    @property
    def called(self) -> str:
        """The name with what is measured: `Q7L be`."""
        return f"{self.designator} {self.measure}" if self.measure else self.designator


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
    kind = told_by(designator) or Kind.TRANSISTOR
    measure, rest = _measure(kind, rest.strip())
    return Split(designator, rest, read if equals else None, measure)


def read_line(text: str, origin: Origin = Origin.SHEET) -> TypedPart:
    """A line as a part, and its reading where one is in it.

    `origin` is where what it should read comes from. Raises `BadInput` with the choices where something must
    be asked.
    """
    pieces = split_line(text)
    kind, said, rest = _kind(pieces)
    measure, rest = (pieces.measure, rest) if pieces.measure else _measure(kind, rest)
    assumed = ""
    if kind is Kind.CAPACITOR and not said and _large(rest):
        kind, assumed = Kind.ELECTROLYTIC, f"{pieces.designator} taken for an electrolytic"
    entry = _entry(pieces.designator, kind, measure, rest, origin)
    expectations = entry.expectations
    if pieces.reading is None:
        return TypedPart(entry, None, assumed, measure)
    if not measure and entry.asked[0].word:
        words = ", ".join(one.word for one in entry.asked)
        raise BadInput(quoted(text), "does not say what was read", f"write which behind the name: {words}")
    part = Part("", "", entry.designator, kind)
    values = read_several(pieces.reading.split(BETWEEN), part, measure, expectations.get)
    reading = values[0].reading
    if len(values) > 1:
        more = (*(one.name for one in entry.asked), *(one.measure or VALUE for one in values))
        entry = replace(entry, measures=tuple(dict.fromkeys(more)))
    both = "; ".join(one for one in (assumed, reading.assumed) if one)
    return TypedPart(entry, reading, both, measure, values)


def _entry(designator: str, kind: Kind, measure: str, rest: str, origin: Origin) -> PartEntry:
    """The part a line lists: with one measure named, that alone is to do."""
    if measure:
        reads = {measure: rest} if rest else {}
        return PartEntry(designator=designator, kind=kind, measures=(measure,), reads=reads, from_=origin)
    marked = kind in MARKED or (kind is Kind.ZENER and zener_volts(rest) is not None)
    return PartEntry(
        designator=designator,
        kind=kind,
        marking=rest if marked else "",
        # A zener's marking is what it breaks down at, and no meter reads that as a diode.
        should_read="" if kind is Kind.ZENER and marked else rest,
        from_=origin,
    )


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
    if _JUNCTION_NAME.fullmatch(designator):
        return Kind.TRANSISTOR_JUNCTION
    found = _LETTERS.match(designator)
    return _BY_LETTERS.get(found[0].upper()) if found else None


def describe(part: TypedPart) -> str:
    """What a line was understood as, in one phrase: `R12, resistor, should read 4.7 kΩ ±5 %, read 4.68 kΩ`."""
    entry = part.entry
    expectation = entry.expectations.get(part.measure) or entry.expectation
    said = [entry.designator, entry.kind.replace("_", " ")]
    if len(entry.asked) > 1 or part.measure:
        said.append(" and ".join(one.name for one in entry.asked))
    if expectation is not None:
        said.append(f"should read {expectation.shown}")
    if part.reading is not None:
        value = part.reading.value
        said.append(
            f"read {show(value, part.reading.unit, digits=9) if isinstance(value, float) else value.value}"
        )
    return ", ".join(said)


def _first_word(head: str) -> tuple[str, str]:
    """The designator and the rest."""
    designator, _, rest = head.partition(" ")
    return designator, rest


def _measure(kind: Kind, rest: str) -> tuple[str, str]:
    """The word of a measure that stands first, empty where none does, and what is left."""
    words = (one.word for one in MEASURES[kind] if one.word)
    for word in sorted(words, key=len, reverse=True):
        if fold(rest) == word or fold(rest).startswith(f"{word} "):
            return word, rest[len(word) :].strip()
    return "", rest


def _kind(pieces: Split) -> tuple[Kind, bool, str]:
    """The kind, whether it was said, and what is left of the line."""
    rest = pieces.rest
    for word in sorted(_BY_WORD, key=len, reverse=True):
        if fold(rest) == word or fold(rest).startswith(f"{word} "):
            return _BY_WORD[word], True, rest[len(word) :].strip()
    kind = told_by(pieces.designator)
    if kind is None and _JUNCTION.fullmatch(pieces.measure):
        kind = Kind.TRANSISTOR
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
