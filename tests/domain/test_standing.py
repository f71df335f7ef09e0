"""Where a value stands: limits, the meter's error, the other side, and when a part is replaced."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.kind import Kind
from benchlog.domain.quantity import Overload
from benchlog.domain.standing import (
    Rule,
    Side,
    Standing,
    agrees,
    expanded,
    idle_drops_agree,
    leads_agree,
    probability,
    replace_beyond,
    stand,
    too_coarse,
)

ERROR = 0.25 * math.sqrt(3)  # an expanded uncertainty of 0.5


@pytest.mark.parametrize(
    ("value", "side", "bench", "handover"),
    [
        (35.0, Side.INSIDE, True, True),
        (36.25, Side.INSIDE, True, True),
        (36.26, Side.INSIDE, True, False),
        (36.6, Side.INSIDE, False, False),
        (36.75, Side.INSIDE, False, False),
        (37.0, Side.ABOVE, False, False),
        (37.2, Side.ABOVE, True, False),
        (37.25, Side.ABOVE, True, False),
        (37.26, Side.ABOVE, True, True),
        (33.0, Side.BELOW, False, False),
        (32.7, Side.BELOW, True, True),
    ],
)
def test_each_rule_draws_its_own_margin(value: float, side: Side, bench: bool, handover: bool) -> None:
    assert stand(value, 33.25, 36.75, ERROR, Rule.BENCH) == Standing(side, bench)
    assert stand(value, 33.25, 36.75, ERROR, Rule.HANDOVER) == Standing(side, handover)


def test_an_unknown_error_is_never_sure_at_hand_over() -> None:
    assert stand(35.0, 33.25, 36.75, None, Rule.BENCH) == Standing(Side.INSIDE, True)
    assert stand(35.0, 33.25, 36.75, None, Rule.HANDOVER) == Standing(Side.INSIDE, False)
    assert stand(99.0, 33.25, 36.75, None, Rule.HANDOVER) == Standing(Side.ABOVE, False)


def test_open_ended_limits_hold() -> None:
    assert stand(5e6, 1e6, math.inf, 10.0, Rule.HANDOVER) == Standing(Side.INSIDE, True)
    assert stand(5e6, math.inf, math.inf, 10.0, Rule.BENCH) == Standing(Side.BELOW, True)


def test_probability_of_conformity_without_any_error_is_yes_or_no() -> None:
    assert probability(1.0, 0.0, 1.0, 0.0) == 1.0
    assert probability(1.1, 0.0, 1.0, 0.0) == 0.0


@given(st.floats(-100, 100), st.floats(0, 50), st.floats(0.001, 20))
def test_probability_is_a_share_and_falls_away_from_the_middle(
    value: float, width: float, error: float
) -> None:
    share = probability(value, -width, width, error)
    assert 0.0 <= share <= 1.0
    assert probability(value * 2, -width, width, error) <= share + 1e-12


def test_the_mirror_has_a_share_and_a_floor() -> None:
    assert agrees(9.84e3, 9.81e3, 0.05, "ohm")
    assert not agrees(9.2e3, 9.81e3, 0.05, "ohm")
    assert agrees(9.2e3, 9.81e3, 0.10, "ohm")
    assert agrees(0.42, 0.33, 0.05, "ohm")
    assert not agrees(0.42, 0.33, 0.05, "V")
    assert agrees(Overload.POSITIVE, Overload.POSITIVE, 0.05)
    assert not agrees(Overload.POSITIVE, Overload.NEGATIVE, 0.05)
    assert not agrees(Overload.POSITIVE, 1e9, 0.05, "ohm")
    assert not agrees(1e9, Overload.POSITIVE, 0.05, "ohm")


def test_both_lead_directions_and_both_drops_are_compared_by_share() -> None:
    assert leads_agree(100.0, 95.0)
    assert not leads_agree(100.0, 94.0)
    assert leads_agree(0.0, 0.0)
    assert idle_drops_agree(0.010, 0.013)
    assert not idle_drops_agree(0.010, 0.015)
    assert not idle_drops_agree(0.010, -0.010)
    assert not idle_drops_agree(0.010, 0.0)


@pytest.mark.parametrize(
    ("kind", "marked", "beyond"),
    [
        (Kind.RESISTOR, (-0.01, 0.01), (-0.02, 0.02)),
        (Kind.RESISTOR, (-0.05, 0.05), (-0.10, 0.10)),
        (Kind.RESISTOR, (-0.10, 0.10), (-0.10, 0.20)),
        (Kind.RESISTOR, (-0.20, 0.20), (-0.20, 0.20)),
        (Kind.EMITTER_RESISTOR, (-0.05, 0.05), (-0.10, 0.10)),
        (Kind.FILM, (-0.05, 0.05), (-0.10, 0.10)),
        (Kind.CAPACITOR, (-0.20, 0.80), (-0.20, 0.80)),
        (Kind.ELECTROLYTIC, (-0.20, 0.20), (-0.20, 0.30)),
        (Kind.ELECTROLYTIC, (-0.20, 0.50), (-0.20, 0.50)),
        (Kind.DIODE, (-0.05, 0.05), None),
        (None, (-0.05, 0.05), None),
    ],
)
def test_replace_beyond_is_never_tighter_than_the_marking(
    kind: Kind | None, marked: tuple[float, float], beyond: tuple[float, float] | None
) -> None:
    assert replace_beyond(kind, marked) == beyond


def test_a_third_of_the_tolerance_is_what_a_meter_may_be_off() -> None:
    assert not too_coarse(99.0, 101.0, 0.333)
    assert too_coarse(99.0, 101.0, 0.334)
    assert not too_coarse(1e6, math.inf, 1e9)
    assert expanded(ERROR) == 0.5
