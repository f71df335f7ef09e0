"""The trade's arithmetic against published figures: discharge, class B, junctions, idle current, lamps."""

import math

import pytest
from helpers.outside import COMMON_PRACTICE, Source, row

from benchlog.electronics import class_b, junction, tungsten
from benchlog.electronics.discharging import energy, time_to
from benchlog.electronics.idle import current, loop_gain, oliver, uncertainty
from benchlog.electronics.lamp import Lamp, fitted, in_series, looks, recommended

RC = Source("exponential discharge through a resistor, t = RC ln(V0/V)", follows=True)
BOYLESTAD = Source("Boylestad, Electronic Devices and Circuit Theory, example 12.8 (holooly.com)")
CLASS_B = Source("class-B dissipation 2 V^2 / (pi^2 R)", follows=True)
HEAT = Source("waynestegall.com/audio/thermaldesign.htm")
TIP31 = Source("dropdoc.ru/doc/754049, TIP31 on a heat sink, unrounded")
SUM = Source("junction temperature as a sum of thermal resistances", follows=True)
DERATING = Source("onsemi 2N3055A/D, rating and derating", follows=True)
SI = Source("k and q, exact in the SI", follows=True)
OLIVER = Source(
    "Oliver, Hewlett-Packard Journal, February 1971 (hifisonix.com/cross-over-distortion)", follows=True
)
BUDGET = Source("JCGM 100:2008, rectangular half-widths", follows=True)
LOOP = Source("thermal loop gain of an output device without bias tracking", follows=True)
FORSYTHE = Source("Forsythe and Worthing 1925, resistivity of tungsten")
FORSYTHE_RATIO = Source("Forsythe and Worthing 1925, resistivity of tungsten, ratio to 300 K", follows=True)
RERATING = Source("lamp rerating powers (Welch Allyn 2007; Fink and Beaty 1978, p. 22-8)", follows=True)
MEASURED_LAMP = Source("New Phys.: Sae Mulli 73 (2023) 127, table 2", follows=True)


@pytest.mark.parametrize(
    ("farads", "ohms", "start", "end", "seconds"),
    [
        row(RC, 0.010, 1000.0, 63.0, 5.0, 25.3370),
        row(RC, 0.010, 1000.0, 63.0, 1.0, 41.4313),
        row(RC, 0.010, 1000.0, 50.0, 1.0, 39.1202),
        row(RC, 0.010, 100.0, 63.0, 5.0, 2.53370),
        row(RC, 100e-6, 20e3, 400.0, 50.0, 4.15888),
    ],
)
def test_time_of_discharge(farads: float, ohms: float, start: float, end: float, seconds: float) -> None:
    assert time_to(start, ohms, farads, end) == pytest.approx(seconds, rel=1e-5)


@pytest.mark.parametrize(
    ("farads", "volts", "joules"),
    [row(RC, 0.010, 63.0, 19.845), row(RC, 0.010, 50.0, 12.5), row(RC, 100e-6, 400.0, 8.0)],
)
def test_energy(farads: float, volts: float, joules: float) -> None:
    assert energy(farads, volts) == pytest.approx(joules)


@pytest.mark.parametrize(
    ("rail", "load", "given", "worst"),
    [
        row(BOYLESTAD, 30.0, 16.0, 28.125, 11.399),
        row(CLASS_B, 40.0, 8.0, 100.0, 40.528),
        row(CLASS_B, 50.0, 8.0, 156.25, 63.326),
    ],
)
def test_heat_of_an_output_stage(rail: float, load: float, given: float, worst: float) -> None:
    full, hottest = class_b.full(rail, load), class_b.worst(rail, load)
    assert full.given == pytest.approx(given)
    assert full.given / full.taken == pytest.approx(math.pi / 4.0)
    assert hottest.left == pytest.approx(worst, rel=5e-5)
    # There as much reaches the load as stays in the devices, at 2/pi of the rail.
    assert hottest.given == pytest.approx(hottest.left)
    assert hottest.peak == pytest.approx(2.0 * rail / math.pi)


@pytest.mark.parametrize(("peak", "taken", "left"), [row(HEAT, 23.3238, 103.939, 35.9387)])
def test_heat_at_an_output(peak: float, taken: float, left: float) -> None:
    found = class_b.at_output(28.0, 4.0, 68.0)
    assert (found.peak, found.taken, found.left) == pytest.approx((peak, taken, left), rel=1e-5)


@pytest.mark.parametrize(
    ("watts", "air", "parts", "found"),
    [
        row(HEAT, 35.9387, 25.0, (1.0, 0.2, 1.58252), (81.874, 89.061, 125.000)),
        row(TIP31, 3.9, 25.0, (3.125, 0.0, 13.0), (75.7, 75.7, 87.8875)),
        row(SUM, 30.0, 40.0, (1.52, 0.36, 0.80), (64.0, 74.8, 120.4)),
    ],
)
def test_junction_temperature(
    watts: float, air: float, parts: tuple[float, float, float], found: tuple[float, float, float]
) -> None:
    case, insulator, sink = parts
    told = junction.temperatures(watts, air, case=case, insulator=insulator, sink=sink)
    assert (told.sink, told.case, told.junction) == pytest.approx(found, rel=1e-5)


