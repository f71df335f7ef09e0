"""Text of one reply to a reading: the closed list of forms in which instruments write numbers.

Whatever comes in, a `Reading` comes out: a number only where the whole reply is one, else its
outcome. Nothing here raises on noise. Specials of SCPI-99 volume 1, 7.2.1.4 and .5: infinity is
9.9E37, not a number 9.91E37, so the second must be looked for first.
"""

import re
from collections.abc import Callable

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.instruments.profile_reply import Reply, UnitWord

Decoder = Callable[[str, Function, int], Reading]
"""Makes a reading of one reply, the function asked for, and its arrival in monotonic ns."""

INFINITY = 9.9e37
NOT_A_NUMBER = 9.91e37
TOLERANCE = 1e-4
"""Relative: a reply with four digits still tells 9.9E37 from 9.91E37."""

_ANY_UNIT = UnitWord()
_OVERLOAD = INFINITY * (1.0 - TOLERANCE)
_NUMBER = re.compile(
    r"[+-]? {0,8}(?:\d{1,64}(?:\.(?P<decimals>\d{0,64}))?|\.(?P<only>\d{1,64}))(?:[eE](?P<power>[+-]?\d{1,3}))?",
    re.ASCII,
)


def as_text(line: bytes) -> str:
    """A reply's bytes as printable ASCII, everything else escaped; blanks at both ends dropped."""
    text = line.strip().decode("ascii", "backslashreplace")
    return text if text.isprintable() else text.encode("unicode_escape").decode("ascii")


def decoder(reply: Reply, scale: float = 1.0) -> Decoder:
    """The reader for replies of this form; `scale` takes its numbers to the SI unit."""
    if reply.form in ("decorated", "frame"):
        return _Decorated(reply, scale)
    plain = not (reply.prefix or reply.suffix or reply.overload or reply.not_a_number)
    if reply.form == "scpi" and plain and scale == 1.0:
        return scpi
    return _Number(reply, scale)


def scpi(text: str, function: Function, at: int) -> Reading:
    """A bare NRf number in the SI unit of `function`."""
    try:
        value = float(text)
    except ValueError:
        return Reading(Outcome.MALFORMED, None, function, at, text)
    if -_OVERLOAD < value < _OVERLOAD and "_" not in text:
        return Reading(Outcome.OK, value, function, at, text)
    return _special(value, text, function, at)


def _special(value: float, text: str, function: Function, at: int) -> Reading:
    """What `float` took but is no ordinary number: 9.91E37, 9.9E37 and beyond, `nan`, `1_0`."""
    if not _NUMBER.fullmatch(text):
        return Reading(Outcome.MALFORMED, None, function, at, text)
    if abs(value - NOT_A_NUMBER) <= NOT_A_NUMBER * TOLERANCE:
        return Reading(Outcome.NOT_A_NUMBER, None, function, at, text)
    return Reading(Outcome.OVERLOAD, None, function, at, text, negative=value < 0)


class _Number:
    """Reads one number between literal affixes, or one entry of a comma-separated list."""

    def __init__(self, reply: Reply, scale: float) -> None:
        self._reply = reply
        self._scale = scale

    def __call__(self, text: str, function: Function, at: int) -> Reading:
        bare = _strip(text, self._reply)
        if bare is not None and self._reply.form == "list":
            return self._from_list(bare, text, function, at)
        return self._one(bare, text, function, at)

    def _one(self, bare: str | None, text: str, function: Function, at: int) -> Reading:
        """The reading that one number or word amounts to; `text` is the whole reply."""
        if bare is None:
            return Reading(Outcome.MALFORMED, None, function, at, text)
        word = bare.lstrip("+-").strip()
        if word in self._reply.overload:
            return Reading(Outcome.OVERLOAD, None, function, at, text, negative=bare.startswith("-"))
        if word in self._reply.not_a_number:
            return Reading(Outcome.NOT_A_NUMBER, None, function, at, text)
        made = scpi(bare, function, at)
        value = None if made.value is None else _scaled(made.value, self._scale)
        return Reading(made.outcome, value, function, at, text, negative=made.negative)

    def _from_list(self, bare: str, text: str, function: Function, at: int) -> Reading:
        """The reading one entry amounts to, with what stands beside it, where the status entry lets it count."""
        entries = [entry.strip() for entry in bare.split(",")]
        status, reply = self._reply.status, self._reply
        needed = (reply.item, *reply.beside.values(), status.item if status else 1)
        if len(entries) < max(needed):
            return Reading(Outcome.MALFORMED, None, function, at, text)
        if status is not None and (said := entries[status.item - 1]) not in status.good:
            over = said in status.overload
            return Reading(Outcome.OVERLOAD if over else Outcome.NOT_A_NUMBER, None, function, at, text)
        made = self._one(entries[reply.item - 1], text, function, at)
        found = {word: scpi(entries[item - 1], function, at) for word, item in reply.beside.items()}
        if any(one.outcome is Outcome.MALFORMED for one in found.values()):
            return Reading(Outcome.MALFORMED, None, function, at, text)
        beside = tuple((word, one.value) for word, one in found.items() if one.value is not None)
        return made._replace(beside=beside) if made.good and beside else made


