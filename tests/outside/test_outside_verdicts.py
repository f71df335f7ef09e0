"""Meter errors, uncertainties and verdicts against published figures, one table a source."""

import math

import pytest
from helpers.outside import COMMON_PRACTICE, Source, row

from benchlog.domain.accuracy import FunctionError, MeterError
from benchlog.domain.expectation import Expectation
from benchlog.domain.judging import judge
from benchlog.domain.kind import Kind
from benchlog.domain.reading import Function
from benchlog.domain.standing import REPLACE_BEYOND, Rule, expanded, probability, replace_beyond
from benchlog.domain.verdict import Question, Verdict
from benchlog.instruments.decode import decoder
from benchlog.instruments.profile import find_profile
from benchlog.instruments.sheet import Sheet

BABATAHER = Source("multimeter data sheet with worked examples, babataher-shop.com")
GVDA = Source("multimeter data sheet with worked examples, gvda-instrument.com")
VICTOR = Source("multimeter data sheet with worked example, victorruoshui.com/newsinfo/72611")
KEYSIGHT = Source("Keysight 34401A data sheet p. 21, worked example of per cent of reading and of range")


@pytest.mark.parametrize(
    ("text", "reading", "half_width"),
    [
        row(BABATAHER, "±(1 % + 2@0.1)", 100.0, 1.2),
        row(BABATAHER, "±(0.5 % + 1@0.001)", 1.755, 0.009775),
        row(VICTOR, "±(0.08 % + 2@0.001)", 2.0, 0.0036),
        row(GVDA, "±(0.8 % + 2@0.1)", 100.0, 1.0),
        row(KEYSIGHT, "0.0020%+0.0005%@10", 5.0, 150e-6),
    ],
)
def test_a_data_sheet_gives_a_half_width(text: str, reading: float, half_width: float) -> None:
    assert MeterError.parse(text).half_width(reading) == pytest.approx(half_width, rel=1e-9)


@pytest.mark.parametrize(
    ("stated", "line", "half_width"),
    [
        row(BABATAHER, "1 % + 2 counts", "100.0 V DC", 1.2),
        row(BABATAHER, "0.5 % + 1", "1.755 V DC", 0.009775),
        row(VICTOR, "0.08 % + 2", "2.000 V DC", 0.0036),
        row(GVDA, "0.8 % + 2", "100.0 V DC", 1.0),
    ],
)
def test_counts_are_of_the_last_digit_shown(stated: str, line: str, half_width: float) -> None:
    volts = Function.VOLTS_DC
    handheld = find_profile("ascii-handheld")
    sheet = Sheet.of(handheld, {volts: MeterError.parse(stated)})
    reading = sheet.complete(decoder(handheld.reply)(line, volts, 0))
    assert reading.error == pytest.approx(half_width, rel=1e-9)


@pytest.mark.parametrize(
    ("stated", "value", "top", "half_width"),
    [row(KEYSIGHT, "0.0020 % of reading + 0.0005 % of range", 5.0, 10.0, 150e-6)],
)
def test_a_share_of_the_range_is_of_the_range_in_use(
    stated: str, value: float, top: float, half_width: float
) -> None:
    known = FunctionError("V", MeterError.parse(stated))
    assert known.of(value, None, top)[0] == pytest.approx(half_width, rel=1e-9)
    assert half_width / value == pytest.approx(30e-6)
    assert known.of(value)[0] is None


FLUKE = Source(
    "Fluke Calibration 2011, easymanua.ls/fluke/digital-multimeter/manual?p=41: with no distribution, spec over root 3"
)
GUM = Source("JCGM 100:2008 4.3.7, standard uncertainty of a rectangular distribution", follows=True)


@pytest.mark.parametrize(
    ("half_width", "standard"),
    [
        row(FLUKE, 1.0, 0.577350),
        row(GUM, 0.2625e-3, 0.151554e-3),
        row(GUM, 15.0e-6, 8.660254e-6),
    ],
)
def test_a_half_width_is_rectangular(half_width: float, standard: float) -> None:
    assert MeterError(fixed=half_width).standard(1.0) == pytest.approx(standard, rel=5e-6)
    assert expanded(half_width) == pytest.approx(2 * standard, rel=5e-6)


