"""A reading typed on the number pad (rule 31): what each key does to it, and what would be stored. No Qt.

Digits and a point begin it; `*` steps the prefix, `-` flips the sign, `+` makes it over range, and two
points first make it a jump to the part whose number ends so.
"""

from dataclasses import dataclass

from benchlog.domain.expectation import Expectation
from benchlog.domain.quantity import Overload, show, step, symbol
from benchlog.domain.typed import TypedReading, read_typed
from benchlog.errors import BadInput

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

    @property
    def active(self) -> bool:
        """Whether anything is typed."""
        return bool(self.digits or self.over)

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
        """The same for the eye."""
        return self.text[: len(self.text) - len(self.prefix)] + _SHOWN.get(self.prefix, self.prefix)

    def takes(self, char: str) -> bool:
        """Whether a character can be part of it just now."""
        if not self.active:
            return char in BEGINS
        return len(self.digits) < LONGEST and (char in BEGINS or char.isalpha() or char in " %Ωµ°")

    def type(self, char: str) -> None:
        """One more character; behind an overload or a stepped prefix it begins anew."""
        if self.over:
            self.clear()
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
        if self.over:
            self.over = False
        elif self.stepped:
            self.prefix, self.stepped = "", False
        else:
            self.digits = self.digits[:-1]
        if not self.active:
            self.clear()

    def clear(self) -> None:
        """Nothing is typed any more."""
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
    """What a typed text would be stored as; `problem` says why it cannot be."""

    reading: TypedReading | None = None
    problem: str = ""
    choices: str = ""
    """What to write instead, where that is known while it is being typed."""

    @property
    def shown(self) -> str:
        """The reading as it would be shown; empty where there is none."""
        if self.reading is None:
            return ""
        value = self.reading.value
        return value.value if isinstance(value, Overload) else show(value, self.reading.unit, digits=9)


def meant(entry: Entry, expectation: Expectation | None, unit: str) -> Meant:
    """What an entry would be stored as, in the light of what the part should read."""
    text = entry.text
    if entry.stepped and not entry.prefix and not entry.over:
        # A prefix of none was asked for: with its unit behind it nothing is assumed.
        text = f"{text} {symbol(unit)}"
    return understand(text, expectation, unit)


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
