"""The fictitious two-channel hall amplifier between wall socket and output terminals.

Averages over a half-wave, not the wave itself: the lamp sees rms volts, the reservoirs see the mean
current of their rectifiers, and the mains current is taken in phase with the mains volts.
"""

import random
from collections.abc import Callable
from dataclasses import dataclass

from benchlog.simbench.channel import Channel, ChannelTruth
from benchlog.simbench.contact import FIRM, Contact, ContactTruth
from benchlog.simbench.lamp import Filament
from benchlog.simbench.mains import Mains
from benchlog.simbench.protection import Protection
from benchlog.simbench.rectifier import average
from benchlog.simbench.reservoir import SOUND, Reservoir, ReservoirTruth

AC_METER_TIME = 0.12
"""Seconds in which an AC meter's converter follows."""


@dataclass(frozen=True, slots=True)
class UnitTruth:
    """What is true of the amplifier and its feed, in SI units; a fault changes some of it.

    Attributes:
        mains: nominal volts at the wall.
        wander: slow wander of the mains, as a fraction.
        lamp_watts: the series lamp fitted at the start; 0 for none.
        dial: 1 where a variable transformer stands before the lamp; 0 where there is none to turn.
        wiring_ohms: what stands in the lamp's place where there is none.
        winding: peak volts of one rail's winding for each volt on the primary.
        winding_ohms: resistance of that winding and its half of the primary's.
        diode_drop: volts lost in the rectifier of a rail.
        reservoir: farads of each rail.
        bleeder: ohms across each reservoir.
        driver_amps: what drivers and regulators draw from each rail once awake.
        side_amps: core, pilot lamps and auxiliary windings, as primary amps at nominal mains.
        plus_open, minus_open: 1 where the rectifier of that rail gives nothing.
        regulator_open, regulator_shorted: 1 where the late regulator's pass device is.
        ambient: degC.
    """

    mains: float = 230.0
    wander: float = 0.012
    lamp_watts: float = 100.0
    dial: float = 1.0
    wiring_ohms: float = 0.8
    winding: float = 0.198
    winding_ohms: float = 0.2
    diode_drop: float = 0.7
    reservoir: float = 0.010
    bleeder: float = 2200.0
    driver_amps: float = 0.010
    side_amps: float = 0.0775
    plus_open: float = 0.0
    minus_open: float = 0.0
    regulator_open: float = 0.0
    regulator_shorted: float = 0.0
    ambient: float = 25.0


DRIVERS_SLEEP = 8.0
"""Rail volts below which drivers and regulators draw nothing; at twice that they draw all."""
SIDE_EXPONENT = 0.7
"""Core current grows with the volts, pilot lamps with their 0.55th power: together about this."""
RIPPLE_HERTZ = 100.0


