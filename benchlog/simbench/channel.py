"""One channel of the hall amplifier: idle current with its heat, offset with its turn-on kick."""

import math
from dataclasses import dataclass

THERMAL_VOLTS = 0.0257
"""kT/q at 25 degC."""
PER_KELVIN = 0.0022
"""A silicon junction loses about 2 mV a kelvin; 2.2 is the usual figure for power devices."""
AT_VOLTS = 40.0
"""The rail at which `cold_idle` is stated."""
AWAKE_FROM, AWAKE_BY = 8.5, 13.0
"""Rail volts between which the current sources and zeners come to life."""
STARVED = 4.0
"""Below this rail the chain that feeds the bias spreader carries nothing."""
LEAK_EXPONENT = 0.6
"""15 mV after 1 min, 40 after 5, 90 after 20: about this power of the time."""
SINGS_DOWN_TO = 0.6
"""An oscillation once begun lasts down to this share of the rail it began at."""
HIGHEST_CLIMB = 12.0
"""A bias that has climbed this many times is at the end of its chain."""


@dataclass(frozen=True, slots=True)
class ChannelTruth:
    """What is true of a channel, in SI units; a fault changes some of it.

    Attributes:
        cold_idle: idle current of the cold channel at +/-40 V.
        emitter_ohms: the emitter resistor the idle drop is read across.
        tracking: how much of the sink's heat the bias spreader takes back: 1 all, 0 none.
        spreader_time: seconds the spreader lags behind the sink.
        junction: kelvin per watt from junction to sink, for each of the two devices.
        junction_time: seconds the junction takes.
        sink: kelvin per watt from sink to air.
        sink_heat: joules per kelvin of the sink.
        offset: volts at the output, settled and cold.
        offset_drift: volts per kelvin of the sink.
        kick: volts of the swing when the channel wakes.
        kick_time: seconds in which the swing dies away.
        short_ohms: from each rail to the output through a dead pair; 0 where the pair is alive.
        climb: by what fraction the bias rises each minute while the rail is above `climb_rail`.
        climb_rail: volts.
        input_leak: volts a leaking input capacitor puts on the output after its first minute.
        sings_from: rail volts above which it oscillates; 0 for never.
        sings_idle: by what that multiplies the idle current.
        sings_amps: what it draws from each rail beside that.
        sings_volts: what an AC meter happens to show of it at the output.
        sings_offset: volts by which it shifts the output.
    """

    cold_idle: float = 0.054
    emitter_ohms: float = 0.33
    tracking: float = 1.0
    spreader_time: float = 60.0
    junction: float = 1.0
    junction_time: float = 3.0
    sink: float = 1.2
    sink_heat: float = 500.0
    offset: float = 0.012
    offset_drift: float = 0.0004
    kick: float = 0.9
    kick_time: float = 0.5
    short_ohms: float = 0.0
    climb: float = 0.0
    climb_rail: float = 37.0
    input_leak: float = 0.0
    sings_from: float = 0.0
    sings_idle: float = 5.0
    sings_amps: float = 0.19
    sings_volts: float = 0.9
    sings_offset: float = 0.08


