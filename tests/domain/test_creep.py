"""Where a creeping reading is heading: known curves come out, and what is no curve gives no number."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain import creep

RATE = 0.05


def times(seconds: float, rate: float = RATE) -> list[float]:
    return [rate * n for n in range(round(seconds / rate))]


def curve(t: list[float], end: float, start: float, tau: float) -> list[float]:
    """An exponential, as a capacitor charges."""
    return [end + (start - end) * math.exp(-one / tau) for one in t]


@given(st.floats(1.0, 1e6), st.floats(0.1, 0.9), st.floats(1.0, 6.0), st.sampled_from([0.05, 0.15, 0.333]))
def test_a_charging_capacitor_is_told_where_it_ends(
    end: float, share: float, tau: float, rate: float
) -> None:
    t = times(8.0, rate)
    assert creep.heading(t, curve(t, end, share * end, tau)) == pytest.approx(end, rel=0.02)


def test_the_last_digit_of_a_display_does_not_hide_the_curve() -> None:
    t = times(8.0, 1 / 3)
    shown = [round(value, 3) for value in curve(t, 4.68, 2.0, 4.0)]
    assert creep.heading(t, shown) == pytest.approx(4.68, rel=0.02)


@pytest.mark.parametrize(
    "values",
    [
        [1000.0 + 5.0 * n for n in range(100)],
        [1000.0 + 30.0 * (n % 2) for n in range(100)],
        [1000.0 if n < 50 else 1400.0 for n in range(100)],
        [1000.0 * 1.01**n for n in range(100)],
        [1000.0] * 100,
        [1000.0 + n for n in range(7)],
    ],
    ids=["a ramp", "to and fro", "a step", "ever faster", "at rest", "too few"],
)
def test_what_is_no_curve_gives_no_number(values: list[float]) -> None:
    assert creep.heading(times(RATE * len(values)), values) is None


def test_readings_of_one_moment_give_none() -> None:
    assert creep.heading([1.0] * 20, curve(times(1.0), 10.0, 5.0, 0.3)) is None


def test_neighbours_that_agree_may_still_have_a_way_to_go() -> None:
    t = times(7.5)
    values = curve(t, 4680.0, 468.0, 4.0)
    assert abs(values[-1] - values[-3]) < 0.005 * values[-1]
    assert creep.moving(t, values)
    assert not creep.moving(t, [4680.0 + n % 2 for n, _ in enumerate(t)])
    assert not creep.moving(t, curve(t, 4680.0, 468.0, 1.0))


def test_near_zero_a_floor_decides_what_is_left_of_the_way() -> None:
    t = times(3.0)
    values = curve(t, 0.0, 1e-3, 1.0)
    assert creep.moving(t, values)
    assert not creep.moving(t, values, floor=2e-4)


@pytest.mark.parametrize(
    ("value", "end", "said"),
    [
        (4100.0, 4683.0, "rising, heading for 4.68 kΩ"),
        (5.2e3, 4683.0, "falling, heading for 4.68 kΩ"),
        (4100.0, None, "it does not stand still, and nothing tells where it is heading"),
    ],
)
def test_it_is_said_with_its_direction_or_without_a_number(
    value: float, end: float | None, said: str
) -> None:
    assert creep.in_words(value, end, "ohm") == said
