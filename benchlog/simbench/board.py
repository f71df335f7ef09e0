"""The regulator board on a two-output supply: two raw reservoirs, two regulators, their load."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from benchlog.simbench.output import Output

DOUBLES_PER = 10.0
"""Silicon leakage doubles about every 10 K."""


@dataclass(frozen=True, slots=True)
class SideTruth:
    """What is true of one side of the board, in SI units; a fault changes some of it.

    Attributes:
        regulated: volts the regulator gives.
        headroom: volts it needs more than it gives.
        soft_start: seconds its output takes to follow.
        load_ohms: what hangs on its output.
        quiescent: amps it draws for itself once it runs.
        reservoir: farads on the raw side.
        raw_short: ohms across the raw side; 0 where there is none.
        regulator_open: 1 where the pass device gives nothing.
        regulator_shorted: 1 where it gives all there is.
        bypass_ohms: what lies across the pass device; 0 for nothing.
        raw_leak: amps its reservoir leaks at 20 V; they grow with the cube of the volts.
        raw_leak_course: seconds under volts in which that falls to 1/e; negative where it grows e-fold.
        leak: amps a leaking junction on the raw side draws, cold and at 20 V; it doubles every 10 K.
        leak_heat: kelvin per watt of that junction.
        leak_time: seconds its heat takes.
    """

    regulated: float = 15.0
    headroom: float = 2.5
    soft_start: float = 0.25
    load_ohms: float = 300.0
    quiescent: float = 0.010
    reservoir: float = 0.001
    raw_short: float = 0.0
    regulator_open: float = 0.0
    regulator_shorted: float = 0.0
    bypass_ohms: float = 0.0
    raw_leak: float = 0.0
    raw_leak_course: float = 0.0
    leak: float = 0.0
    leak_heat: float = 100.0
    leak_time: float = 25.0


SHORT_TAKES = 0.3
"""Volts that stay across a shorted pass device."""
LEAK_FLASH = 120.0
"""Kelvin above ambient at which the leaking junction bonds to a short and gets no worse."""


class Side:
    """One raw rail of the board with its regulator, as a magnitude."""

    def __init__(self, truth: SideTruth) -> None:
        self.truth = truth
        self.raw = 0.0
        self.output = 0.0
        self._leak_kelvin = 0.0
        self._raw_growth = 0.0

    def leaking(self) -> float:
        """Amps of the leaking junction just now."""
        if self.truth.leak <= 0.0 or self.raw < 2.0:
            return 0.0
        # Near breakdown leakage grows far faster than the volts: with their cube.
        cold = self.truth.leak * (self.raw / 20.0) ** 3
        return cold * float(2.0 ** (self._leak_kelvin / DOUBLES_PER))

    def draw(self) -> tuple[float, float]:
        """Amps the side takes at its present volts, and the conductance of what is a plain resistor."""
        truth = self.truth
        running = 0.0 if truth.regulator_open else truth.quiescent * min(1.0, self.raw / 5.0)
        tired = truth.raw_leak * (self.raw / 20.0) ** 3 * math.exp(self._raw_growth)
        steady = running + self.output / truth.load_ohms + self.leaking() + tired
        conductance = 1.0 / 22000.0 + (1.0 / truth.raw_short if truth.raw_short > 0.0 else 0.0)
        return steady, conductance

    def step(self, seconds: float) -> None:
        """Let the regulator and the leaking junction live for `seconds`."""
        truth = self.truth
        reach = self._reach()
        if reach < self.output:
            self.output = reach
        else:
            self.output += (reach - self.output) * seconds / (truth.soft_start + seconds)
        if truth.raw_leak_course and self.raw > 2.0:
            self._raw_growth = max(-3.0, min(3.0, self._raw_growth - seconds / truth.raw_leak_course))
        target = min(self.leaking() * self.raw * truth.leak_heat, LEAK_FLASH)
        self._leak_kelvin += (target - self._leak_kelvin) * seconds / (truth.leak_time + seconds)

    def _reach(self) -> float:
        """Volts the output comes to."""
        truth = self.truth
        if truth.regulator_shorted:
            return max(0.0, self.raw - SHORT_TAKES)
        if truth.regulator_open:
            load = truth.load_ohms
            return self.raw * load / (load + truth.bypass_ohms) if truth.bypass_ohms > 0.0 else 0.0
        return min(truth.regulated, max(0.0, self.raw - truth.headroom))


class Board:
    """The board with its supply; what the bench supply's two outputs see is what the board draws."""

    def __init__(self, plus: SideTruth, minus: SideTruth, tell: Callable[..., None]) -> None:
        self.plus = Side(plus)
        self.minus = Side(minus)
        self.outputs = (Output(1, tell), Output(2, tell))

    @property
    def level(self) -> float:
        """Volts the first output is set to while it is on, else 0."""
        output = self.outputs[0]
        return output.set_volts if output.on else 0.0

    @property
    def energised(self) -> bool:
        """Whether any output is on."""
        return any(output.on for output in self.outputs)

    def step(self, seconds: float) -> None:
        """Let `seconds` of plan time pass."""
        for output, side in zip(self.outputs, (self.plus, self.minus), strict=True):
            steady, conductance = side.draw()
            side.raw = output.step(seconds, side.raw, side.truth.reservoir, steady, conductance)
            side.step(seconds)

    def measure(self, point: str, quantity: str) -> float:
        """Give what stands at a named point; 0 where there is nothing of the kind."""
        if quantity == "celsius":
            return 25.0
        if quantity == "ac":
            return 0.0
        at = {
            "raw plus": self.plus.raw,
            "raw minus": -self.minus.raw,
            "regulated plus": self.plus.output,
            "regulated minus": -self.minus.output,
        }
        return at.get(point, 0.0)
