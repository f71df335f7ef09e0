"""What a person has done to one meter: taken its clip off, pressed HOLD, turned its dial, misread its prefix."""

import math
import time
from collections.abc import Callable
from dataclasses import dataclass

ACTS = {
    "hold": "press HOLD",
    "ohms": "turn its dial to ohms",
    "ac": "turn its dial from DC to AC",
    "clip": "let its clip fall off",
    "swap": "swap its leads",
    "flash": "one reading in the range before",
    "slip": "its prefix slips by a thousand",
    "stuck": "it repeats its last reading",
    "unplug": "pull its cable to the computer",
    "right": "put it right",
}
"""What can be done, and in which words."""
FLASH = 10.0
SLIP = 1e-3
DRIFT, DRIFT_TIME = 0.05, 7.0
"""Volts an open DC input wanders by either way, and the real seconds of a turn."""
_FIELDS = {"hold": "held", "clip": "off", "slip": "slipped", "swap": "swapped", "unplug": "unplugged"}
_TURNED = {"VOLT:DC": "VOLT:AC", "CURR:DC": "CURR:AC"}


@dataclass(slots=True)
class Tampered:
    """How one meter stands; everything as it should be until an act says otherwise."""

    held: bool = False
    ohms: bool = False
    ac: bool = False
    off: bool = False
    swapped: bool = False
    slipped: bool = False
    flash: bool = False
    stuck: bool = False
    unplugged: bool = False

    def do(self, act: str) -> None:
        """Carry out one of `ACTS`; HOLD pressed again lets go, leads swapped again are right."""
        if act == "right":
            for field in self.__dataclass_fields__:
                setattr(self, field, False)
            return
        field = _FIELDS.get(act, act)
        setattr(self, field, act not in {"hold", "swap"} or not getattr(self, field))

    @property
    def frozen(self) -> bool:
        """Whether it shows what it showed last."""
        return self.held or self.stuck

    def measures(self, function: str) -> str:
        """What the dial stands on, of a meter that should measure `function`."""
        return _TURNED.get(function, function) if self.ac else function

    def seen(self, look: Callable[[str], float], function: str) -> float:
        """What reaches the meter of what stands at its point: nothing but a drift where its clip is off."""
        measures = self.measures(function)
        if self.off:
            drifts = measures == "VOLT:DC"
            return DRIFT * math.sin(math.tau * time.monotonic() / DRIFT_TIME) if drifts else 0.0
        true = look(measures)
        return -true if self.swapped and measures.endswith(":DC") else true

    def shown(self, value: float) -> float:
        """What its display makes of it; a flash is over with one reading."""
        flash, self.flash = self.flash, False
        return value * (FLASH if flash else 1.0) * (SLIP if self.slipped else 1.0)