class Channel:
    """A channel between its two rails."""

    def __init__(self, truth: ChannelTruth, ambient: float) -> None:
        self.truth = truth
        self._ambient = ambient
        self._log_idle = math.log(truth.cold_idle)
        self._sink = 0.0
        self._spreader = 0.0
        self._junction = 0.0
        self._kick = 0.0
        self._awake = 0.0
        self._climbed = 0.0
        self._leaked = 0.0
        self.singing = False
        self.idle_preset = 1.0
        """Where its idle trimmer stands, as a multiple of the cold idle it came with."""
        self.offset_preset = 0.0
        """Volts that its offset trimmer adds at the output."""
        self._jump = 0.0
        self._output = 0.0
        self.idle = 0.0

    @property
    def offset(self) -> float:
        """Volts at its output; what a bad contact adds comes and goes at once."""
        return self._output + self._jump

    @property
    def sink_celsius(self) -> float:
        """Temperature of its heat sink."""
        return self._ambient + self._sink

    @property
    def idle_drop(self) -> float:
        """Volts across one emitter resistor."""
        return self.idle * self.truth.emitter_ohms

    @property
    def singing_volts(self) -> float:
        """What an AC meter shows at its output."""
        return self.truth.sings_volts if self.singing else 0.0

    @property
    def drawn(self) -> float:
        """Amps it takes from each rail, idle and singing."""
        return self.idle + (self.truth.sings_amps if self.singing else 0.0)

    def conductance(self) -> float:
        """What a dead output pair puts between each rail and common; 0 where it is alive."""
        short = self.truth.short_ohms
        return 1.0 / (short + self.truth.emitter_ohms) if short > 0.0 else 0.0

    def step(
        self, seconds: float, plus: float, minus: float, *, share: float = 1.0, jump: float = 0.0
    ) -> None:
        """Let `seconds` pass with rails of `plus` and `minus` volts, both as magnitudes.

        `share` and `jump` are what a bad contact leaves of the idle current and adds to the output, in volts.
        """
        low = min(plus, minus)
        self._age(seconds, low)
        awake = min(1.0, max(0.0, (low - AWAKE_FROM) / (AWAKE_BY - AWAKE_FROM)))
        if self.truth.short_ohms > 0.0:
            self.idle = plus * self.conductance()
        else:
            self.idle = awake * self._bias(low) * share if awake > 0.0 else 0.0
            self.idle *= self.truth.sings_idle if self.singing else 1.0
        self._heat(seconds, low, plus + minus)
        self._swing(seconds, awake, plus, minus)
        self._jump = awake * jump

    def _age(self, seconds: float, low: float) -> None:
        """Let what only time or a certain rail brings out go on."""
        truth = self.truth
        if truth.climb > 0.0 and low > truth.climb_rail:
            self._climbed += seconds
        if low > AWAKE_BY:
            self._leaked += seconds
        from_volts = truth.sings_from * (SINGS_DOWN_TO if self.singing else 1.0)
        self.singing = truth.sings_from > 0.0 and low > from_volts

    def _bias(self, low: float) -> float:
        """Solve Re*I + VT*ln(I/I0) = Re*I0 + spread for the idle current, one Newton step from the last one.

        Two junctions and two emitter resistors share the spreader's volts, so half of them stand here. Heat
        adds 2.2 mV a kelvin unless the spreader takes it back; a starved chain gives half of VT*ln of its share.
        """
        truth = self.truth
        heat = self._sink + self._junction - truth.tracking * self._spreader
        share = 0.5 * THERMAL_VOLTS * math.log(max(low - STARVED, 0.1) / (AT_VOLTS - STARVED))
        cold = (
            self.idle_preset
            * truth.cold_idle
            * min(HIGHEST_CLIMB, (1.0 + truth.climb) ** (self._climbed / 60.0))
        )
        drive = truth.emitter_ohms * cold + PER_KELVIN * heat + share
        idle = math.exp(self._log_idle)
        drop = truth.emitter_ohms * idle
        wrong = drop + THERMAL_VOLTS * (self._log_idle - math.log(cold)) - drive
        self._log_idle -= max(-0.3, min(0.3, wrong / (drop + THERMAL_VOLTS)))
        return math.exp(self._log_idle)

    def _heat(self, seconds: float, low: float, across: float) -> None:
        """Move sink, spreader and junction towards what the idle current's power asks for."""
        truth = self.truth
        power = self.idle * across
        self._sink += seconds * (power - self._sink / truth.sink) / truth.sink_heat
        self._spreader += (self._sink - self._spreader) * seconds / (truth.spreader_time + seconds)
        junction = truth.junction * self.idle * low
        self._junction += (junction - self._junction) * seconds / (truth.junction_time + seconds)

    def _swing(self, seconds: float, awake: float, plus: float, minus: float) -> None:
        """Give the output its offset: floating before the channel wakes, a kick as it does, then settled.

        With one rail missing the output goes halfway towards the other one, as soon as that passes 7 V.
        """
        truth = self.truth
        self._kick += truth.kick * max(0.0, awake - self._awake)
        self._kick -= self._kick * seconds / (truth.kick_time + seconds)
        self._awake = awake
        settled = truth.offset + self.offset_preset + truth.offset_drift * self._sink + self._kick
        settled += truth.input_leak * (self._leaked / 60.0) ** LEAK_EXPONENT
        settled += truth.sings_offset if self.singing else 0.0
        high, low = max(plus, minus), min(plus, minus)
        if high > 7.0 and low < 0.25 * high:
            target = 0.5 * (plus if plus > minus else -minus)
        else:
            target = awake * settled + (1.0 - awake) * 0.15 * low * (1.0 if truth.kick > 0.0 else -1.0)
        self._output += (target - self._output) * seconds / (0.03 + seconds)