class _Decorated:
    """Reads a number followed by its unit and annunciators, from a line or a display: `-101.234e-3 V DC HOLD`."""

    def __init__(self, reply: Reply, scale: float) -> None:
        self._reply = reply
        self._scale = scale
        self._units = {" ".join(words.split()): unit for words, unit in reply.units.items()}
        self._words = sorted((*reply.overload, *reply.not_a_number), key=len, reverse=True)

    def __call__(self, text: str, function: Function, at: int) -> Reading:
        bare = _strip(text, self._reply)
        found = None if bare is None else self._head(bare)
        if bare is None or found is None:
            return Reading(Outcome.MALFORMED, None, function, at, text)
        outcome, number, negative, rest, least = found
        words = rest.split()
        flags = tuple(self._reply.flags[word] for word in words if word in self._reply.flags)
        named = " ".join(word for word in words if word not in self._reply.flags)
        unit = self._units.get(named)
        if unit is None and number is None and not named:
            unit = _ANY_UNIT
        if unit is None:
            return Reading(Outcome.MALFORMED, None, function, at, text, flags=flags)
        told = unit.function or function
        scale = unit.scale * self._scale
        value = _scaled(number, scale) if number is not None else None
        resolution = least * abs(scale) if least is not None else None
        return Reading(outcome, value, told, at, text, "", resolution, negative, flags)

    def _head(self, text: str) -> tuple[Outcome, float | None, bool, str, float | None] | None:
        """(outcome, number, sign of an overload, what follows, least digit), or None for noise."""
        # Words first: a display says 0L where its segments make no O.
        start = len(text) - len(text.lstrip("+-").lstrip())
        for word in self._words:
            if text.startswith(word, start):
                over = word in self._reply.overload
                outcome = Outcome.OVERLOAD if over else Outcome.NOT_A_NUMBER
                return outcome, None, over and text.startswith("-"), text[start + len(word) :], None
        if found := _NUMBER.match(text):
            made = scpi(found[0].replace(" ", ""), Function.VOLTS_DC, 0)
            least = _least_digit(found) if made.outcome is Outcome.OK else None
            return made.outcome, made.value, made.negative, text[found.end() :], least
        return None


def _scaled(value: float, scale: float) -> float:
    """The product without the last bit's noise: 101.234 mV are 0.101234 V."""
    return value if scale == 1.0 else float(f"{value * scale:.15g}")


def _strip(text: str, reply: Reply) -> str | None:
    """The text between its affixes, or None where they are not there."""
    if not (text.startswith(reply.prefix) and text.endswith(reply.suffix)):
        return None
    if len(text) < len(reply.prefix) + len(reply.suffix):
        return None
    return text[len(reply.prefix) : len(text) - len(reply.suffix)].strip()


def _least_digit(found: re.Match[str]) -> float | None:
    """One count of a number as written: 0.01 for `023.41`, 1e-6 for `101.234e-3`; None where absurd."""
    decimals = len(found["decimals"] or found["only"] or "")
    power = int(found["power"] or 0) - decimals
    return 10.0**power if power < 38 else None
