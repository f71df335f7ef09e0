"""The LCR meter: a value, what goes with it, and whether it counts, at the test signal that was set."""

import math
import random
from collections.abc import Callable
from functools import partial

from benchlog.simbench.multimeter import Pace
from benchlog.simbench.scpi import Call, Handler, ScpiDevice, Wait

LOWEST_HERTZ, HIGHEST_HERTZ, USUAL_HERTZ = 20.0, 100e3, 1e3
HIGHEST_FARADS = 0.1
NOISE = 2e-4
"""Rms noise as a fraction of the reading."""
COUNTS, OVER = "+0", "+1"
"""Whether the values count, or lie beyond every range."""
NO_VALUE = 9.9e37

Look = Callable[[str], float]


class LcrMeter(ScpiDevice):
    """A meter whose clips show `look("CAP")` farads or `look("RES")` ohms, and `esr()` ohms in series with them."""

    def __init__(self, look: Look, esr: Callable[[], float], pace: Pace, chance: random.Random) -> None:
        self._look = look
        self._esr = esr
        self._pace = pace
        self._chance = chance
        self.reset()
        super().__init__("BENCHLOG-SIM,LCR,0,1", self._vocabulary())

    def reset(self) -> None:
        """Capacitance at 1 kHz."""
        self.function = "CAP"
        self.hertz = USUAL_HERTZ

    def _vocabulary(self) -> dict[str, Handler]:
        return {
            "CONFigure[:SCALar]:CAPacitance": partial(self._configure, "CAP"),
            "CONFigure[:SCALar]:RESistance": partial(self._configure, "RES"),
            "SOURce:FREQuency[:CW]": self._set_hertz,
            "SOURce:FREQuency[:CW]?": lambda _: _nr3(self.hertz),
            "READ?": lambda _: self._reading(),
        }

    def _configure(self, name: str, _call: Call) -> None:
        self.function = name

    def _set_hertz(self, call: Call) -> None:
        self.hertz = call.number(LOWEST_HERTZ, HIGHEST_HERTZ)

    def _reading(self) -> Wait:
        seconds = self._pace.of("CAP", self._chance)
        return Wait(seconds, self._values)

    def _values(self) -> str:
        true = self._look(self.function)
        if not math.isfinite(true) or (self.function == "CAP" and true > HIGHEST_FARADS):
            return f"{_nr3(NO_VALUE)},{_nr3(NO_VALUE)},{OVER}"
        value = true * (1.0 + self._chance.gauss(0.0, NOISE))
        beside = 2.0 * math.pi * self.hertz * value * self._esr() if self.function == "CAP" else 0.0
        return f"{_nr3(value)},{_nr3(beside)},{COUNTS}"


def _nr3(value: float) -> str:
    return f"{value:+.5E}"