LVT = Source("decision rules after ILAC-G8:09/2019, lvt.com.tr karar-kurali")
ILAC = Source("ILAC-G8:09/2019 p. 8, guard band w = |TL - AL|, fliphtml5.com")
JCGM_106 = Source("JCGM 106:2012, pc as a difference of two normal distribution functions", follows=True)


@pytest.mark.parametrize(
    ("value", "low", "high", "standard", "conformity"),
    [
        row(JCGM_106, -5.47, -math.inf, -5.40, 0.05, 0.919243),
        row(JCGM_106, 509.7, 490.0, math.inf, 8.6, 0.989010),
        row(JCGM_106, 35.90, 33.25, 36.75, 0.25, 0.999663),
        row(JCGM_106, 36.60, 33.25, 36.75, 0.25, 0.725747),
        row(JCGM_106, 36.25, 33.25, 36.75, 0.25, 1 - 0.0227501),
    ],
)
def test_the_probability_of_conformity(
    value: float, low: float, high: float, standard: float, conformity: float
) -> None:
    assert probability(value, low, high, standard * math.sqrt(3)) == pytest.approx(conformity, abs=1e-6)


HARPER = Source("guard bands r x U and their claimed risk, HarperMetrology")


@pytest.mark.parametrize(
    ("share", "claimed"),
    [
        row(HARPER, 0.0, 0.5),
        row(HARPER, 0.83, 0.05),
        row(HARPER, 1.0, 0.025),
        row(HARPER, 1.5, 0.0016),
        row(HARPER, 3.0, 1e-6),
    ],
)
def test_the_risk_at_a_drawn_in_limit(share: float, claimed: float) -> None:
    standard = 1.0
    risk = 1 - probability(-share * 2 * standard, -math.inf, 0.0, standard * math.sqrt(3))
    assert risk <= claimed + 1e-12


@pytest.mark.parametrize(
    ("volts", "verdict"),
    [
        row(LVT, 35.90, Verdict.WITHIN),
        row(ILAC, 36.25, Verdict.WITHIN),
        row(LVT, 36.60, Verdict.UNDECIDED),
        row(LVT, 37.00, Verdict.UNDECIDED),
        row(LVT, 37.30, Verdict.HIGH),
    ],
)
def test_the_four_zones_of_a_guarded_limit(volts: float, verdict: Verdict) -> None:
    meter = MeterError(fixed=0.25 * math.sqrt(3))
    found = judge(Question(Expectation.parse("35 V 5%"), volts, meter_error=meter, rule=Rule.HANDOVER))
    assert found.verdict is verdict
    assert found.uncertainty == pytest.approx(0.5)


ISO_17025 = Source("ISO/IEC 17025 7.1.3, the decision rule is stated with the verdict, trollboken.se")


@pytest.mark.parametrize("rule", [row(ISO_17025, Rule.BENCH), row(ISO_17025, Rule.HANDOVER)])
def test_a_verdict_names_its_rule(rule: Rule) -> None:
    assert judge(Question(Expectation.parse("35 V 5%"), 35.0, rule=rule)).rule is rule


@pytest.mark.parametrize(
    ("marked", "low", "high"),
    [
        row(COMMON_PRACTICE, 0.01, -0.02, 0.02),
        row(COMMON_PRACTICE, 0.05, -0.10, 0.10),
        row(COMMON_PRACTICE, 0.10, -0.10, 0.20),
    ],
)
def test_the_default_beyond_which_a_resistor_is_replaced(marked: float, low: float, high: float) -> None:
    assert replace_beyond(Kind.RESISTOR, (-marked, marked)) == (low, high)
    assert any(shares == (low, high) for _, shares in REPLACE_BEYOND)