@pytest.mark.parametrize(("air", "sink"), [row(HEAT, 25.0, 2.27814), row(HEAT, 50.0, 1.58252)])
def test_heat_sink_needed(air: float, sink: float) -> None:
    assert junction.sink_needed(35.9387, air, 150.0, case=1.0, insulator=0.2) == pytest.approx(sink, rel=1e-5)


@pytest.mark.parametrize(
    ("case", "watts"), [row(DERATING, 25.0, 115.0), row(DERATING, 100.0, 65.725), row(DERATING, 250.0, 0.0)]
)
def test_derating(case: float, watts: float) -> None:
    assert junction.derated(115.0, 0.657, case) == pytest.approx(watts)


@pytest.mark.parametrize(
    ("celsius", "millivolts"),
    [
        row(SI, 0.0, 23.5382),
        row(SI, 20.0, 25.2617),
        row(SI, 25.0, 25.6926),
        row(SI, 60.0, 28.7086),
        row(SI, 100.0, 32.1556),
    ],
)
def test_thermal_voltage(celsius: float, millivolts: float) -> None:
    assert junction.thermal_volts(celsius) * 1e3 == pytest.approx(millivolts, rel=2e-6)


@pytest.mark.parametrize("n", [row(SI, 0.997306)])
def test_emission_coefficient(n: float) -> None:
    assert junction.emission((0.600, 0.718), (1e-3, 0.1)) == pytest.approx(n, rel=1e-6)


@pytest.mark.parametrize(
    ("emitter", "inner", "milliamps"),
    [
        row(OLIVER, 0.10, 0.0, 260.0),
        row(OLIVER, 0.15, 0.0, 173.33),
        row(OLIVER, 0.22, 0.0, 118.18),
        row(OLIVER, 0.33, 0.0, 78.79),
        row(OLIVER, 0.47, 0.0, 55.32),
        row(OLIVER, 0.68, 0.0, 38.24),
        row(OLIVER, 0.10, 0.05, 173.33),
        row(OLIVER, 0.22, 0.05, 96.30),
        row(OLIVER, 0.33, 0.05, 68.42),
        row(OLIVER, 0.68, 0.05, 35.62),
    ],
)
def test_idle_current_of_least_crossover_distortion(emitter: float, inner: float, milliamps: float) -> None:
    assert oliver(emitter, inner) * 1e3 == pytest.approx(milliamps, rel=2e-4)


@pytest.mark.parametrize(("low", "amps", "high"), [row(BUDGET, 54.113e-3, 56.818e-3, 59.809e-3)])
def test_current_from_a_drop(low: float, amps: float, high: float) -> None:
    found = current(12.5e-3, 0.22, tolerance=0.05)
    assert (found.low, found.amps, found.high) == pytest.approx((low, amps, high), rel=1e-5)
    assert current(25e-3, 0.22, across_both=True).amps == pytest.approx(amps, rel=1e-5)


@pytest.mark.parametrize("amps", [row(BUDGET, 3.558e-3)])
def test_uncertainty_of_an_idle_current(amps: float) -> None:
    assert uncertainty(12.5e-3, 0.005 * 12.5e-3 + 2 * 0.1e-3, 0.22, 0.05) == pytest.approx(amps, rel=1e-4)


@pytest.mark.parametrize(("emitter", "gain"), [row(LOOP, 0.22, 0.48727), row(LOOP, 0.0, 0.97455)])
def test_thermal_loop_gain(emitter: float, gain: float) -> None:
    assert loop_gain(2.68, 40.0, 0.22, emitter) == pytest.approx(gain, rel=1e-5)


@pytest.mark.parametrize(
    ("kelvin", "micro_ohm_cm"),
    [row(FORSYTHE, 300.0, 5.65), row(FORSYTHE, 2800.0, 84.70), row(FORSYTHE, 3600.0, 115.0)],
)
def test_resistivity_of_tungsten(kelvin: float, micro_ohm_cm: float) -> None:
    assert tungsten.resistivity(kelvin) == pytest.approx(micro_ohm_cm)


