"""Random runs of the simulated far end's own models, read by meters that have a pace, a last digit and noise.

Each gives what the meter read up to a moment, and what became of it later by the model alone.
"""

import math
import random
from dataclasses import dataclass, field

from benchlog.domain.plan_trace import Role
from benchlog.simbench.amplifier import Amplifier, UnitTruth
from benchlog.simbench.channel import Channel, ChannelTruth
from benchlog.simbench.mains import Mains
from benchlog.simbench.reservoir import Reservoir, ReservoirTruth

RAIL = 40.0


@dataclass
class Meter:
    """What reads a value: every so many seconds, with noise, rounded to its last digit."""

    pace: float
    digit: float
    noise: float
    chance: random.Random
    t: list[float] = field(default_factory=list)
    y: list[float] = field(default_factory=list)

    def look(self, t: float, value: float) -> None:
        """Read, where it is time to."""
        if not self.t or t - self.t[-1] >= self.pace - 1e-9:
            read = value + self.chance.gauss(0.0, self.noise)
            self.t.append(t)
            self.y.append(round(read / self.digit) * self.digit)


@dataclass
class Warming:
    """A channel that warms up: what its meters read up to a moment, and what each settles to."""

    read: dict[Role, Meter]
    settles: dict[Role, float]


def warming(seed: int) -> Warming:
    """A healthy channel of any size, looked at somewhere on its way."""
    chance = random.Random(seed)
    truth = ChannelTruth(
        cold_idle=chance.uniform(0.03, 0.08),
        emitter_ohms=chance.choice((0.22, 0.33, 0.47)),
        tracking=chance.uniform(0.85, 1.0),
        spreader_time=chance.uniform(30.0, 90.0),
        sink=chance.uniform(0.7, 1.5),
        sink_heat=chance.uniform(250.0, 700.0),
        offset=chance.uniform(-0.02, 0.02),
        offset_drift=chance.choice((-1.0, 1.0)) * chance.uniform(0.2e-3, 0.8e-3),
    )
    mains = Mains(230.0, chance, 0.012)
    channel = Channel(truth, 25.0)
    coarse = chance.random() < 0.5
    read = {
        Role.SINK: Meter(chance.choice((1.0, 3.0)), 0.1, 0.05, chance),
        Role.IDLE: Meter(chance.choice((0.5, 1.0)), 1e-4 if coarse else 1e-5, 2e-5, chance),
        Role.OFFSET: Meter(chance.choice((0.5, 1.0)), 1e-4 if coarse else 1e-5, 3e-5, chance),
    }
    seen = truth.sink * truth.sink_heat * chance.uniform(0.6, 3.5)
    step, t = 0.5, 0.0
    while t < seen:
        mains.step(step)
        rail = RAIL * mains.volts / 230.0
        channel.step(step, rail, rail)
        t += step
        if t > 5.0:
            for role, meter in read.items():
                meter.look(t, _of(channel, role))
    # The same channel on mains that stand still, until nothing moves any more.
    while t < 8.0 * truth.sink * truth.sink_heat + 600.0:
        channel.step(2.0, RAIL, RAIL)
        t += 2.0
    return Warming(read, {role: _of(channel, role) for role in read})


def _of(channel: Channel, role: Role) -> float:
    return {Role.SINK: channel.sink_celsius, Role.IDLE: channel.idle_drop, Role.OFFSET: channel.offset}[role]


@dataclass
class Falling:
    """A reservoir after off: what its meter read, and when it is at each level by the model, counted from there."""

    read: Meter
    reaches: dict[float, float]


def falling(seed: int) -> Falling:
    """Both rails of an amplifier of any size that is switched off, looked at somewhere on the way down."""
    chance = random.Random(seed)
    unit = UnitTruth(
        reservoir=chance.choice((0.0047, 0.010, 0.022)),
        bleeder=chance.uniform(900.0, 3300.0),
        driver_amps=chance.uniform(0.005, 0.02),
        lamp_watts=0.0,
    )
    channel = ChannelTruth(cold_idle=chance.uniform(0.03, 0.08))
    amplifier = Amplifier(unit, channel, channel, chance, lambda *_, **__: None)
    amplifier.switched_on = False
    amplifier.plus = amplifier.minus = chance.uniform(25.0, 50.0)
    meter = Meter(
        *chance.choice(((0.1, 1e-3, 2e-3), (0.33, 0.01, 0.005), (0.33, 0.1, 0.02), (0.5, 0.01, 0.01))), chance
    )
    asleep = unit.reservoir * unit.bleeder
    seen = math.exp(chance.uniform(math.log(2.0), math.log(2.5 * asleep)))
    reaches: dict[float, float] = {}
    step, t = 0.05, 0.0
    while t < 5.0 * asleep and 1.0 not in reaches:
        amplifier.step(step)
        t += step
        if t <= seen:
            meter.look(t, amplifier.plus)
        for level in (5.0, 1.0):
            if amplifier.plus <= level:
                reaches.setdefault(level, t)
    last = meter.t[-1]
    return Falling(meter, {level: max(0.0, at - last) for level, at in reaches.items()})


@dataclass
class Reformed:
    """A capacitor being re-formed: what the drop across its resistor read, and when the target is reached."""

    read: Meter
    ohms: float
    target: float
    reaches: float


def reformed(seed: int) -> Reformed:
    """A leaky reservoir that recovers through a resistor, looked at somewhere on its way."""
    chance = random.Random(seed)
    ohms, course = chance.choice((1e3, 4.7e3, 10e3)), chance.uniform(300.0, 2400.0)
    reservoir = Reservoir(ReservoirTruth(leak=chance.uniform(0.5, 4.0) / ohms, course=course))
    applied = chance.uniform(35.0, 45.0)
    meter = Meter(chance.choice((2.0, 4.0)), chance.choice((1e-4, 1e-3)), chance.uniform(2e-4, 2e-3), chance)
    seen = course * chance.uniform(0.4, 2.2)
    step, t, volts = 2.0, 0.0, applied
    first = target = 0.0
    while t < 4.0 * course:
        volts = _divided(reservoir, applied, ohms)
        reservoir.step(step, volts)
        amps = (applied - volts) / ohms
        t += step
        if not first:
            first, target = amps, amps * chance.uniform(0.12, 0.3)
        if t <= seen:
            meter.look(t, amps * ohms)
        if amps <= target:
            return Reformed(meter, ohms, target, max(0.0, t - meter.t[-1]))
    return Reformed(meter, ohms, target, math.inf)


def _divided(reservoir: Reservoir, applied: float, ohms: float) -> float:
    """Volts on the capacitor where what it draws and what the resistor gives are the same, by halving."""
    low, high = 0.0, applied
    for _ in range(32):
        middle = 0.5 * (low + high)
        if reservoir.draw(middle)[0] < (applied - middle) / ohms:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
