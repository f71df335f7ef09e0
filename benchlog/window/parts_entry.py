"""A reading typed on the number pad (rule 31): what each key does to it, and what would be stored. No Qt.

Digits and a point begin it; `*` steps the prefix, `-` flips the sign, `+` makes it over range, `/` goes on to
the next value of that part, and two points first make it a jump to the part whose number ends so.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from benchlog.domain.expectation import Expectation
from benchlog.domain.measures import LCR, LEAKAGE
from benchlog.domain.quantity import Overload, show, step, symbol
from benchlog.domain.severaltyped import TypedValue, places, read_several, unit_of
from benchlog.domain.typed import TypedReading, read_typed
from benchlog.errors import BadInput
from benchlog.window import words
from benchlog.window.parts_book import Row

BEGINS = frozenset("0123456789.,")
"""What begins a typed reading where nothing is typed yet."""

LONGEST = 24
_JUMP = ".."
_PREFIXES = {
    "ohm": ("k", "M", "m", ""),
    "F": ("u", "n", "p", "m", ""),
    "H": ("m", "u", "n", ""),
    "A": ("m", "u", "n", ""),
    "Hz": ("k", "M", ""),
}
_OF_ELSE = ("m", "u", "k", "")
_SHOWN = {"u": "µ"}


@dataclass(slots=True)
class Entry:
    """What is typed so far."""

    digits: str = ""
    prefix: str = ""
    stepped: bool = False
    negative: bool = False
    over: bool = False
    done: tuple[str, ...] = ()
    """Values typed before this one in the same go, each in full; empty where one was left out."""

    @property
    def active(self) -> bool:
        """Whether anything is typed."""
        return bool(self.digits or self.over or self.done)

    @property
    def jump(self) -> str | None:
        """The digits of a jump to a part, `None` where it is a reading."""
        return self.digits[len(_JUMP) :] if self.digits.startswith(_JUMP) else None

    @property
    def text(self) -> str:
        """The reading as a person would write it in full; an explicit empty prefix needs its unit behind."""
        sign = "-" if self.negative else ""
        return f"{sign}OL" if self.over else f"{sign}{self.digits}{self.prefix}"

    @property
    def shown(self) -> str:
        """All of it for the eye."""
        own = self.text[: len(self.text) - len(self.prefix)] + _SHOWN.get(self.prefix, self.prefix)
        return " / ".join((*self.done, own))

    def written(self, unit: str) -> str:
        """The value as it is read; behind a prefix of none that was asked for stands its unit: nothing is assumed."""
        if self.stepped and not self.prefix and not self.over:
            return f"{self.text} {symbol(unit)}"
        return self.text

    def go_on(self, unit: str) -> None:
        """The next value of the same part; one that is not typed is left out."""
        self.done = (*self.done, self.written(unit))
        self._begin()

    def takes(self, char: str) -> bool:
        """Whether a character can be part of it just now."""
        if not self.active:
            return char in BEGINS
        return len(self.digits) < LONGEST and (char in BEGINS or char.isalpha() or char in " %Ωµ°")

    def type(self, char: str) -> None:
        """One more character; behind an overload or a stepped prefix it begins anew."""
        if self.over:
            self._begin()
        self.prefix = ""
        self.digits += char

    def step_prefix(self, unit: str, expectation: Expectation | None = None) -> None:
        """The next prefix that fits the unit, the one the part should be read in first."""
        if self.over or self.jump is not None:
            return
        order = prefixes(unit, expectation)
        at = order.index(self.prefix) if self.stepped and self.prefix in order else -1
        self.prefix = order[(at + 1) % len(order)]
        self.stepped = True

    def flip(self) -> None:
        """The other sign."""
        if self.jump is None:
            self.negative = not self.negative

    def over_range(self) -> None:
        """Beyond the meter's range, whatever was typed."""
        if self.jump is None:
            self.over = True

    def back(self) -> None:
        """Take the last key back."""
        if self.done and not self.digits and not self.over:
            *before, self.digits = self.done
            self.done = tuple(before)
        elif self.over:
            self.over = False
        elif self.stepped:
            self.prefix, self.stepped = "", False
        else:
            self.digits = self.digits[:-1]
        if not self.digits and not self.over:
            self._begin()

    def clear(self) -> None:
        """Nothing is typed any more."""
        self.done = ()
        self._begin()

    def _begin(self) -> None:
        """A value of which nothing is typed yet."""
        self.digits, self.prefix = "", ""
        self.stepped = self.negative = self.over = False


