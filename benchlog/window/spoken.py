"""What is said, as text: a result, a value, a designator, so that any speech engine reads it as a person would.

The rule is: shorter than a pencil. A part within its limits is a tone; the value is said where it is not, and
where a prefix was taken for granted; then the next designator, since that is where the hand goes.
"""

import re

from benchlog.domain.verdict import Judgement, Verdict
from benchlog.window.words import RESULT, SHORT

OFF = "OFF. OFF."
"""What is said at a cut, and nothing longer."""

ENOUGH = 20
"""Letters of a prompt that say what is wanted."""

_PREFIX = {
    "p": "pico", "n": "nano", "µ": "micro", "μ": "micro", "u": "micro", "m": "milli", "k": "kilo", "M": "mega",
    "G": "giga",
}  # fmt: skip
_UNIT = {
    "Ω": "ohm", "ohm": "ohm", "V": "volt", "A": "amp", "F": "farad", "H": "henry", "Hz": "hertz", "W": "watt",
    "s": "seconds", "°C": "degrees", "degC": "degrees", "K": "kelvin",
    "%": "per cent", "%/s": "per cent a second",
}  # fmt: skip
_RUN_TOGETHER = {"kiloohm": "kilohm", "megaohm": "megohm", "gigaohm": "gigohm"}

_UNITS = "|".join(sorted(_UNIT, key=len, reverse=True))
_VALUE = re.compile(
    rf"(?<![\w.,])(?P<sign>[+\-−]?)(?P<number>\d+(?:\.\d+)?)\s?(?P<prefix>[{''.join(_PREFIX)}]?)(?P<unit>{_UNITS})(?!\w)"
)
_NEGATIVE = re.compile(r"(?<![\w.,])[\-−](?=\d)")
_OVER = re.compile(r"(?<![\w.])(?P<sign>[+\-−]?)OL(?!\w)")
_SENTENCES = re.compile(r"(?<=[.?!])\s+")
_PIECES = re.compile(r"[A-Za-z]+|\d+|[+\-−]|\S")

_WITHOUT_VALUE = frozenset({Verdict.NO_CONTACT, Verdict.WRONG_FUNCTION, Verdict.OPEN})
"""Verdicts beside which a number says nothing."""
_VALUE_ALONE = frozenset({Verdict.WITHIN, Verdict.AS_OTHER_SIDE})
"""Verdicts whose tone says the word already."""


def sentence(text: str) -> str:
    """A sentence with its values as words: `offset 120 mV` becomes `offset 120 millivolt`."""
    spoken = _VALUE.sub(_value, " ".join(text.split()))
    spoken = _OVER.sub(lambda found: _sign(found["sign"]) + "over range", spoken)
    return _NEGATIVE.sub("minus ", spoken)


def first_words(text: str) -> str:
    """What is said of a prompt that is on screen as well: its first sentence, more where that is a word or two."""
    said, *rest = _SENTENCES.split(text.strip())
    while rest and len(said) < ENOUGH:
        said = f"{said} {rest.pop(0)}"
    return said


def designator(text: str) -> str:
    """A designator as it is read out: `R107` becomes `R 107`, `Q7L` `Q 7 L`, `+B1` `plus B 1`."""
    return " ".join(_word(word) for word in text.split())


def result(judgement: Judgement, shown: str, assumed: str, following: str) -> str:
    """What is said of a result; empty where its tone says it all and nothing follows.

    Args:
        judgement: what the reading proved.
        shown: the reading as the screen shows it.
        assumed: what was taken for granted of a typed value; empty where nothing was.
        following: the designator to go to next; empty at the end of the list.
    """
    pieces = [_said_of(judgement.verdict, sentence(shown), bool(assumed)), designator(following)]
    return " ".join(f"{piece}." for piece in pieces if piece)


def _said_of(verdict: Verdict, value: str, assumed: bool) -> str:
    if verdict is Verdict.WITHIN and not assumed:
        return ""
    if verdict in _VALUE_ALONE:
        return value
    if verdict in _WITHOUT_VALUE and not assumed:
        return RESULT[verdict]
    return ", ".join(piece for piece in (RESULT[verdict], value) if piece)


def _value(found: re.Match[str]) -> str:
    unit = _PREFIX.get(found["prefix"], "") + _UNIT[found["unit"]]
    if found["number"] == "1":
        unit = unit.removesuffix("s")
    return f"{_sign(found['sign'])}{found['number']} {_RUN_TOGETHER.get(unit, unit)}"


def _sign(sign: str) -> str:
    return "minus " if sign in ("-", "−") else "plus " if sign else ""


def _word(word: str) -> str:
    """One word of a designator; what is written as a word is left as one."""
    if word in SHORT:
        return " ".join(word.upper())  # C-E and the like: a measure, and no word.
    pieces = _PIECES.findall(word)
    if len(word) > 1 and word.isalpha() and not word.isupper():
        return word
    spoken = []
    for at, piece in enumerate(pieces):
        if piece.isalpha():
            spoken += _letters(piece)
        elif piece.isdigit():
            spoken.append(piece)
        elif piece == "+":
            spoken.append("plus")
        elif piece in "-−" and at in (0, len(pieces) - 1):
            spoken.append("minus")
    return " ".join(spoken)


def _letters(piece: str) -> list[str]:
    """Capitals one by one, since engines make words of them; a lone small letter too, else it is an article."""
    return list(piece.upper()) if len(piece) <= 2 or (piece.isupper() and len(piece) <= 3) else [piece]
