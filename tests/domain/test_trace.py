"""A trace keeps the last good value and never lets a bad reading, or silence, look like one."""

import math

import pytest
from helpers.watched import ns
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.reading import Outcome
from benchlog.domain.trace import SECOND, Trace


def rail() -> Trace:
    """An empty trace."""
    return Trace(TracePlan(name="+B", role=Role.RAIL))


def fed(*rows: tuple[float, float], trace: Trace | None = None) -> Trace:
    """A trace with readings at these seconds of plan and wire time."""
    trace = trace or rail()
    for seconds, value in rows:
        trace.take(value, Outcome.OK, ns(seconds), ns(seconds))
    return trace


def every(step: float, until: float, value: float = 40.0, slope: float = 0.0) -> list[tuple[float, float]]:
    """Rows at a pace from 0 on, on a straight line."""
    return [(n * step, value + slope * n * step) for n in range(round(until / step) + 1)]


def test_before_its_first_reading_a_trace_has_no_value_and_no_past() -> None:
    trace = rail()
    assert trace.value is None
    assert trace.magnitude == 0.0
    assert trace.first_wire is None
    assert trace.pace == 0.0
    assert trace.slope(3, ns(10)) is None
    assert trace.relative_slope(3, ns(10)) is None
    assert trace.at(0) is None
    assert not trace.steady(0.5, 3, ns(10))


@pytest.mark.parametrize("outcome", [Outcome.MALFORMED, Outcome.LATE, Outcome.MISSING, Outcome.NOT_A_NUMBER])
def test_a_reply_that_is_no_number_neither_replaces_the_last_value_nor_is_a_sign_of_life(
    outcome: Outcome,
) -> None:
    trace = fed((1.0, 38.0))
    trace.take(None, outcome, ns(2), ns(2))
    assert (trace.value, trace.t, trace.good_wire) == (38.0, ns(1), ns(1))
    assert trace.recent(9, ns(2)) == [(ns(1), 38.0)]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, None])
def test_a_number_that_is_none_is_not_taken_even_where_it_is_called_good(value: float | None) -> None:
    trace = fed((1.0, 38.0))
    trace.take(value, Outcome.OK, ns(2), ns(2))
    assert (trace.value, trace.good_wire) == (38.0, ns(1))


def test_an_overload_is_a_sign_of_life_but_no_value() -> None:
    trace = fed((1.0, 38.0))
    trace.take(None, Outcome.OVERLOAD, ns(2), ns(2))
    trace.take(None, Outcome.OVERLOAD, ns(3), ns(3))
    assert (trace.value, trace.good_wire) == (38.0, ns(3))
    assert (trace.overload_since, trace.overload_count) == (ns(2), 2)


def test_a_number_ends_an_overload() -> None:
    trace = rail()
    trace.take(None, Outcome.OVERLOAD, ns(2), ns(2))
    assert trace.first_wire == ns(2)
    fed((3.0, 38.0), trace=trace)
    assert (trace.overload_since, trace.overload_count) == (None, 0)


def test_a_bad_reply_does_not_end_an_overload() -> None:
    trace = rail()
    trace.take(None, Outcome.OVERLOAD, ns(2), ns(2))
    trace.take(None, Outcome.MALFORMED, ns(3), ns(3))
    assert trace.overload_since == ns(2)


def test_the_interval_is_a_habit_that_one_late_reading_does_not_change() -> None:
    trace = fed((0.0, 1.0))
    assert trace.interval == 0.0
    fed((0.3, 1.0), trace=trace)
    assert trace.interval == pytest.approx(0.3)
    fed((2.3, 1.0), trace=trace)
    assert trace.interval == pytest.approx(0.3)
    fed(*[(4.3 + 2.0 * n, 1.0) for n in range(8)], trace=trace)
    assert trace.interval == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("interval", "seconds"), [(0.3, 5.0), (1.25, 5.0), (2.0, 8.0), (2.5, 10.0), (60.0, 10.0)]
)
def test_a_slow_meter_is_lost_later_but_never_after_more_than_ten_seconds(
    interval: float, seconds: float
) -> None:
    trace = fed(*every(interval, 20.0 * interval))
    assert trace.lost_after == pytest.approx(seconds)


def test_a_doubt_that_may_last_longer_is_not_cut_short_by_the_meters_pace() -> None:
    trace = fed(*every(2.0, 40.0))
    trace.patience = 60.0
    assert trace.lost_after == 60.0


def test_the_interval_is_wire_time_and_the_pace_plan_time() -> None:
    trace = rail()
    for n in range(5):
        trace.take(1.0, Outcome.OK, ns(2.5 * n), ns(0.25 * n))
    assert trace.interval == pytest.approx(0.25)
    assert trace.pace == pytest.approx(2.5)


def test_one_long_gap_does_not_change_the_pace() -> None:
    trace = fed(*every(0.25, 2.0), (32.0, 40.0), (32.25, 40.0))
    assert trace.pace == pytest.approx(0.25)


def test_only_readings_of_the_window_are_recent() -> None:
    trace = fed(*every(1.0, 9.0, slope=1.0))
    assert trace.recent(2, ns(9)) == [(ns(7), 47.0), (ns(8), 48.0), (ns(9), 49.0)]
    assert trace.recent(2, ns(30)) == []


def test_the_slope_of_a_straight_line_is_its_slope() -> None:
    trace = fed(*every(0.25, 5.0, 40.0, -0.8))
    assert trace.slope(3, ns(5)) == pytest.approx(-0.8)
    assert trace.relative_slope(3, ns(5)) == pytest.approx(-0.8 / 36.0)


