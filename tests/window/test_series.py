"""What a graph keeps of a trace: no zoom hides, invents or moves a spike, and a gap stays a gap."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlog.window import series as kept
from benchlog.window.points import Points
from benchlog.window.series import Columns, Series, edges, stroke

Reading = tuple[float, float]


def filled(readings: list[tuple[float, float | None]], gap: float = 5.0) -> Series:
    series = Series(gap)
    for t, value in readings:
        series.append(t, value)
    return series


def columns_by_hand(readings: list[Reading], t0: float, t1: float, width: int) -> dict[int, list[float]]:
    """The values in each column, one reading at a time."""
    at = edges(t0, t1, width)
    found: dict[int, list[float]] = {}
    for t, value in readings:
        if t0 <= t <= t1:
            column = min(int(np.searchsorted(at, t, side="right")) - 1, width - 1)
            found.setdefault(column, []).append(value)
    return found


some_readings = st.lists(
    st.tuples(
        st.floats(0.0, 100.0, allow_nan=False, allow_subnormal=False),
        st.floats(-1e3, 1e3, allow_nan=False, allow_subnormal=False),
    ),
    max_size=400,
).map(lambda found: sorted(found, key=lambda one: one[0]))


@given(
    some_readings,
    st.floats(-10.0, 90.0),
    st.floats(0.5, 120.0),
    st.integers(1, 300),
    st.booleans(),
    st.booleans(),
)
def test_columns_never_hide_invent_or_move_an_extreme(
    readings: list[Reading], t0: float, span: float, width: int, at_once: bool, in_one_go: bool
) -> None:
    series = Series()
    if in_one_go:
        series.extend([t for t, _ in readings], [value for _, value in readings])
    else:
        for t, value in readings:
            series.append(t, value)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kept, "AT_ONCE", 1_000_000 if at_once else 0)
        found = series.columns(t0, t0 + span, width)
    wanted = columns_by_hand(readings, t0, t0 + span, width)
    assert found.column.tolist() == sorted(wanted)
    for k, column in enumerate(found.column.tolist()):
        assert found.low[k] == min(wanted[column])
        assert found.high[k] == max(wanted[column])
        assert (found.first[k], found.last[k]) == (wanted[column][0], wanted[column][-1])


@given(some_readings, st.integers(1, 300))
def test_a_stroke_covers_every_reading_and_reaches_no_further_than_its_neighbours(
    readings: list[Reading], width: int
) -> None:
    series = filled(list(readings))
    columns = series.columns(0.0, 100.0, width)
    drawn = stroke(columns, 0.0, 100.0, width)
    low = dict(zip(drawn.column.tolist(), drawn.low.tolist(), strict=True))
    high = dict(zip(drawn.column.tolist(), drawn.high.tolist(), strict=True))
    for k, column in enumerate(columns.column.tolist()):
        assert low[column] <= columns.low[k]
        assert high[column] >= columns.high[k]
    if readings:
        values = [value for _, value in readings]
        assert min(low.values()) == min(values)
        assert max(high.values()) == max(values)


@given(
    st.lists(
        st.tuples(st.floats(0.0, 3.0), st.one_of(st.none(), st.floats(-10.0, 10.0)), st.booleans()),
        max_size=120,
    )
)
def test_one_by_one_or_in_one_go_is_the_same(steps: list[tuple[float, float | None, bool]]) -> None:
    one, other = Series(2.0), Series(2.0)
    t, waiting = 0.0, list[tuple[float, float]]()
    for step, value, flush in steps:
        t += step
        one.append(t, value)
        waiting.append((t, math.nan if value is None else value))
        if flush:
            other.extend(*zip(*waiting, strict=True))
            waiting.clear()
    if waiting:
        other.extend(*zip(*waiting, strict=True))
    for mine, theirs in zip(drawing(one), drawing(other), strict=True):
        assert mine == theirs
    assert one.last == other.last


def drawing(series: Series) -> tuple[list[float], ...]:
    columns: Columns = series.columns(0.0, 400.0, 97)
    drawn = stroke(columns, 0.0, 400.0, 97)
    return columns.column.tolist(), columns.joined.tolist(), drawn.low.tolist(), drawn.high.tolist()


def test_a_spike_of_one_reading_in_a_million_stays() -> None:
    values = np.zeros(1_000_000)
    values[654_321] = 7.0
    series = Series()
    series.extend(np.arange(len(values)) * 0.1, values)
    found = series.columns(0.0, 100_000.0, 1000)
    assert found.column[found.high == 7.0].tolist() == [654]


def test_a_line_leads_straight_from_reading_to_reading() -> None:
    drawn = stroke(filled([(0.0, 0.0), (4.0, 8.0)]).columns(0.0, 4.0, 4), 0.0, 4.0, 4)
    assert drawn.low.tolist() == [0.0, 2.0, 4.0, 6.0]
    assert drawn.high.tolist() == [2.0, 4.0, 6.0, 8.0]


@pytest.mark.parametrize(
    "readings",
    [
        [(0.0, 1.0), (1.0, 1.0), (2.0, None), (8.0, 1.0), (9.0, 1.0)],
        [(0.0, 1.0), (1.0, 1.0), (8.0, 1.0), (9.0, 1.0)],
    ],
    ids=["a reading without a number", "a silence"],
)
def test_a_gap_is_left_empty(readings: list[tuple[float, float | None]]) -> None:
    series = filled(readings, gap=5.0 if len(readings) == 4 else 60.0)
    drawn = stroke(series.columns(0.0, 10.0, 10), 0.0, 10.0, 10)
    assert drawn.column.tolist() == [0, 1, 8, 9]


def test_a_line_enters_and_leaves_the_range_where_it_stands() -> None:
    series = filled([(0.0, 0.0), (4.0, 4.0), (8.0, 0.0)])
    drawn = stroke(series.columns(2.0, 6.0, 2), 2.0, 6.0, 2)
    assert (drawn.low.tolist(), drawn.high.tolist()) == ([2.0, 2.0], [4.0, 4.0])


def test_a_line_crosses_a_range_without_a_reading_in_it() -> None:
    series = filled([(0.0, 0.0), (4.0, 4.0)])
    drawn = stroke(series.columns(1.0, 3.0, 2), 1.0, 3.0, 2)
    assert (drawn.low.tolist(), drawn.high.tolist()) == ([1.0, 2.0], [2.0, 3.0])


def test_nothing_is_drawn_of_nothing() -> None:
    assert not len(stroke(Series().columns(0.0, 10.0, 5), 0.0, 10.0, 5).column)
    lone = filled([(0.0, 1.0)])
    assert not len(stroke(lone.columns(5.0, 10.0, 5), 5.0, 10.0, 5).column)


def test_a_late_reading_is_put_where_it_belongs() -> None:
    series = filled([(0.0, 0.0), (1.0, 1.0), (3.0, 3.0)])
    series.append(2.0, 9.0)
    series.extend([0.5, 4.0], [5.0, 6.0])
    found = series.columns(0.0, 5.0, 10)
    assert found.first_t.tolist() == [0.0, 0.5, 1.0, 2.0, 3.0, 4.0]
    assert found.first.tolist() == [0.0, 5.0, 1.0, 9.0, 3.0, 6.0]
    assert series.span == (0.0, 4.0)


def test_the_crosshair_reads_a_reading_never_something_between() -> None:
    series = filled([(0.0, 1.0), (4.0, 2.0), (30.0, 3.0)])
    assert series.near(1.9) == (0.0, 1.0)
    assert series.near(2.1) == (4.0, 2.0)
    assert series.near(17.0) is None
    assert series.near(30.2) == (30.0, 3.0)
    assert Series().near(0.0) is None


def test_the_newest_value_is_gone_once_a_reading_brings_none() -> None:
    series = filled([(0.0, 1.0)])
    assert series.last == 1.0
    series.append(1.0, math.nan)
    assert series.last is None
    series.clear()
    assert (len(series), series.span, series.last) == (0, None, None)


# --- long runs -------------------------------------------------------------------------------------


@settings(max_examples=40)
@given(st.integers(0, 20_000), st.integers(0, 5_000), st.integers(100, 1500), st.booleans())
def test_a_spike_is_seen_however_far_back_it_lies(at: int, more: int, width: int, by_one: bool) -> None:
    series = Series(most=1000)
    count = at + more + 1
    values = np.sin(np.arange(count))
    values[at] = 9.0
    if by_one:
        for k in range(count):
            series.append(k * 0.5, float(values[k]))
    else:
        series.extend(np.arange(count) * 0.5, values)
    assert len(series) < 1000 + count / 16
    end = count * 0.5
    drawn = stroke(series.columns(0.0, end, width), 0.0, end, width)
    column = int(np.searchsorted(edges(0.0, end, width), at * 0.5, side="right")) - 1
    # On the very edge of a column the line to it ends at the full height.
    assert drawn.column[drawn.high == 9.0].tolist() in ([column], [column - 1, column])
    assert drawn.low.min() == pytest.approx(values.min())


def test_of_a_long_trace_the_newest_readings_are_whole_and_a_gap_stays_one() -> None:
    series = Series(most=1000)
    t = np.arange(5000) * 0.5
    value = np.where((t > 300.0) & (t < 400.0), math.nan, np.cos(t))
    series.extend(t, value)
    newest = series.columns(t[-500], t[-1], 100_000)
    assert newest.first.tolist() == value[-500:].tolist()
    found = series.columns(0.0, 2500.0, 500)
    inside = (found.column * 5.0 > 300.0) & (found.column * 5.0 + 5.0 < 400.0)
    assert not inside.any()
    assert found.gap[np.searchsorted(found.column, 79) :].any()
    assert series.near(350.0) is None
    nearest = series.near(1000.0)
    assert nearest is not None
    assert abs(nearest[0] - 1000.0) <= 32.0


def some_points(t: list[float], width: float = 0.0) -> Points:
    joined = np.array([False] + [True] * (len(t) - 1))
    return Points(np.array(t), np.array(t) * 2.0, joined, width=width)


def test_a_closer_look_takes_the_place_of_the_extremes_where_it_is() -> None:
    series = Series()
    series.add(some_points([0.0, 10.0, 20.0, 30.0, 40.0], width=10.0))
    assert series.lacks(0.0, 40.0, 1.0)
    assert not series.lacks(0.0, 40.0, 5.0)
    assert not series.lacks(41.0, 50.0, 0.1)
    series.look_closer(12.0, 24.0, some_points([11.0, 13.0, 15.0, 21.0, 23.0, 25.0]))
    assert not series.lacks(12.0, 24.0, 0.01)
    assert not series.lacks(14.0, 20.0, 0.01)
    assert series.lacks(12.0, 25.0, 0.01)
    found = series.columns(0.0, 40.0, 40)
    assert found.first_t.tolist() == [0.0, 10.0, 11.0, 13.0, 15.0, 21.0, 23.0, 25.0, 30.0, 40.0]
    assert found.joined.tolist() == [False] + [True] * 9
    assert series.near(14.2) == (15.0, 30.0)
    near = series.columns(16.0, 20.0, 4)
    assert (near.before, near.after) == ((15.0, 30.0), (21.0, 42.0))


def test_what_comes_after_the_extremes_is_joined_to_them() -> None:
    series = Series()
    series.add(some_points([0.0, 60.0, 90.0], width=50.0))
    series.add(Points(np.array([90.5, 91.0]), np.array([1.0, 2.0]), np.array([True, True])))
    series.append(91.5, 3.0)
    assert (series.last, series.span) == (3.0, (0.0, 91.5))
    assert series.columns(0.0, 100.0, 1000).joined.tolist() == [False] + [True] * 5
    assert not series.lacks(90.2, 100.0, 0.01)


def test_a_gap_narrower_than_a_column_is_marked() -> None:
    series = Series()
    values = np.ones(100_000)
    values[[500, 70_000]] = math.nan
    series.extend(np.arange(len(values)) * 0.1, values)
    drawn = stroke(series.columns(0.0, 10_000.0, 1000), 0.0, 10_000.0, 1000)
    assert drawn.gaps.tolist() == [5, 700]
    assert drawn.column.tolist() == list(range(1000))


def test_which_times_are_there_is_known_for_many_at_once() -> None:
    series = filled([(0.0, 1.0), (4.0, 2.0)])
    assert series.holds(np.array([0.0, 1e-10, 2.0, 4.0, 9.0])).tolist() == [True, True, False, True, False]
    assert Series().holds(np.array([1.0])).tolist() == [False]


def test_a_gap_stays_one_where_the_older_readings_are_held_by_their_extremes() -> None:
    values = np.random.default_rng(7).uniform(40.0, 41.0, 4000)
    values[::37] = np.nan
    series = Series(most=400)
    for n, value in enumerate(values.tolist()):
        series.append(n * 0.1, value)
    assert len(series) < 1000
    gaps = np.flatnonzero(np.isnan(values))[1:] * 0.1
    for t in gaps.tolist():
        around = (t - 0.04, t + 0.04)
        assert len(stroke(series.columns(*around, 4), *around, 4).column) == 0
