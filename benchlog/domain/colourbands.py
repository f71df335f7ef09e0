"""Colour bands of resistors: words in their order, value and tolerance out.

Table of IEC 60062; grey as a tolerance is printed differently in its editions and in public charts, so
it is offered and never taken.
"""

from dataclasses import dataclass

from benchlog.domain.quantity import normal, quoted
from benchlog.domain.tolerance import Tolerance
from benchlog.errors import BadInput


@dataclass(frozen=True, slots=True)
class Band:
    """What one colour stands for in each place; None where it may not stand there.

    `tempco` is in ppm/K; `tolerances` are half-widths as fractions, several where they are disputed.
    """

    digit: int | None
    multiplier: int | None
    tolerances: tuple[float, ...]
    tempco: int | None


BANDS = {
    "pink": Band(None, -3, (), None),
    "silver": Band(None, -2, (0.1,), None),
    "gold": Band(None, -1, (0.05,), None),
    "black": Band(0, 0, (), 250),
    "brown": Band(1, 1, (0.01,), 100),
    "red": Band(2, 2, (0.02,), 50),
    "orange": Band(3, 3, (0.0005,), 15),
    "yellow": Band(4, 4, (0.0002,), 25),
    "green": Band(5, 5, (0.005,), 20),
    "blue": Band(6, 6, (0.0025,), 10),
    "violet": Band(7, 7, (0.001,), 5),
    "grey": Band(8, 8, (0.0005, 0.0001), 1),
    "white": Band(9, 9, (), None),
}
_ALSO = {"gray": "grey", "purple": "violet"}
_BARE = 0.2


@dataclass(frozen=True, slots=True)
class Coded:
    """A colour code: ohms, the tolerances it can mean (more than one is asked), ppm/K where there is a band for it."""

    value: float
    tolerances: tuple[Tolerance, ...]
    tempco: int | None


def words(text: str) -> tuple[str, ...]:
    """The colours in a text, or none where it does not begin with one."""
    found = [
        _ALSO.get(word, word) for word in normal(text).casefold().replace(",", " ").replace("-", " ").split()
    ]
    return tuple(found) if found and found[0] in BANDS else ()


def decode_bands(colours: tuple[str, ...]) -> Coded:
    """What 3 to 6 bands mean, first band first; raises `BadInput` where a colour cannot stand in its place."""
    text = " ".join(colours)
    for colour in colours:
        if colour not in BANDS:
            raise BadInput(
                quoted(text), f"{quoted(colour)} is not a band colour", f"there are {', '.join(BANDS)}"
            )
    if not 3 <= len(colours) <= 6:
        raise BadInput(
            quoted(text), f"{len(colours)} bands are no resistor", "give 3 to 6 colours, first band first"
        )
    bands = [BANDS[colour] for colour in colours]
    places = 2 if len(bands) < 5 else 3
    digits = [_stated(band.digit, colours[n], "a digit", text) for n, band in enumerate(bands[:places])]
    power = _stated(bands[places].multiplier, colours[places], "a multiplier", text)
    shares = bands[places + 1].tolerances if len(bands) > 3 else (_BARE,)
    if not shares:
        raise BadInput(
            quoted(text), f"{colours[places + 1]} is not a tolerance", "read the bands from the other end"
        )
    tempco = (
        _stated(bands[5].tempco, colours[5], "a temperature coefficient", text) if len(bands) == 6 else None
    )
    value = float(f"{''.join(map(str, digits))}e{power}")
    return Coded(value, tuple((0.0 - share, share) for share in shares), tempco)


def _stated(meaning: int | None, colour: str, what: str, text: str) -> int:
    if meaning is None:
        raise BadInput(quoted(text), f"{colour} is not {what}", "read the bands from the other end")
    return meaning