@given(st.lists(st.floats(-100, 100), min_size=3, max_size=12), st.floats(-50, 50), st.floats(0.1, 5))
def test_the_slope_does_not_care_where_zero_is_and_scales_with_the_values(
    values: list[float], up: float, factor: float
) -> None:
    def slope(rows: list[float]) -> float:
        found = fed(*((0.25 * n, value) for n, value in enumerate(rows))).slope(0.5, ns(0.25 * len(rows)))
        assert found is not None
        return found

    plain = slope(values)
    assert slope([value + up for value in values]) == pytest.approx(plain, abs=1e-6)
    assert slope([value * factor for value in values]) == pytest.approx(plain * factor, abs=1e-6)


def test_two_readings_or_a_short_past_have_no_slope() -> None:
    assert fed((0.0, 1.0), (2.0, 2.0)).slope(3, ns(2)) is None
    assert fed((0.0, 1.0), (0.2, 2.0), (0.4, 3.0)).slope(3, ns(0.4)) is None


def test_readings_all_at_one_moment_have_no_slope() -> None:
    assert fed((1.0, 1.0), (1.0, 2.0), (1.0, 3.0)).slope(0.0, ns(1)) is None


def test_a_slow_meter_has_a_slope_as_well() -> None:
    # At one reading in 1.6 s a window of 3 s never holds three: rails would never be compared.
    trace = fed(*every(1.6, 16.0, 40.0, -1.0))
    assert trace.slope(3, ns(16)) == pytest.approx(-1.0)


def test_a_meter_that_fell_silent_has_no_slope_after_a_while() -> None:
    assert fed(*every(0.25, 5.0)).slope(3, ns(7)) is None


def test_nothing_has_no_relative_slope() -> None:
    assert fed(*every(0.25, 5.0, 0.0)).relative_slope(3, ns(5)) is None


def test_a_value_within_two_per_cent_of_its_middle_is_steady() -> None:
    rows = [(t, 40.0 + 0.7 * (-1) ** n) for n, (t, _) in enumerate(every(0.25, 4.0))]
    assert fed(*rows).steady(0.02, 3, ns(4))
    assert not fed(*rows).steady(0.017, 3, ns(4))


def test_a_negative_rail_is_as_steady_as_a_positive_one() -> None:
    rows = [(t, -40.0 + 0.7 * (-1) ** n) for n, (t, _) in enumerate(every(0.25, 4.0))]
    assert fed(*rows).steady(0.02, 3, ns(4))


def test_nothing_is_steady_before_it_was_watched_for_long_enough() -> None:
    assert not fed(*every(0.25, 2.0)).steady(0.02, 3, ns(2))
    assert not fed((0.0, 40.0)).steady(0.02, 0, ns(0))


def test_steadiness_is_seen_through_a_slow_meter_at_any_moment() -> None:
    trace = fed(*every(1.0, 10.0))
    assert all(trace.steady(0.02, 3, ns(10.0 + late)) for late in (0.0, 0.3, 0.6, 0.9))


def test_steadiness_is_judged_in_plan_time_where_that_runs_faster_than_the_wire() -> None:
    trace = rail()
    for n in range(20):
        trace.take(40.0, Outcome.OK, ns(1.0 * n), ns(0.1 * n))
    assert all(trace.steady(0.02, 3, ns(19.0 + late)) for late in (0.0, 0.3, 0.6, 0.9))


def test_a_meter_that_has_fallen_silent_is_not_steady() -> None:
    trace = fed(*every(0.25, 10.0))
    assert trace.steady(0.02, 10, ns(10.9))
    assert not trace.steady(0.02, 10, ns(12.1))


def test_a_meter_beyond_its_range_is_not_steady() -> None:
    trace = fed(*every(0.25, 5.0))
    trace.take(None, Outcome.OVERLOAD, ns(5.1), ns(5.1))
    assert not trace.steady(0.02, 3, ns(5.1))


def test_near_zero_only_a_floor_makes_steady() -> None:
    rows = [(t, 0.01 * (-1) ** n) for n, (t, _) in enumerate(every(0.25, 4.0))]
    assert not fed(*rows).steady(0.02, 3, ns(4))
    assert fed(*rows).steady(0.02, 3, ns(4), floor=0.1)
    assert not fed(*rows).steady(0.02, 3, ns(4), floor=0.01)


def test_the_past_reaches_back_for_the_longest_wait() -> None:
    trace = fed(*every(0.1, 700.0))
    assert trace.steady(0.02, 600, ns(700))


def test_between_two_readings_the_value_lies_on_a_straight_line() -> None:
    trace = fed((1.0, 10.0), (2.0, 20.0), (4.0, 10.0))
    assert trace.at(ns(1)) == 10.0
    assert trace.at(ns(1.5)) == pytest.approx(15.0)
    assert trace.at(ns(2)) == 20.0
    assert trace.at(ns(3)) == pytest.approx(15.0)
    assert trace.at(ns(4)) == 10.0


def test_outside_what_was_read_there_is_no_value() -> None:
    trace = fed((1.0, 10.0), (2.0, 20.0))
    assert trace.at(ns(0.9)) is None
    assert trace.at(ns(2.1)) is None


@given(st.lists(st.floats(-1000, 1000), min_size=2, max_size=8), st.floats(0, 1))
def test_a_value_between_readings_is_never_beyond_them(values: list[float], part: float) -> None:
    trace = fed(*((float(n), value) for n, value in enumerate(values)))
    when = int(part * (len(values) - 1) * SECOND)
    found = trace.at(when)
    assert found is not None
    around = values[when // SECOND : when // SECOND + 2]
    assert min(around) - 1e-6 <= found <= max(around) + 1e-6
