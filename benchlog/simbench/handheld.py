"""The serial handhelds: they write their display three times a second, whether anybody reads or not."""

import math
import random
from collections.abc import Callable
from dataclasses import dataclass

from benchlog.simbench import segments
from benchlog.simbench.loop import Loop
from benchlog.simbench.serial_end import SerialEnd
from benchlog.simbench.tampered import Tampered

INTERVAL = 1.0 / 3.0
"""Plan seconds from one line to the next."""
UNITS = {"VOLT:DC": "V DC", "VOLT:AC": "V AC", "RES": "ohm"}
NOISE = {"VOLT:DC": 0.0003, "VOLT:AC": 0.0008}
"""Rms noise as a fraction; the display rounds it away mostly."""


def display(value: float, unit: str) -> str:
    """What a display of 6000 counts shows of `value`: three ranges, then OL."""
    size = abs(value)
    if size >= 600.0:
        return f"{'-' if value < 0 else '+'}OL {unit}"
    if size >= 60.0:
        return f"{value:+06.1f} {unit}"
    # Under 6 V three decimals, over it two; a display never shows -0.
    decimals = 3 if size < 6.0 else 2
    rounded = round(value, decimals) or 0.0
    return f"{rounded:+0{5 + decimals}.{decimals}f} {unit}"


def as_line(value: float, function: str, lamps: tuple[str, ...] = ()) -> tuple[bytes, str]:
    """A display written as a line, with its annunciators, and its text."""
    text = " ".join((display(value, UNITS[function]), *lamps))
    return f"{text}\r\n".encode("ascii"), text


def as_segments(value: float, function: str, lamps: tuple[str, ...] = ()) -> tuple[bytes, str]:
    """A display sent as a frame of segments, and its text."""
    number, lit = segments.number_of(value), (*UNITS[function].split(), *lamps)
    return segments.frame(number, lit), " ".join((number, *lit))


@dataclass(frozen=True, slots=True)
class Dial:
    """What a handheld measures, and how it sends its display."""

    function: str
    draw: Callable[[float, str, tuple[str, ...]], tuple[bytes, str]] = as_line


class Handheld:
    """A handheld with its dial on one function; `silent` means that it writes nothing more."""

    def __init__(
        self,
        loop: Loop,
        end: SerialEnd,
        *,
        job: str,
        look: Callable[[str], float],
        dial: Dial,
        speed: float,
        chance: random.Random,
        tell: Callable[..., None],
    ) -> None:
        self._loop = loop
        self._end = end
        self._job = job
        self._look = look
        self._dial = dial
        self._interval = INTERVAL / speed
        self._chance = chance
        self._tell = tell
        self.silent = False
        self.tampered = Tampered()
        self._shown = (0.0, dial.function)
        self._timer = loop.after(self._interval, self._write)

    def close(self) -> None:
        """Write no more."""
        self._timer.cancel()
        self._end.close()

    def _write(self) -> None:
        self._timer = self._loop.at(self._timer.when + self._interval, self._write)
        if self.silent or self.tampered.unplugged:
            return
        if not self.tampered.frozen:
            self._shown = self._measure()
        data, text = self._dial.draw(*self._shown, ("HOLD",) if self.tampered.held else ())
        left = self._end.send(data)
        if left:
            self._tell("reply", t=left, job=self._job, text=text)

    def _measure(self) -> tuple[float, str]:
        """What the display would show now, and of which function."""
        if self.tampered.ohms:
            return math.inf, "RES"  # a live point gives nothing but an overload
        function = self.tampered.measures(self._dial.function)
        noisy = self.tampered.seen(self._look, self._dial.function) * (
            1.0 + self._chance.gauss(0.0, NOISE[function])
        )
        return self.tampered.shown(noisy), function