@pytest.mark.parametrize(
    ("kelvin", "ratio"),
    [
        row(FORSYTHE_RATIO, 500.0, 1.869),
        row(FORSYTHE_RATIO, 1000.0, 4.412),
        row(FORSYTHE_RATIO, 1500.0, 7.143),
        row(FORSYTHE_RATIO, 2000.0, 10.030),
        row(FORSYTHE_RATIO, 2500.0, 13.081),
        row(FORSYTHE_RATIO, 2800.0, 14.991),
        row(FORSYTHE_RATIO, 3000.0, 16.290),
    ],
)
def test_resistance_of_a_hot_filament(kelvin: float, ratio: float) -> None:
    assert tungsten.ratio(kelvin) == pytest.approx(ratio, rel=1e-4)
    assert tungsten.kelvin(tungsten.ratio(kelvin)) == pytest.approx(kelvin)


@pytest.mark.parametrize(
    ("watts", "volts", "cold", "inrush", "quarter", "half", "three_quarters"),
    [
        row(RERATING, 100.0, 230.0, 35.287, 9.218, 0.202833, 0.296965, 0.371155),
        row(RERATING, 60.0, 120.0, 16.009, 10.600, 0.233258, 0.341510, 0.426829),
        row(RERATING, 100.0, 120.0, 9.6057, 17.667, 0.388764, 0.569183, 0.711381),
    ],
)
def test_a_lamp(
    watts: float, volts: float, cold: float, inrush: float, quarter: float, half: float, three_quarters: float
) -> None:
    lamp = Lamp(watts, volts)
    assert lamp.cold_ohms == pytest.approx(cold, rel=1e-4)
    assert lamp.inrush == pytest.approx(inrush, rel=1e-4)
    currents = [lamp.current(share * volts) for share in (0.25, 0.5, 0.75, 1.0)]
    assert currents == pytest.approx([quarter, half, three_quarters, watts / volts], rel=1e-5)
    assert lamp.across(half) == pytest.approx(volts / 2.0, rel=1e-5)
    kelvin = [lamp.kelvin(share * volts) for share in (0.25, 0.5, 0.75)]
    assert kelvin == pytest.approx([1657.0, 2157.0, 2514.0], abs=1.0)


@pytest.mark.parametrize(
    ("watts", "volts", "ohms", "across", "amps"),
    [
        row(RERATING, 100.0, 230.0, 0.0, 230.0, 0.43478),
        row(RERATING, 100.0, 230.0, 100.0, 190.771, 0.39229),
        row(RERATING, 100.0, 230.0, 529.0, 91.481, 0.26185),
        row(RERATING, 100.0, 230.0, 1000.0, 47.468, 0.18253),
        row(RERATING, 100.0, 230.0, 2000.0, 17.714, 0.10614),
        row(RERATING, 60.0, 120.0, 100.0, 79.996, 0.40004),
        row(RERATING, 60.0, 120.0, 2000.0, 2.447, 0.05878),
    ],
)
def test_a_lamp_in_series(watts: float, volts: float, ohms: float, across: float, amps: float) -> None:
    lamp = Lamp(watts, volts)
    found = in_series(lamp, volts, lambda u: u / ohms if ohms else math.inf)
    assert found == pytest.approx(across, abs=1e-3)
    assert lamp.current(found) == pytest.approx(amps, abs=1e-5)


@pytest.mark.parametrize(
    ("points", "exponent"), [row(MEASURED_LAMP, 7, 0.377095), row(MEASURED_LAMP, 5, 0.467075)]
)
def test_the_exponent_of_a_measured_lamp(points: int, exponent: float) -> None:
    volts = (0.262, 0.449, 1.016, 1.527, 2.012, 2.464, 2.948)
    amps = (0.130, 0.153, 0.198, 0.236, 0.270, 0.298, 0.325)
    found, error = fitted(volts[-points:], amps[-points:])
    assert found == pytest.approx(exponent, abs=1e-6)
    assert 0.0 < error < 0.05


@pytest.mark.parametrize(
    ("watts", "channels", "class_a", "begin", "largest"),
    [
        row(COMMON_PRACTICE, 0.0, 2, False, 40.0, 60.0),
        row(COMMON_PRACTICE, 10.0, 2, False, 40.0, 60.0),
        row(COMMON_PRACTICE, 40.0, 2, False, 60.0, 100.0),
        row(COMMON_PRACTICE, 100.0, 2, False, 100.0, 150.0),
        row(COMMON_PRACTICE, 150.0, 2, False, 100.0, 200.0),
        row(COMMON_PRACTICE, 20.0, 2, True, 100.0, 200.0),
    ],
)
def test_the_lamp_to_begin_with(
    watts: float, channels: int, class_a: bool, begin: float, largest: float
) -> None:
    found = recommended(watts, channels, class_a=class_a)
    assert (found.begin, found.largest) == (begin, largest)


@pytest.mark.parametrize(
    ("share", "word"),
    [
        row(COMMON_PRACTICE, 0.05, "dark"),
        row(COMMON_PRACTICE, 0.55, "half bright"),
        row(COMMON_PRACTICE, 0.98, "full"),
    ],
)
def test_how_bright_a_lamp_looks(share: float, word: str) -> None:
    assert looks(share) == word
