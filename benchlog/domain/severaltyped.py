"""Several values typed in one go, `4650/.12/.03`, in the order of their kind (rule 31): what each of them is.

Of a capacitor that is its capacitance, its D and its ESR; of a diode both directions; of a leakage how much,
after how many minutes, and at how many volts. An empty place is a value that was not read.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from benchlog.domain.expectation import Expectation
from benchlog.domain.measures import LEAKAGE, typed_after
from benchlog.domain.quantity import quantity, quoted
from benchlog.domain.typed import TypedReading, read_typed
from benchlog.domain.unit import Part
from benchlog.errors import BadInput

BETWEEN = "/"
MINUTES, APPLIED = "minutes", "applied"
"""Places that hold no reading but how one was taken: minutes, and volts."""
_UNIT = {MINUTES: "", APPLIED: "V"}


@dataclass(frozen=True, slots=True)
class TypedValue:
    """A typed reading of one measure, by its word; of a leakage with its minutes and its volts."""

    measure: str
    reading: TypedReading
    minutes: float | None = None
    applied: float | None = None


def places(part: Part, word: str) -> tuple[str, ...]:
    """What stands where when values of a part are typed from one of its measures on: words of measures, then how."""
    return (LEAKAGE, MINUTES, APPLIED) if word == LEAKAGE else typed_after(part.kind, word)


def unit_of(part: Part, place: str) -> str:
    """The unit of what stands in a place."""
    return _UNIT[place] if place in _UNIT else part.measure(place).unit


def read_several(
    texts: Sequence[str], part: Part, word: str, expected: Callable[[str], Expectation | None]
) -> tuple[TypedValue, ...]:
    """What typed values mean; `expected` tells what a measure should read.

    `BadInput` where one cannot be read, or where there are more than there are places.
    """
    order = places(part, word)
    if len(texts) > len(order):
        names = BETWEEN.join(place or "value" for place in order)
        raise BadInput(quoted(BETWEEN.join(texts)), f"has {len(texts)} values", f"the order is {names}")
    found, how = [], {}
    for place, text in zip(order, texts, strict=False):
        if not text.strip():
            continue
        if place in _UNIT:
            how[place] = quantity(text, _UNIT[place]).value
        else:
            found.append(TypedValue(place, read_typed(text, expected(place), unit_of(part, place))))
    if not found:
        raise BadInput(quoted(BETWEEN.join(texts)), "holds no reading", "write at least one value")
    return tuple(TypedValue(one.measure, one.reading, how.get(MINUTES), how.get(APPLIED)) for one in found)
