"""A trace between two moments, against numpy, and with readings that carry no number."""

import numpy as np
import pytest

from benchlog.domain.between import Between, Floats, Times, between

S = 1_000_000_000


def found(t: Floats, value: Floats, *cuts: int) -> Between:
    """What the readings come to, handed in in pieces."""
    ns: Times = np.round(t * S).astype(np.int64)
    return between(zip(np.split(ns, cuts), np.split(value, cuts), strict=True))


@pytest.mark.parametrize("cuts", [(), (350,), (0, 1, 2, 300, 300, 699), tuple(range(0, 700, 7))])
@pytest.mark.parametrize("seed", range(3))
def test_it_agrees_with_numpy(seed: int, cuts: tuple[int, ...]) -> None:
    rng = np.random.default_rng(seed)
    t = 1e5 + np.sort(rng.uniform(0.0, 3600.0, 700))
    value = 44.0 + 0.001 * t + rng.normal(0.0, 0.3, len(t))
    value[rng.integers(0, len(t), 60)] = np.nan
    numbers, times = value[np.isfinite(value)], t[np.isfinite(value)]
    made = found(t, value, *cuts)
    assert (made.count, made.missing) == (len(numbers), int(np.isnan(value).sum()))
    assert made.missing > 0
    assert made.mean == pytest.approx(np.mean(numbers), rel=1e-12)
    assert made.spread == pytest.approx(np.std(numbers, ddof=1), rel=1e-10)
    assert (made.lowest, made.highest) == (np.min(numbers), np.max(numbers))
    assert made.difference == pytest.approx(numbers[-1] - numbers[0], rel=1e-12)
    assert made.slope == pytest.approx(np.polyfit(times - times[0], numbers, 1)[0], rel=1e-7)


def test_a_small_spread_far_from_nothing_is_not_lost() -> None:
    rng = np.random.default_rng(1)
    value = np.concatenate(([0.0], 1e7 + rng.normal(0.0, 1e-3, 9999)))
    made = found(np.arange(9999.0), value[1:], 100, 5000)
    assert made.spread == pytest.approx(np.std(value[1:] - 1e7, ddof=1), rel=1e-9)
    assert found(np.arange(10_000.0), value, 1, 7).spread == pytest.approx(np.std(value, ddof=1), rel=1e-12)


def test_without_a_number_there_is_nothing_to_say_but_how_many() -> None:
    assert found(np.arange(4.0), np.full(4, np.nan), 2) == Between(0, 4)
    assert between([]) == Between(0, 0)


def test_one_reading_has_neither_difference_nor_slope() -> None:
    made = found(np.array([5.0]), np.array([-2.5]))
    assert made == Between(1, 0, mean=-2.5, lowest=-2.5, highest=-2.5)


def test_two_readings_at_one_time_have_no_slope() -> None:
    made = found(np.array([5.0, 5.0]), np.array([1.0, 2.0]))
    assert made.slope is None
    assert made.difference == 1.0
