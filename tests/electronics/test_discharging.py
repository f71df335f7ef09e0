"""A reservoir's time to 5 V and 1 V: along one curve to nothing only, and never that it is discharged."""

import math

import numpy as np
import pytest

from benchlog.electronics.decay import NOT_ONE, TOO_LITTLE
from benchlog.electronics.discharging import NOT_FALLING, discharge, rebound

T = np.arange(0.0, 20.0, 0.33)


def rounded(values: np.ndarray, noise: float = 0.005) -> np.ndarray:
    rough = values + np.random.default_rng(3).normal(0.0, noise, len(values))
    return np.round(rough, 2)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_through_a_bleeder(sign: float) -> None:
    found = discharge(T, sign * rounded(44.0 * np.exp(-T / 22.0)), digit=0.01)
    assert found.good
    for level, span in found.times.items():
        assert span.low < 22.0 * math.log(44.0 / level) - T[-1] < span.high
        assert span.high < 1.3 * span.low
    assert found.tau == pytest.approx(22.0, rel=0.02)


def test_an_idle_current_makes_a_straight_fall_of_it_and_nothing_is_foretold() -> None:
    t = T[T < 4.0]
    found = discharge(t, rounded(44.0 - 9.0 * t), digit=0.01)
    assert (dict(found.times), found.why) == ({}, NOT_ONE)


def test_once_the_idle_current_is_asleep_the_bleeder_is_followed() -> None:
    volts = np.where(T < 4.0, 44.0 - 8.5 * T, 10.0 * np.exp(-(T - 4.0) / 22.0))
    found = discharge(T, rounded(volts), digit=0.01)
    assert found.good, found.why
    truth = 4.0 + 22.0 * math.log(10.0) - T[-1]
    assert found.times[1.0].low < truth < found.times[1.0].high


def test_what_stands_is_not_foretold() -> None:
    assert discharge(T, rounded(np.full(len(T), 44.0)), digit=0.01).why == NOT_FALLING
    assert discharge(T, rounded(44.0 * np.exp(-T / 150.0)), digit=0.01).why == TOO_LITTLE
    assert discharge(T[:4], rounded(T[:4]), digit=0.01).why == TOO_LITTLE


def test_what_is_below_a_level_takes_no_time_to_it() -> None:
    found = discharge(T, rounded(9.0 * np.exp(-T / 12.0)), digit=0.01)
    assert found.times[5.0].best == 0.0
    assert found.times[1.0].best > 0.0


def test_charge_that_comes_back() -> None:
    t = np.arange(0.0, 200.0, 1.0)
    volts = rounded(2.0 * (1.0 - np.exp(-t / 60.0)))
    found = rebound(t, volts, 50.0, digit=0.01)
    assert found.settling.value is not None
    assert found.settling.value.low < 2.0 < found.settling.value.high
    assert found.share == pytest.approx(0.04, abs=0.002)
    assert found.usual
    # A quarter of it is no dielectric: something feeds it.
    assert not rebound(t, volts, 8.0, digit=0.01).usual
    assert math.isnan(rebound(t[:5], volts[:5], 8.0).share)
