"""The limits: what the meter can tell, hand-over, drift, and likeness to the other side."""

import math

import pytest
from helpers.asking import ask, word

from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.kind import Kind
from benchlog.domain.reading import Function
from benchlog.domain.standing import Rule
from benchlog.domain.verdict import Judgement, Verdict


def test_inside_is_within_and_says_so_in_one_sentence() -> None:
    found = ask("4k7 5%", 4680.0, "0.5%+2@1")
    assert found.verdict is Verdict.WITHIN
    assert found.reason == "4.68 kΩ is inside 4.465 to 4.935 kΩ."
    assert (found.rule, found.value, found.low, found.high) == (Rule.BENCH, 4680.0, 4465.0, 4935.0)
    assert found.uncertainty == pytest.approx(2 * 25.4 / math.sqrt(3))
    assert found.probability == pytest.approx(1.0)
    assert not found.near_limit
    assert not found.notes


def test_exactly_on_the_limit_is_inside_whatever_binary_arithmetic_says() -> None:
    assert word("3k3 10%", 3630.0) is Verdict.WITHIN
    assert 3300 * 1.1 != 3630.0


def test_an_unknown_error_stays_unknown_and_says_so() -> None:
    found = ask("4k7 5%", 4680.0)
    assert found.uncertainty is None
    assert found.probability is None
    assert found.reason == "4.68 kΩ is inside 4.465 to 4.935 kΩ; the meter's error is not known."
    assert "the meter's error is not known" in ask("12..15 mV", 0.02).reason
    assert "the meter's error is not known" in ask("4k7 5%", 5000.0).reason


def test_inside_but_near_the_limit_has_a_second_pip() -> None:
    found = ask("0.33 5%", 0.341, "8m", kind=Kind.RESISTOR, function=Function.OHMS_4W)
    assert found.verdict is Verdict.WITHIN
    assert found.near_limit
    assert "The limit is nearer than the meter's error." in found.notes


def test_outside_by_less_than_the_error_is_undecided() -> None:
    found = ask("12..15 mV", 0.0151, "0.5%+2@0.1mV")
    assert found.verdict is Verdict.UNDECIDED
    assert found.reason == "The meter's error, 0.276 mV, reaches past 15 mV."
    assert word("12..15 mV", 0.0119, "0.5%+2@0.1mV") is Verdict.UNDECIDED
    assert word("12..15 mV", 0.016, "0.5%+2@0.1mV") is Verdict.HIGH
    assert word("12..15 mV", 0.011, "0.5%+2@0.1mV") is Verdict.LOW


def test_a_meter_too_coarse_for_the_part_says_so() -> None:
    assert "This meter cannot judge 1 % parts." in ask("4k7 1%", 4700.0, "0.5%").notes
    assert "This meter cannot judge limits as narrow as these." in ask("12..13 mV", 0.0125, "1mV").notes
    assert not ask("4k7 5%", 4700.0, "0.5%").notes


def test_a_wrong_sign_is_named() -> None:
    found = ask("-38 V 10%", 38.9, "1%")
    assert (found.verdict, found.reason) == (
        Verdict.HIGH,
        "38.9 V has the wrong sign: see whether the leads are swapped.",
    )
    assert ask("38 V 10%", -38.9).reason == "-38.9 V has the wrong sign: see whether the leads are swapped."
    assert word("-38 V 10%", 0.0) is Verdict.HIGH
    assert word("-38 V 10%", -38.9) is Verdict.WITHIN


def test_near_zero_the_tolerance_is_absolute() -> None:
    assert word("0 V +/-20 mV", -0.018) is Verdict.WITHIN
    assert word("0 V +/-20 mV", -0.022) is Verdict.LOW


