"""How an LCR meter without a wire stands: what a person said of it holds until it is changed (rule 31)."""

import re
from dataclasses import dataclass, replace

from benchlog.domain.quantity import quantity, show
from benchlog.errors import BadInput

SERIES, PARALLEL = "series", "parallel"
FREQUENCIES = (100.0, 120.0, 1e3, 10e3, 100e3)
"""What such meters can be set to, Hz."""

_AT = re.compile(r"(?:@|\bat\b)\s*(?P<hertz>[0-9.,]+\s?(?:[kK](?:Hz)?|Hz)?)(?=\s|$)", re.IGNORECASE)
_MODEL = re.compile(r"\b(?P<model>series|parallel)\b", re.IGNORECASE)
_METER = re.compile(r"\bwith\s+(?P<meter>\S.*)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class LcrState:
    """A meter by its name, the Hz of its test signal, and the model in which it states its values.

    Empty or None where nobody said.
    """

    meter: str = ""
    frequency: float | None = None
    model: str = ""

    @property
    def shown(self) -> str:
        """The same in a few words."""
        at = show(self.frequency, "Hz") if self.frequency is not None else "no frequency yet"
        return ", ".join(one for one in (self.meter, at, self.model) if one)

    def next_frequency(self) -> "LcrState":
        """At the next of the usual frequencies, the first one after the last."""
        above = [one for one in FREQUENCIES if self.frequency is not None and one > self.frequency]
        return replace(self, frequency=above[0] if above else FREQUENCIES[0])

    def next_model(self) -> "LcrState":
        """In the other model."""
        return replace(self, model=PARALLEL if self.model == SERIES else SERIES)


def said_of_lcr(text: str, before: LcrState) -> tuple[LcrState, str]:
    """What a text says of the meter, `@ 120 Hz`, `at 1k parallel`, `with the blue one`, and what is left of it."""
    state, rest = before, text
    found = _METER.search(rest)
    if found:
        state, rest = replace(state, meter=found["meter"].strip()), rest[: found.start()]
    found = _AT.search(rest)
    if found:
        hertz = quantity(found["hertz"]).value
        if hertz <= 0:
            raise BadInput(found[0], "is no frequency", "write it as in @ 120 Hz")
        state, rest = replace(state, frequency=hertz), rest[: found.start()] + rest[found.end() :]
    found = _MODEL.search(rest)
    if found:
        state, rest = (
            replace(state, model=found["model"].lower()),
            rest[: found.start()] + rest[found.end() :],
        )
    return state, " ".join(rest.split())
