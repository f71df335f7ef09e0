"""The bench multimeter: one function at a time, a reading a moment after it is asked for."""

import math
import random
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from benchlog.simbench.scpi import NOT_ALLOWED, Call, Handler, ScpiDevice, ScpiError, Wait
from benchlog.simbench.tampered import Tampered

OVERLOAD = 9.9e37
NOT_A_NUMBER = 9.91e37

FUNCTIONS = {
    "VOLT:DC": "VOLTage[:DC]",
    "VOLT:AC": "VOLTage:AC",
    "CURR:DC": "CURRent[:DC]",
    "CURR:AC": "CURRent:AC",
    "RES": "RESistance",
    "FRES": "FRESistance",
    "DIOD": "DIODe",
    "CAP": "CAPacitance",
    "FREQ": "FREQuency",
    "TEMP": "TEMPerature",
}
"""Its functions, by the name it answers with, and the header that stands for each."""

LOWEST_DECADE = -1
"""The lowest range ends at a tenth of the unit."""

GAIN_ERROR = 2e-4
"""How far a meter's gain may be off: two parts in ten thousand either way."""

NOISE = {
    "VOLT:DC": (2e-5, 3e-5),
    "VOLT:AC": (3e-4, 4e-3),
    "CURR:DC": (2e-4, 1e-6),
    "CURR:AC": (1e-3, 1e-5),
    "RES": (3e-5, 2e-4),
    "FRES": (3e-5, 5e-5),
    "DIOD": (1e-4, 3e-6),
    "CAP": (4e-4, 2e-12),
    "FREQ": (1e-6, 0.0),
    "TEMP": (0.0, 0.04),
}
"""Rms noise of each function: a fraction of the reading, and a floor in its unit."""

UNSIGNED = {"VOLT:AC", "CURR:AC", "RES", "FRES", "CAP", "FREQ"}
"""What has no sign: its noise never shows as less than nothing."""
SLOW = {"CAP": (0.15, 0.30), "VOLT:AC": (0.04, 0.09), "TEMP": (0.04, 0.09)}
USUAL = (0.02, 0.08)
"""Seconds of plan time a reading takes, least and most."""


@dataclass(frozen=True, slots=True)
class Pace:
    """How long readings take: at `speed` times life, or always `delay` real seconds where that is given."""

    speed: float
    delay: float | None = None

    def of(self, function: str, chance: random.Random) -> float:
        """Real seconds for one reading."""
        if self.delay is not None:
            return self.delay
        return chance.uniform(*SLOW.get(function, USUAL)) / self.speed


class Multimeter(ScpiDevice):
    """A meter whose clips show `look(function)`: a value, infinity beyond every range, nan for no value."""

    def __init__(self, look: Callable[[str], float], pace: Pace, chance: random.Random) -> None:
        self._look = look
        self._pace = pace
        self._chance = chance
        self._gain = 1.0 + chance.uniform(-GAIN_ERROR, GAIN_ERROR)
        self._free_at = 0.0
        self._last: float | None = None
        self.tampered = Tampered()
        self.function = "VOLT:DC"
        self._range: float | None = None
        super().__init__("BENCHLOG-SIM,MULTIMETER,0,1", self._vocabulary())

    @property
    def mute(self) -> bool:
        """Whether its cable is pulled: it hears and answers nothing."""
        return self.tampered.unplugged

    def reset(self) -> None:
        """Volts DC, autoranging."""
        self.function = "VOLT:DC"
        self._range = None
        self._last = None

    def _vocabulary(self) -> dict[str, Handler]:
        words: dict[str, Handler] = {
            "READ?": lambda _: self._reading(),
            "INITiate[:IMMediate]": lambda _: None,
            "FETCh?": lambda _: self._reading() if self._last is None else _nr3(self._last),
            "CONFigure?": lambda _: f'"{self.function}"',
            "[SENSe:]FUNCtion?": lambda _: f'"{self.function}"',
            "[SENSe:]FUNCtion[:ON]": self._name_function,
        }
        ignored = ("TRIGger:SOURce", "TRIGger:COUNt", "SAMPle:COUNt", "TRIGger:DELay:AUTO")
        words.update({f"{pattern}": lambda _: None for pattern in ignored})
        for name, header in FUNCTIONS.items():
            words[f"CONFigure[:SCALar]:{header}"] = partial(self._configure, name)
            words[f"MEASure[:SCALar]:{header}?"] = partial(self._measure, name)
            words[f"[SENSe:]{header}:NPLCycles"] = lambda _: None
            words[f"[SENSe:]{header}:RANGe[:UPPer]"] = self._fix_range
            words[f"[SENSe:]{header}:RANGe[:UPPer]?"] = lambda _: _nr3(self._range_in_use())
            words[f"[SENSe:]{header}:RANGe:AUTO"] = lambda _: self._autorange()
        return words

    def _configure(self, name: str, call: Call) -> None:
        self.function = name
        self._last = None
        word = call.arguments[0].upper() if call.arguments else "AUTO"
        if word in {"AUTO", "DEF", "DEFAULT"}:
            self._autorange()
        else:
            self._fix_range(call)

    def _name_function(self, call: Call) -> None:
        name = call.arguments[0].strip("\"'").upper() if call.arguments else ""
        known = {"VOLT": "VOLT:DC", "CURR": "CURR:DC"}.get(name, name)
        if known not in FUNCTIONS:
            raise ScpiError(NOT_ALLOWED)
        self.function = known
        self._autorange()

    def _fix_range(self, call: Call) -> None:
        self._range = call.number(0.0, 1e9)

    def _range_in_use(self) -> float:
        """The range it was told, else the lowest decade that shows what it read last with a fifth to spare."""
        if self._range is not None:
            return self._range
        size = abs(self._last or 0.0) / 1.2
        return (
            10.0 ** min(max(math.ceil(math.log10(size)), LOWEST_DECADE), 9)
            if size > 0.0
            else 10.0**LOWEST_DECADE
        )

    def _autorange(self) -> None:
        self._range = None

    def _measure(self, name: str, call: Call) -> Wait:
        self._configure(name, call)
        return self._reading()

    def _reading(self) -> Wait:
        """One reading; two connections asking at once share the one converter."""
        now = time.monotonic()
        done = max(now, self._free_at) + self._pace.of(self.function, self._chance)
        self._free_at = done
        return Wait(done - now, self._value)

    def _value(self) -> str:
        if self.tampered.frozen and self._last is not None:
            return _nr3(self._last)
        true = math.inf if self.tampered.ohms else self.tampered.seen(self._look, self.function)
        if math.isnan(true):
            value = NOT_A_NUMBER
        elif math.isinf(true) or (self._range is not None and abs(true) > 1.2 * self._range):
            value = math.copysign(OVERLOAD, true)
        else:
            fraction, floor = NOISE[self.function]
            value = true * self._gain + self._chance.gauss(0.0, fraction * abs(true) + floor)
            if self.function in UNSIGNED:
                value = abs(value)
            value = self.tampered.shown(value)
        self._last = value
        return _nr3(value)


def _nr3(value: float) -> str:
    """A number as a bench meter writes it."""
    return f"{value:+.8E}"
