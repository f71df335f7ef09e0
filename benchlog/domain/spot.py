"""A spot reading of a stage: asked once, typed or taken by a walking meter, and held against what it should read."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from benchlog.domain.expectation import Expectation
from benchlog.domain.judging import judge
from benchlog.domain.plan_trace import FaultAt
from benchlog.domain.quantity import Overload, show
from benchlog.domain.reading import Function
from benchlog.domain.typed import read_typed
from benchlog.domain.verdict import Question
from benchlog.errors import BadInput
from benchlog.textfile import key

_VOLTS = (Function.VOLTS_DC, Function.VOLTS_AC)


@dataclass(frozen=True, slots=True)
class Spot:
    """One point to be measured at a stage, besides the live series."""

    name: str = key("where the probes go, as said aloud: base of Q5")
    function: Function = key("volts_dc or volts_ac: nothing else is measured on a live unit")
    should_read: str = key("as sheets write it: 12..15 mV, -38 V 10%; left out: nobody knows", default="")

    @property
    def expectation(self) -> Expectation | None:
        """What it should read; None where nobody knows. BadInput where it cannot be understood."""
        return Expectation.parse(self.should_read, unit=self.function.unit) if self.should_read else None

    def faults(self) -> Iterable[FaultAt]:
        """What does not fit together."""
        if self.function not in _VOLTS:
            yield "function", f"{self.function} is not measured on a live unit", "write volts_dc or volts_ac"
            return
        try:
            expectation = self.expectation
        except BadInput as error:
            for fault in error.faults:
                yield "should_read", fault.problem, fault.fix
            return
        if expectation is not None and expectation.unit != self.function.unit:
            yield "should_read", "is not in volts", "write it as in 12..15 mV"


@dataclass(frozen=True, slots=True)
class SpotReading:
    """What a spot read: SI value (None beyond the meter's range), as shown, and its result with one sentence."""

    value: float | None
    shown: str
    result: str = ""
    reason: str = ""
    assumed: str = ""


def typed(spot: Spot, text: str) -> SpotReading:
    """What was typed for a spot, judged; BadInput where it must be asked."""
    found = read_typed(text, spot.expectation, spot.function.unit)
    return judged(spot, found.value, found.assumed)


def judged(spot: Spot, value: float | Overload, assumed: str = "") -> SpotReading:
    """A value of a spot beside what it should read."""
    number = None if isinstance(value, Overload) else value
    if number is not None and not math.isfinite(number):
        raise BadInput(spot.name, "is no reading", "measure it again")
    shown = value.value if isinstance(value, Overload) else show(value, spot.function.unit)
    expectation = spot.expectation
    if expectation is None:
        return SpotReading(number, shown, assumed=assumed)
    found = judge(Question(expectation, value, function=spot.function))
    return SpotReading(number, shown, found.verdict.value, found.reason, assumed)
