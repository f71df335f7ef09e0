"""Losses, leakage, junctions and insulation against published figures, one table a source."""

import math

import pytest
from helpers.outside import COMMON_PRACTICE, Source, row

from benchlog.domain.capacitors import (
    GOOD_ESR,
    SAME_FREQUENCY,
    d_limit,
    esr_limit,
    esr_of,
    leakage_limit,
    leakage_minutes,
    series_farads,
)
from benchlog.domain.kind import USUAL_TOLERANCE, Kind
from benchlog.domain.measures import measure_of

LELON = Source(
    "Lelon RGA data sheet, m.eeworld.com.cn RGA223M1ATR1840T: tan delta at 120 Hz and 20 degC, leakage"
)
LELON_FOLLOWS = Source(LELON.name, follows=True)
CHEMI_CON = Source("chemi-con.co.jp FAQ alLeakageCurrentVsTime: 770 uA printed for 2200 uF 35 V")
SERIES_MODEL = Source(
    "tan delta = 2 pi f C ESR, Cp = Cs / (1 + tan2 delta): the series model's own definitions", follows=True
)
UNI_T = Source("meter manuals: UNI-T UT20B p. 17, Minipa ET-3702A p. 36: good silicon 0.5 to 0.8 V")
SERVICE_SHEET = Source(
    "service sheet, manualshive.com/3799503?page=10: collector to sink 100 kilohm or more, any common link off"
)
BENCH_PAGE = Source(
    "api.pouncer.ai/how-do-you-test-a-transformer-output: primary to chassis above 1 megohm, below 100 kilohm bad"
)
ISO_TECH = Source("Iso-Tech IDM97 manual p. 20: 0.400 to 0.900 V, short reads 000, open OL")


@pytest.mark.parametrize(
    ("volts", "limit"),
    [
        row(LELON, volts, limit)
        for volts, limit in zip(
            (6.3, 10, 16, 25, 35, 50, 63, 100, 160, 200, 250, 350, 400, 450),
            (0.23, 0.20, 0.16, 0.14, 0.12, 0.10, 0.09, 0.08, 0.12, 0.14, 0.17, 0.20, 0.25, 0.25),
            strict=True,
        )
    ],
)
def test_the_highest_d_at_120_hz_by_rated_voltage(volts: float, limit: float) -> None:
    assert d_limit(470e-6, volts) == limit


@pytest.mark.parametrize(
    ("farads", "volts", "limit", "ohms"),
    [row(LELON_FOLLOWS, 4700e-6, 63.0, 0.164, 0.0463), row(LELON_FOLLOWS, 1000e-6, 63.0, 0.09, 0.119366)],
)
def test_above_a_thousand_microfarads_the_limit_rises_by_a_slope(
    farads: float, volts: float, limit: float, ohms: float
) -> None:
    assert d_limit(farads, volts) == pytest.approx(limit)
    assert esr_limit(farads, volts, 120.0) == pytest.approx(ohms, rel=1e-3)


@pytest.mark.parametrize(
    ("farads", "hertz", "d", "ohms"),
    [
        row(SERIES_MODEL, 10e-3, 120.0, 0.20, 0.0265258),
        row(SERIES_MODEL, 10e-3, 100.0, 0.20, 0.0318310),
        row(SERIES_MODEL, 1e-3, 120.0, 0.09, 0.119366),
        row(SERIES_MODEL, 100e-9, 1e3, 0.001, 1.591549),
        row(SERIES_MODEL, 2.2e-6, 1e3, 0.01, 0.723432),
    ],
)
def test_the_series_resistance_of_a_d(farads: float, hertz: float, d: float, ohms: float) -> None:
    assert esr_of(d, farads, hertz) == pytest.approx(ohms, rel=1e-5)


@pytest.mark.parametrize(
    ("series", "d", "parallel"),
    [
        row(SERIES_MODEL, 10e-6, 0.1, 9.900990e-6),
        row(SERIES_MODEL, 10e-6, 0.5, 8.0e-6),
        row(SERIES_MODEL, 100e-6, 0.2, 96.15385e-6),
    ],
)
def test_the_series_capacitance_of_a_parallel_one(series: float, d: float, parallel: float) -> None:
    assert series_farads(parallel, d) == pytest.approx(series, rel=1e-6)


@pytest.mark.parametrize(
    ("farads", "volts", "microamps", "minutes"),
    [
        row(CHEMI_CON, 2200e-6, 35.0, 770.0, 2.0),
        row(LELON_FOLLOWS, 1000e-6, 63.0, 630.0, 2.0),
        row(LELON_FOLLOWS, 1e-6, 50.0, 3.0, 2.0),
        row(LELON_FOLLOWS, 1e-6, 400.0, 27.0, 5.0),
        row(LELON_FOLLOWS, 100e-6, 400.0, 825.0, 5.0),
    ],
)
def test_the_highest_leakage_and_when_it_holds(
    farads: float, volts: float, microamps: float, minutes: float
) -> None:
    assert leakage_limit(farads, volts) * 1e6 == pytest.approx(microamps)
    assert leakage_minutes(volts) == minutes


@pytest.mark.parametrize(
    ("kind", "word", "limits"),
    [
        row(UNI_T, Kind.TRANSISTOR, "be", "0.5..0.8 V"),
        row(UNI_T, Kind.TRANSISTOR, "bc", "0.5..0.8 V"),
        row(ISO_TECH, Kind.DIODE, "", "0.4..0.9 V"),
        row(ISO_TECH, Kind.BRIDGE, "a+", "0.4..0.9 V"),
        row(SERVICE_SHEET, Kind.INSULATION, "", "> 100k"),
        row(BENCH_PAGE, Kind.WINDING, "chassis", "> 1M"),
        row(COMMON_PRACTICE, Kind.TRANSISTOR, "ce", "OL"),
        row(COMMON_PRACTICE, Kind.CONTACT, "", "0..50 mohm"),
        row(COMMON_PRACTICE, Kind.BIAS_PACKAGE, "", "1.2..1.8 V"),
    ],
)
def test_the_limits_of_any_good_part_of_a_kind(kind: Kind, word: str, limits: str) -> None:
    measure = measure_of(kind, word)
    assert measure.limits == limits
    assert measure.source


@pytest.mark.parametrize(
    "case", [row(COMMON_PRACTICE, "typical ESR"), row(COMMON_PRACTICE, "controls to 20 %")]
)
def test_defaults_that_nobody_published(case: str) -> None:
    if case == "typical ESR":
        # Between two values the ESR falls by both logarithms: 220 uF lies between 100 and 1000.
        assert esr_limit(220e-6, None, 1e3) == pytest.approx(3 * 0.5 * (0.2 ** math.log10(2.2)))
        assert esr_limit(GOOD_ESR[-1][0] * 2, None, 1e5) == pytest.approx(3 * 0.03)
        assert esr_limit(100e-6, None, 500.0) is None
        assert SAME_FREQUENCY > 120 / 100
    else:
        assert USUAL_TOLERANCE[Kind.POTENTIOMETER] == (-0.2, 0.2)
