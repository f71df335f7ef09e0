"""A forecast is made only of what has begun to bend and follows one curve; else it has its reason and no number."""

import math

import numpy as np
import pytest

from benchlog.electronics.decay import NOT_BENT, NOT_ONE, SLOWER, TOO_LITTLE, TOO_WIDE, few
from benchlog.electronics.settling import Settling, settle

SECONDS = np.arange(0.0, 120.0, 0.5)


def read(values: np.ndarray, *, noise: float = 0.01, digit: float = 0.01, seed: int = 1) -> np.ndarray:
    rough = values + np.random.default_rng(seed).normal(0.0, noise, len(values))
    return np.round(rough / digit) * digit


def heading(values: np.ndarray, seen: np.ndarray = SECONDS, **of: float) -> Settling:
    return settle(seen, values, band=of.get("band", 0.1), digit=0.01)


def test_a_rail_that_rises_to_its_value() -> None:
    found = heading(read(39.8 - 12.0 * np.exp(-SECONDS / 40.0)))
    assert found.value is not None
    assert found.after is not None
    assert found.value.low < 39.8 < found.value.high
    assert found.value.high - found.value.low < 0.2
    # What is left after two minutes, 12 exp(-3) = 0.6 V, is down to 0.1 V in 40 ln(6) = 71 s.
    assert found.after.low < 40.0 * math.log(12.0 / 0.1) - SECONDS[-1] < found.after.high
    assert found.tau == pytest.approx(40.0, rel=0.05)


def test_what_moves_within_a_window_by_no_more_than_its_band_is_there() -> None:
    values = read(20.0 + 3.0 * np.exp(-SECONDS / 60.0))
    slow = settle(SECONDS, values, band=0.5, window=10.0, digit=0.01)
    assert slow.value is not None
    assert slow.after is not None
    assert slow.after.best == 0.0


@pytest.mark.parametrize(
    ("values", "why"),
    [
        (20.0 + 0.05 * SECONDS, (NOT_BENT,)),
        (20.0 + 5.0 * (1.0 - np.exp(-SECONDS / 900.0)), (NOT_BENT, SLOWER)),
        (20.0 + 5.0 * (1.0 - np.exp(-SECONDS / 250.0)), (SLOWER, TOO_WIDE, NOT_BENT)),
        (20.0 + np.exp(SECONDS / 40.0), (SLOWER, NOT_BENT, TOO_WIDE)),
        (20.0 + 2.0 * np.sin(SECONDS / 9.0), (NOT_ONE, NOT_BENT, SLOWER)),
    ],
    ids=["a straight line", "hardly bent", "slower than what was seen", "runs away", "swings"],
)
def test_what_cannot_be_foretold_has_a_reason_and_no_number(values: np.ndarray, why: tuple[str, ...]) -> None:
    found = heading(read(values))
    assert not found.good
    assert (found.value, found.after) == (None, None)
    assert found.why in why


def test_too_little_is_said_to_be_too_little() -> None:
    assert heading(read(SECONDS[:5]), SECONDS[:5]).why == TOO_LITTLE
    some = SECONDS[:60]
    seen = settle(some, read(40.0 - 5.0 * np.exp(-some / 8.0)), band=0.1, digit=0.01, least=120.0)
    assert seen.why == TOO_LITTLE


def test_what_stands_still_needs_no_forecast() -> None:
    found = heading(read(np.full(len(SECONDS), 12.3)))
    assert (found.steady, found.good, found.why) == (True, False, "")
    some = SECONDS[:60]
    slow = settle(some, np.full(len(some), 12.3), band=0.1, digit=0.01, least=600.0)
    assert slow.why == TOO_LITTLE
    assert settle(SECONDS, np.full(len(SECONDS), 12.3), band=0.1, digit=0.01, least=600.0).steady
    flat = heading(np.full(len(SECONDS), 12.3))
    assert flat.steady


def test_a_quick_part_before_the_slow_one_does_not_spoil_it() -> None:
    values = 30.0 - 8.0 * np.exp(-SECONDS / 45.0) + 6.0 * np.exp(-SECONDS / 1.5)
    found = heading(read(values))
    assert found.value is not None
    assert found.value.low < 30.0 < found.value.high


def test_of_very_many_readings_means_are_taken() -> None:
    t = np.arange(10_000.0)
    times, values = few(t, 2.0 * t)
    assert len(times) <= 400
    assert values == pytest.approx(2.0 * times)
    assert times[-1] > 9_980.0


def test_readings_that_wander_together_count_as_fewer() -> None:
    """The mains wanders: a hundred readings of it in a row tell hardly more than a few."""
    chance = np.random.default_rng(5)
    t = np.arange(0.0, 600.0, 1.0)
    widths, wander = [], np.zeros(len(t))
    for kept in (0.0, 0.95):
        for i in range(1, len(t)):
            wander[i] = kept * wander[i - 1] + 0.03 * math.sqrt(1.0 - kept * kept) * chance.normal()
        found = settle(t, 40.0 - 6.0 * np.exp(-t / 120.0) + wander, band=0.1)
        assert found.value is not None
        assert found.value.low < 40.0 < found.value.high
        widths.append(found.value.high - found.value.low)
    assert widths[1] > 2.0 * widths[0]


def test_what_stepped_and_stands_still_since_needs_none_either() -> None:
    found = heading(read(np.where(SECONDS < 9.0, 31.8, 35.5)))
    assert (found.steady, found.good, found.why) == (True, False, "")
    assert 60.0 < found.still_for < 112.0