def prefixes(unit: str, expectation: Expectation | None = None) -> tuple[str, ...]:
    """The prefixes `*` goes through, in its order."""
    order = _PREFIXES.get(unit, _OF_ELSE)
    if expectation is None or expectation.nominal is None:
        return order
    first = step(abs(expectation.nominal), expectation.unit)[1].replace("µ", "u")
    return (first, *(one for one in order if one != first)) if first in order else order


@dataclass(frozen=True, slots=True)
class Meant:
    """What a typed text would be stored as; `problem` says why it cannot be.

    `values` holds every value where several are typed in one go, `reading` is the first of them.
    """

    reading: TypedReading | None = None
    problem: str = ""
    choices: str = ""
    """What to write instead, where that is known while it is being typed."""
    values: tuple[TypedValue, ...] = ()

    @property
    def shown(self) -> str:
        """The reading as it would be shown, or all of them; empty where there is none."""
        if self.values:
            return ", ".join(map(_named, self.values))
        return _shown(self.reading) if self.reading is not None else ""


def _shown(reading: TypedReading) -> str:
    value = reading.value
    return value.value if isinstance(value, Overload) else show(value, reading.unit, digits=9)


def _named(one: TypedValue) -> str:
    """A value with what it is of and how it was read: `ESR 30 mΩ`, `620 µA after 2 min`."""
    name = words.MEASURE.get(one.measure, one.measure)
    said = [name, _shown(one.reading)]
    if one.minutes is not None:
        said.append(f"after {one.minutes:g} min")
    if one.applied is not None:
        said.append(f"at {show(one.applied, 'V')}")
    return " ".join(word for word in said if word)


def meant(entry: Entry, expectation: Expectation | None, unit: str) -> Meant:
    """What an entry of one value would be stored as, in the light of what the part should read."""
    return understand(entry.written(unit), expectation, unit)


def meant_of(entry: Entry, row: Row) -> Meant:
    """What an entry would be stored as for the part of a row, be it one value or several."""
    if not entry.done and row.measure.word != LEAKAGE:
        return meant(entry, row.expectation, row.measure.unit)
    own = entry.written(unit_of(row.line.part, place_of(entry, row)))
    return understand_several((*entry.done, own), row)


def place_of(entry: Entry, row: Row) -> str:
    """What is being typed just now: a measure by its word, or how the one before was taken."""
    order = places(row.line.part, row.measure.word)
    return order[min(len(entry.done), len(order) - 1)]


def goes_on(entry: Entry, row: Row, *, bridge: bool) -> bool:
    """Whether another value follows in the same go.

    A leakage has its minutes, and what an LCR meter reads its D and its ESR: that one is at hand, `bridge`, once
    somebody said at how many hertz it stands. Everything else is a row of its own, and next by itself.
    """
    takes = row.measure.word == LEAKAGE or (bridge and row.measure.function in LCR)
    return takes and len(entry.done) + 1 < len(places(row.line.part, row.measure.word))


def understand_several(texts: Sequence[str], row: Row) -> Meant:
    """What several values would be stored as."""
    try:
        values = read_several(texts, row.line.part, row.measure.word, row.expects)
    except BadInput as error:
        return Meant(problem=str(error))
    return Meant(values[0].reading, values=values)


def understand(text: str, expectation: Expectation | None, unit: str) -> Meant:
    """What a text would be stored as."""
    try:
        found = read_typed(text, expectation, unit)
    except BadInput as error:
        choices = error.fix if " or " in error.fix and "as in" not in error.fix else ""
        return Meant(problem=f"{text}: {error.problem}; {error.fix}.", choices=choices)
    if unit and found.unit and found.unit != unit:
        return Meant(problem=f"{text} is in {symbol(found.unit)}, and this part is read in {symbol(unit)}.")
    return Meant(found)