def test_at_hand_over_the_limits_are_drawn_in() -> None:
    def at(value: float) -> Judgement:
        return ask("35 V 5%", value, "0.4330127018922193", rule=Rule.HANDOVER)

    assert at(35.9).verdict is Verdict.WITHIN
    assert (
        at(35.9).reason
        == "35.9 V is inside 33.25 to 36.75 V, also with 0.5 V drawn in at each limit (k = 2)."
    )
    assert at(36.6).verdict is Verdict.UNDECIDED
    assert "but nearer to the limit than the uncertainty of 0.5 V (k = 2)" in at(36.6).reason
    assert at(37.0).verdict is Verdict.UNDECIDED
    assert "but by less than the uncertainty of 0.5 V (k = 2)" in at(37.0).reason
    assert at(37.3).verdict is Verdict.HIGH
    assert at(37.3).reason == "37.3 V is above 36.75 V by more than the uncertainty of 0.5 V (k = 2)."
    assert at(30.0).verdict is Verdict.LOW
    assert {at(v).rule for v in (35.9, 36.6, 37.0, 37.3)} == {Rule.HANDOVER}


def test_without_a_known_error_a_hand_over_figure_is_undecided() -> None:
    for value in (35.0, 99.0):
        found = ask("35 V 5%", value, rule=Rule.HANDOVER)
        assert found.verdict is Verdict.UNDECIDED
        assert found.reason == "The meter's error is not known, and a hand-over figure needs it."


def test_a_hand_over_knows_no_drift() -> None:
    assert word("4k7 5%", 5000.0, "1 ohm") is Verdict.DRIFTED
    assert word("4k7 5%", 5000.0, "1 ohm", rule=Rule.HANDOVER) is Verdict.HIGH


def test_between_marking_and_replace_beyond_a_part_has_drifted() -> None:
    found = ask("4k7 5%", 5000.0, "1 ohm")
    assert found.verdict is Verdict.DRIFTED
    assert found.reason == "5 kΩ is outside 4.465 to 4.935 kΩ, but not past 5.17 kΩ: it can stay."
    assert found.notes == ("Taken for a resistor.",)
    assert not ask("4k7 5%", 5000.0, "1 ohm", kind=Kind.RESISTOR).notes
    assert word("4k7 5%", 5200.0, "1 ohm") is Verdict.HIGH
    assert word("4k7 10%", 5500.0, "1 ohm") is Verdict.DRIFTED
    assert word("4k7 10%", 4200.0, "1 ohm") is Verdict.LOW
    assert word("4k7 1%", 4780.0, "1 ohm") is Verdict.DRIFTED
    assert word("4k7 1%", 4800.0, "1 ohm") is Verdict.HIGH
    assert word("100n 5%", 108e-9, "100p", kind=Kind.FILM) is Verdict.DRIFTED
    assert word("100n 5%", 92e-9, kind=Kind.FILM) is Verdict.DRIFTED


def test_where_it_would_be_replaced_the_meter_may_not_be_able_to_tell() -> None:
    found = ask("4k7 5%", 5180.0, "20 ohm")
    assert found.verdict is Verdict.UNDECIDED
    assert found.reason.endswith(
        "but the meter's error, 20 Ω, reaches past 5.17 kΩ where it would be replaced."
    )


def test_a_sheet_may_say_what_is_replaced() -> None:
    assert word("4k7 5%", 5000.0, kind=Kind.RESISTOR, replace_beyond=(-0.06, 0.06)) is Verdict.HIGH
    assert word("4k7 5%", 4920.0, kind=Kind.RESISTOR, replace_beyond=(-0.01, 0.01)) is Verdict.WITHIN


def test_limits_of_a_voltage_have_nothing_to_drift_into() -> None:
    assert word("38 V 10%", 43.0) is Verdict.HIGH
    assert word("38 V 10%", 43.0, kind=Kind.RESISTOR) is Verdict.HIGH
    assert word("5V1 5%", 5.5, kind=Kind.ZENER) is Verdict.HIGH


def test_likeness_to_the_other_side_is_never_called_within() -> None:
    like = Expectation.around(4700.0, "ohm", (-0.05, 0.05), Origin.MIRROR)
    assert word(like, 4690.0) is Verdict.AS_OTHER_SIDE
    assert word(like, 5200.0) is Verdict.UNDECIDED
    assert word(like, 3000.0, in_circuit=True) is Verdict.UNPROVEN
