"""Re-forming by the drop across its resistor: time to the target, a plateau, and a current that rises."""

import math

import numpy as np
import pytest

from benchlog.electronics.asked import Progress
from benchlog.electronics.reforming import hopeless, leakage, reform

OHMS = 10e3
T = np.arange(0.0, 1800.0, 2.0)


def drop(amps: np.ndarray, seed: int = 2) -> np.ndarray:
    rough = amps * OHMS + np.random.default_rng(seed).normal(0.0, 2e-3, len(amps))
    return np.round(rough, 3)


def test_current_is_the_drop_over_the_resistor() -> None:
    assert leakage([1.0, 22.0], OHMS) == pytest.approx([1e-4, 2.2e-3])


def test_time_to_the_target() -> None:
    found = reform(T, drop(0.1e-3 + 1.9e-3 * np.exp(-T / 900.0)), OHMS, 0.2e-3, digit=1e-3)
    assert found.state is Progress.FALLING
    assert found.to_target is not None
    truth = 900.0 * math.log(1.9 / 0.1) - T[-1]
    assert found.to_target.low < truth < found.to_target.high
    assert found.to_target.high < 1.5 * found.to_target.low


def test_what_heads_for_more_than_the_target_is_not_improving() -> None:
    found = reform(T, drop(0.5e-3 + 1.5e-3 * np.exp(-T / 300.0)), OHMS, 0.2e-3, digit=1e-3)
    assert (found.state, found.to_target) == (Progress.PLATEAU, None)
    flat = reform(T, drop(np.full(len(T), 0.5e-3)), OHMS, 0.2e-3, digit=1e-3)
    assert (flat.state, flat.to_target) == (Progress.PLATEAU, None)


def test_a_rising_current_is_told_at_once() -> None:
    t = T[T < 300.0]
    falls, rises = 2e-3 * np.exp(-t / 100.0), 0.1e-3 * np.exp(t / 90.0)
    found = reform(t, drop(falls + rises), OHMS, 0.2e-3, digit=1e-3)
    assert (found.state, found.to_target) == (Progress.RISING, None)


def test_low_enough_and_too_little() -> None:
    assert reform(T, drop(np.full(len(T), 0.1e-3)), OHMS, 0.2e-3, digit=1e-3).state is Progress.REACHED
    assert reform(T[:4], drop(np.full(4, 1e-3)), OHMS, 0.2e-3).state is Progress.UNKNOWN
    assert math.isnan(reform([], [], OHMS, 0.2e-3).amps)


def test_slowly_falling_has_no_time() -> None:
    found = reform(T, drop(3e-3 - 3e-7 * T), OHMS, 0.2e-3, digit=1e-3)
    assert (found.state, found.to_target) == (Progress.FALLING, None)
    assert found.why


def test_an_hour_without_success_is_hopeless() -> None:
    assert hopeless(5.0, 40.0, 3700.0)
    assert not hopeless(3.0, 40.0, 3700.0)
    assert not hopeless(5.0, 40.0, 600.0)
