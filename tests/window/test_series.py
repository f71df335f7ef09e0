"""What a graph keeps of a trace: no zoom hides, invents or moves a spike, and a gap stays a gap."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.window import series as kept
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