class Amplifier:
    """The amplifier with its source: wall, off-switches, variable transformer, lamp, unit.

    `relay_in` and `switched_on` are the two contacts in series, `dial` the fraction the variable
    transformer stands at: all of the mains where there is none. `tell(what, **about)` hears of things an
    onlooker would notice.
    """

    def __init__(
        self,
        unit: UnitTruth,
        left: ChannelTruth,
        right: ChannelTruth,
        chance: random.Random,
        tell: Callable[..., None],
        *,
        reservoir: ReservoirTruth = SOUND,
        contact: ContactTruth = FIRM,
    ) -> None:
        self.unit = unit
        self.mains = Mains(unit.mains, chance, unit.wander)
        self.left = Channel(left, unit.ambient)
        self.right = Channel(right, unit.ambient)
        self.reservoir = Reservoir(reservoir)
        self.contact = Contact(contact, chance)
        self.protection = Protection(tell)
        self.relay_in = True
        self.switched_on = True
        self.dial = 0.0 if unit.dial else 1.0
        self.lamp: Filament | None = None
        self.fit_lamp(unit.lamp_watts)
        self.plus = 0.0
        self.minus = 0.0
        self.primary = 0.0
        self.lamp_volts = 0.0
        self.mains_seen = 0.0
        self.lamp_seen = 0.0

    def fit_lamp(self, watts: float) -> None:
        """Put a cold lamp of so many watts in series, or a plain wire for 0."""
        self.lamp = Filament(watts, self.unit.mains) if watts > 0.0 else None

    @property
    def energised(self) -> bool:
        """Whether the wall is connected through to the variable transformer."""
        return self.relay_in and self.switched_on

    @property
    def level(self) -> float:
        """The dial's fraction while energised, else 0."""
        return self.dial if self.energised else 0.0

    @property
    def plus_terminal(self) -> float:
        """Volts a meter finds on the plus rail, with their sign: less than its reservoir's behind a bad contact."""
        return -self.plus if self.reservoir.truth.backwards else max(0.0, self.plus - self.contact.lost)

    def step(self, seconds: float) -> None:
        """Let `seconds` of plan time pass."""
        self.mains.step(seconds)
        applied = self.mains.volts * self.dial if self.energised else 0.0
        ohms = self.lamp.ohms if self.lamp is not None else self.unit.wiring_ohms
        self._charge(seconds, applied, ohms)
        self.lamp_volts = (applied - self.primary) if self.lamp is not None else 0.0
        if self.lamp is not None:
            self.lamp.step(seconds, self.lamp_volts)
        self.reservoir.step(seconds, self.plus)
        self.contact.step(seconds)
        plus = max(0.0, self.plus_terminal)
        self.left.step(seconds, plus, self.minus, share=self.contact.share, jump=self.contact.jump)
        self.right.step(seconds, plus, self.minus)
        offset = max(abs(self.left.offset), abs(self.right.offset))
        self.protection.step(
            seconds,
            min(plus, self.minus),
            offset,
            opened=bool(self.unit.regulator_open),
            shorted=bool(self.unit.regulator_shorted),
        )
        follow = seconds / (AC_METER_TIME + seconds)
        self.mains_seen += (applied - self.mains_seen) * follow
        self.lamp_seen += (self.lamp_volts - self.lamp_seen) * follow

    def measure(self, point: str, quantity: str) -> float:
        """Give what stands at a named point: `dc`, `ac` or `celsius`; 0 where there is nothing of the kind."""
        if quantity == "dc":
            return self._dc(point)
        if quantity == "ac":
            return self._ac(point)
        if point == "can plus":
            return self.unit.ambient + self.reservoir.can
        return {"sink left": self.left, "sink right": self.right}.get(point, self.left).sink_celsius

    def _dc(self, point: str) -> float:
        at = {
            "plus rail": self.plus_terminal,
            "minus rail": -self.minus,
            "offset left": self.left.offset,
            "offset right": self.right.offset,
            "idle left": self.left.idle_drop,
            "idle right": self.right.idle_drop,
            "regulated": self.protection.supply,
        }
        return at.get(point, 0.0)

    def _ac(self, point: str) -> float:
        """Mains-side volts; on a rail the ripple, 0.1 V rms at idle; on an output what it sings."""
        at = {
            "mains": self.mains_seen,
            "lamp": self.lamp_seen,
            "offset left": self.left.singing_volts,
            "offset right": self.right.singing_volts,
        }
        if point in {"plus rail", "minus rail"}:
            return self._ripple(point) if self.energised and abs(self._dc(point)) > 5.0 else 0.0
        if point == "regulated" and self.unit.regulator_shorted:
            return self._ac("plus rail")
        return at.get(point, 0.0)

    def _ripple(self, point: str) -> float:
        """Rms of a sawtooth of 0.3 V peak to peak, and on plus of what the leakage adds to it."""
        leaks = self.reservoir.draw(self.plus)[0] if point == "plus rail" else 0.0
        return (0.3 + leaks / (RIPPLE_HERTZ * self.unit.reservoir)) / 3.0

    # --- the electrical half ---------------------------------------------------------------------

    def _charge(self, seconds: float, applied: float, ohms: float) -> None:
        """Share the applied volts between lamp and unit, then charge and load both reservoirs.

        Newton on applied - u - ohms * (side(u) + winding * (I+ + I-)) = 0; the rails then move by one
        linearised implicit step, so that a dead short is as steady as an idle unit.
        """
        unit = self.unit
        plus_ohms = unit.winding_ohms + self.reservoir.truth.feed_ohms
        u = min(max(self.primary, 0.0), applied)
        slope = -1.0
        plus = minus = (0.0, 0.0, 0.0)
        for _ in range(5 if applied > 0.0 else 0):
            peak = unit.winding * u - unit.diode_drop
            plus = (0.0, 0.0, 0.0) if unit.plus_open else average(peak, self.plus, plus_ohms)
            minus = (0.0, 0.0, 0.0) if unit.minus_open else average(peak, self.minus, unit.winding_ohms)
            side = unit.side_amps * (u / unit.mains) ** SIDE_EXPONENT
            wrong = applied - u - ohms * (side + unit.winding * (plus[0] + minus[0]))
            side_slope = SIDE_EXPONENT * side / u if u > 1.0 else side
            slope = -1.0 - ohms * (side_slope + unit.winding**2 * (plus[1] + minus[1]))
            change = wrong / slope
            u = min(max(u - change, 0.0), applied)
            if abs(change) < 0.01:
                break
        self.primary = u if applied > 0.0 else 0.0
        if applied <= 0.0:
            plus = minus = (0.0, 0.0, 0.0)
        stray = self.reservoir.draw(self.plus)
        self.plus = self._rail(seconds, self.plus, plus, ohms, slope, stray)
        self.minus = self._rail(seconds, self.minus, minus, ohms, slope)

    def _rail(
        self,
        seconds: float,
        volts: float,
        feed: tuple[float, float, float],
        ohms: float,
        slope: float,
        stray: tuple[float, float] = (0.0, 0.0),
    ) -> float:
        """Give the rail's volts a step later, fed with (amps, slope over peak, slope over volts).

        `stray` is what a bad reservoir takes: amps, and their slope over the volts.
        """
        unit = self.unit
        amps, over_peak, over_volts = feed
        # A fuller reservoir draws less, so the lamp leaves more for the winding: part of the slope comes back.
        total = over_volts + over_peak * unit.winding * (ohms * unit.winding * over_volts / slope)
        conductance = 1.0 / unit.bleeder + self.left.conductance() + self.right.conductance()
        idle = sum(channel.drawn for channel in (self.left, self.right) if not channel.truth.short_ohms)
        drivers = unit.driver_amps * min(1.0, max(0.0, volts - DRIVERS_SLEEP) / DRIVERS_SLEEP)
        load = volts * conductance + idle + drivers + stray[0]
        change = seconds / unit.reservoir * (amps - load)
        return max(0.0, volts + change / (1.0 - seconds / unit.reservoir * (total - conductance - stray[1])))
