"""A trace between two moments, against numpy, and with readings that carry no number."""

import numpy as np
import pytest

from benchlog.domain.between import Between, between


@pytest.mark.parametrize("seed", range(5))
def test_it_agrees_with_numpy(seed: int) -> None:
    rng = np.random.default_rng(seed)
    t = np.sort(rng.uniform(0.0, 3600.0, 700))
    value = 44.0 + 0.001 * t + rng.normal(0.0, 0.3, len(t))
    value[rng.integers(0, len(t), 60)] = np.nan
    inside = (t >= 600.0) & (t <= 1800.0)
    numbers, times = value[inside & np.isfinite(value)], t[inside & np.isfinite(value)]
    found = between(t, value, 600.0, 1800.0)
    assert (found.count, found.missing) == (len(numbers), int(np.isnan(value[inside]).sum()))
    assert found.missing > 0
    assert found.mean == pytest.approx(np.mean(numbers), rel=1e-12)
    assert found.spread == pytest.approx(np.std(numbers, ddof=1), rel=1e-10)
    assert (found.lowest, found.highest) == (np.min(numbers), np.max(numbers))
    assert found.difference == pytest.approx(numbers[-1] - numbers[0], rel=1e-12)
    assert found.slope == pytest.approx(np.polyfit(times, numbers, 1)[0], rel=1e-7)


def test_both_ends_count() -> None:
    t = np.array([0.0, 1.0, 2.0, 3.0])
    found = between(t, np.array([9.0, 1.0, 3.0, 9.0]), 1.0, 2.0)
    assert found == Between(
        2, 0, difference=2.0, slope=2.0, mean=2.0, lowest=1.0, highest=3.0, spread=2.0**0.5
    )


def test_without_a_number_there_is_nothing_to_say_but_how_many() -> None:
    t = np.arange(4.0)
    assert between(t, np.full(4, np.nan), 0.0, 9.0) == Between(0, 4)
    assert between(t, np.full(4, np.nan), 7.0, 9.0) == Between(0, 0)


def test_one_reading_has_neither_difference_nor_slope() -> None:
    found = between(np.array([5.0]), np.array([-2.5]), 0.0, 9.0)
    assert found == Between(1, 0, mean=-2.5, lowest=-2.5, highest=-2.5)


def test_two_readings_at_one_time_have_no_slope() -> None:
    found = between(np.array([5.0, 5.0]), np.array([1.0, 2.0]), 0.0, 9.0)
    assert found.slope is None
    assert found.difference == 1.0
