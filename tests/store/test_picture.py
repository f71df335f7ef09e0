"""A picture of a session: at any zoom each extreme of the stretch is in it, and every point is a reading."""

import math
from pathlib import Path

import numpy as np
import pytest
from helpers.kept import begin, change, first_layout
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlog.domain.detail import GAP, Picture
from benchlog.store import query
from benchlog.store.append import SessionWriter
from benchlog.store.picture import WIDEST, numbers, pictures
from benchlog.store.records import ReadingRow

S = 1_000_000_000
COUNT = 9_000


def uneven() -> list[ReadingRow]:
    """Noise at changing rates with stretches and single readings without a number, silences, and two spikes."""
    chance = np.random.default_rng(3)
    steps = chance.choice([S // 1000, S // 10, S, 8 * S], COUNT, p=[0.5, 0.3, 0.198, 0.002])
    t = np.cumsum(steps)
    t[4000:] += 900 * S
    value = chance.normal(0.0, 1.0, COUNT).round(2)
    lost = chance.random(COUNT) < 0.01
    lost[5000:5300] = True
    lost[-3:] = True
    value[1234], value[7777] = 50.0, -50.0
    lost[[1234, 7777]] = False
    return [
        ReadingRow(1, k + 1, int(t[k]), None, "late")
        if lost[k]
        else ReadingRow(1, k + 1, int(t[k]), float(value[k]), "ok")
        for k in range(COUNT)
    ]


ROWS = uneven()
T = np.array([row.t for row in ROWS])
VALUE = np.array([math.nan if row.value is None else row.value for row in ROWS])
STEADY = [ReadingRow(2, k + 1, int(T[-1]) * k // COUNT, math.sin(k * 1.3), "ok") for k in range(COUNT)]
STEADY_T = np.array([row.t for row in STEADY])
STEADY_VALUE = np.array([math.nan if row.value is None else row.value for row in STEADY])


def kept(folder: Path, how: str) -> Path:
    """The same readings in a closed file, a live one, one of format 1, one without levels and one with half."""
    writer = begin(folder)
    for half in (slice(0, COUNT // 2), slice(COUNT // 2, COUNT)):
        writer.append(readings=[*ROWS[half], *STEADY[half]])
    if how == "live":
        writer.abandon()
        return writer.path
    writer.close("completed", "", int(T[-1]))
    if how == "without levels":
        change(writer.path, "DELETE FROM level")
    elif how == "first layout":
        first_layout(writer.path)
    elif how == "half":
        change(writer.path, f"DELETE FROM level WHERE last_t > {T[COUNT // 2]}")  # noqa: S608
    return writer.path


@pytest.fixture(scope="module", params=["closed", "live", "first layout", "without levels", "half"])
def path(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return kept(tmp_path_factory.mktemp("run"), request.param)


def one(path: Path, from_t: int | None, to_t: int | None, columns: int) -> Picture:
    return pictures(path, [1], from_t, to_t, columns)[1]


stretches = st.tuples(
    st.integers(-5 * S, int(T[-1]) + 5 * S), st.one_of(st.integers(1, 400 * S), st.integers(1, 4000 * S))
)


@settings(max_examples=40)
@given(stretches, st.integers(1, 1500), st.booleans())
def test_at_any_zoom_the_extremes_of_the_stretch_are_there_and_every_point_was_read(
    path: Path, stretch: tuple[int, int], columns: int, steady: bool
) -> None:
    start, span = stretch
    trace, t, value = (2, STEADY_T, STEADY_VALUE) if steady else (1, T, VALUE)
    found = pictures(path, [trace], start, start + span, columns)[trace]
    inside = (start <= t) & (start + span >= t) & ~np.isnan(value)
    drawn = (found.t >= start) & (found.t <= start + span)
    assert np.all(np.diff(found.t) > 0)
    at = np.searchsorted(t, found.t)
    np.testing.assert_array_equal(t[at], found.t)
    np.testing.assert_array_equal(value[at], found.value)
    assert drawn.any() == inside.any()
    if inside.any():
        assert found.value[drawn].min() == value[inside].min()
        assert found.value[drawn].max() == value[inside].max()
    # Left out are only readings between two of one bucket's, no further than the bucket is wide.
    width = WIDEST * span / columns
    for edge in t[inside][~np.isin(t[inside], found.t)]:
        assert np.abs(found.t - edge).min() <= width
    if found.width == 0.0:
        np.testing.assert_array_equal(found.t[drawn], t[inside])


@settings(max_examples=40)
@given(stretches, st.integers(1, 1500))
def test_no_line_is_drawn_across_a_gap(path: Path, stretch: tuple[int, int], columns: int) -> None:
    start, span = stretch
    found = one(path, start, start + span, columns)
    for k in range(1, len(found)):
        if found.joined[k]:
            between = slice(np.searchsorted(T, found.t[k - 1]), np.searchsorted(T, found.t[k]) + 1)
            assert not np.isnan(VALUE[between]).any()
            silences = np.diff(T[between])
            assert silences.max() <= GAP
        elif found.width == 0.0:
            between = slice(np.searchsorted(T, found.t[k - 1]), np.searchsorted(T, found.t[k]) + 1)
            assert np.isnan(VALUE[between]).any() or np.diff(T[between]).max() > GAP


def test_a_picture_of_everything_is_small_and_ends_where_the_readings_end(path: Path) -> None:
    found = one(path, None, None, 100)
    numbered = T[~np.isnan(VALUE)]
    assert (found.t[0], found.broken) == (numbered[0], True)
    assert numbered[-1] - WIDEST * (T[-1] - T[0]) / 100 <= found.t[-1] <= numbered[-1]
    assert found.value.max() == 50.0
    assert found.value.min() == -50.0
    assert found.t[found.value.argmax()] == T[1234]


def test_with_levels_few_rows_are_read_at_any_zoom(tmp_path: Path) -> None:
    path = kept(tmp_path, "closed")
    for columns in (10, 50, 200):
        steady = pictures(path, [2], int(T[-1]) // 7, int(T[-1]) // 7 * 5, columns)[2]
        assert np.all(np.diff(steady.t) > 0)
        assert len(steady) <= 2 * 8 * columns + 200
        for from_t, to_t in ((None, None), (int(T[3000]), int(T[6000])), (int(T[100]), int(T[140]))):
            assert len(one(path, from_t, to_t, columns)) <= 2 * 8 * columns + 200


@pytest.mark.parametrize("size", [8, 64, 512])
def test_a_stretch_from_the_end_of_one_bucket_to_the_beginning_of_another_is_read_once(
    tmp_path: Path, size: int
) -> None:
    path = kept(tmp_path, "closed")
    first, last = 2 * size - 2, 9 * size if size == 512 else 40 * size
    found = pictures(path, [2], int(STEADY_T[first]), int(STEADY_T[last]), 20)[2]
    assert np.all(np.diff(found.t) > 0)
    assert (found.t[0], found.t[-1]) == (STEADY_T[first - 1], STEADY_T[last + 1])


def test_one_reading_more_at_either_end_shows_where_the_line_leads(path: Path) -> None:
    found = one(path, int(T[100]) + 1, int(T[105]) + 1, 500)
    numbered = T[100:107][~np.isnan(VALUE[100:107])]
    np.testing.assert_array_equal(found.t, numbered)


def test_the_numbers_of_a_trace_come_without_reading_it(path: Path) -> None:
    found = numbers(path, [1, 7], int(T[5200]))
    numbered = VALUE[~np.isnan(VALUE)]
    before = VALUE[:5201][~np.isnan(VALUE[:5201])]
    assert (found[1].rows, found[1].last_seq, found[1].last_outcome) == (COUNT, COUNT, "late")
    assert (found[1].final, found[1].before) == (numbered[-1], before[-1])
    assert (found[1].low, found[1].low_t) == (-50.0, T[7777])
    assert (found[1].high, found[1].high_t) == (50.0, T[1234])
    assert (found[7].rows, found[7].low, found[7].last_outcome) == (0, None, "")
    assert len(pictures(path, [7], None, None, 10)[7]) == 0


def test_a_silence_is_a_gap_at_every_zoom(path: Path) -> None:
    silent = np.flatnonzero(np.diff(T) > GAP)
    assert len(silent) > 5
    for columns in (3, 30, 300, 3000):
        found = one(path, None, None, columns)
        at = np.searchsorted(found.t, T[silent], side="right")
        assert not found.joined[np.minimum(at, len(found) - 1)].any()


def test_a_stretch_before_or_behind_everything_is_empty(path: Path) -> None:
    assert not len(one(path, -100 * S, -50 * S, 10).t[1:])
    assert not len(one(path, int(T[-1]) + S, int(T[-1]) + 2 * S, 10))


def test_a_file_is_read_while_its_recorder_writes_and_then_folded(tmp_path: Path) -> None:
    writer: SessionWriter = begin(tmp_path)
    for at in range(0, 3000, 600):
        writer.append(readings=ROWS[at : at + 600])
        assert one(writer.path, None, None, 50).t[-1] == T[at : at + 600][~np.isnan(VALUE[at : at + 600])][-1]
    assert writer.close("completed", "", 0)
    assert query.state(writer.path).readings == 3000
