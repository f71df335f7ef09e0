"""Readings summed up eight by eight: nothing is hidden, invented or moved, in whatever portions they come."""

import math
import sys

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.levels import FACTOR, Bucket, Open, climb

Entry = tuple[float | None, bool]

entries = st.lists(
    st.one_of(
        st.tuples(st.floats(-5.0, 5.0), st.just(value=False)),
        st.tuples(st.sampled_from([-5.0, 0.0, 5.0]), st.just(value=False)),
        st.tuples(st.none(), st.booleans()),
    ),
    max_size=700,
)


def times(count: int) -> list[int]:
    """Stamps that are not evenly apart."""
    return [10 * k + k % 3 for k in range(count)]


def in_one_go(given_entries: list[Entry]) -> tuple[Open, list[Bucket]]:
    t = times(len(given_entries))
    return climb(Open(), t, [value for value, _ in given_entries], [beyond for _, beyond in given_entries])


@given(entries)
def test_every_bucket_says_of_its_readings_what_numpy_says_of_them(given_entries: list[Entry]) -> None:
    left, found = in_one_go(given_entries)
    t = np.array(times(len(given_entries)), dtype=np.int64)
    value = np.array([math.nan if one is None else one for one, _ in given_entries], dtype=float)
    beyond = np.array([one for _, one in given_entries], dtype=bool)
    for bucket in found:
        size = FACTOR**bucket.level
        own = slice(bucket.number * size, (bucket.number + 1) * size)
        numbers, when = value[own][~np.isnan(value[own])], t[own][~np.isnan(value[own])]
        assert (bucket.first_t, bucket.last_t) == (t[own][0], t[own][-1])
        assert (bucket.rows, bucket.n, bucket.overloads) == (size, len(numbers), beyond[own].sum())
        assert bucket.silence == np.diff(t[own]).max()
        assert math.isclose(bucket.total, numbers.sum(), abs_tol=1e-9)
        if len(numbers):
            assert (bucket.low, bucket.low_t) == (numbers.min(), when[numbers.argmin()])
            assert (bucket.high, bucket.high_t) == (numbers.max(), when[numbers.argmax()])
        else:
            assert (bucket.low, bucket.low_t, bucket.high, bucket.high_t) == (None,) * 4
    counts = {level: sum(1 for one in found if one.level == level) for level in range(1, 6)}
    assert counts == {level: len(given_entries) // FACTOR**level for level in range(1, 6)}
    assert len(left.t) == len(given_entries) % FACTOR


@given(entries, st.lists(st.integers(0, 60), max_size=20))
def test_portions_make_no_difference(given_entries: list[Entry], portions: list[int]) -> None:
    whole_left, whole = in_one_go(given_entries)
    t, known, found, at = times(len(given_entries)), Open(), list[Bucket](), 0
    for size in (*portions, len(given_entries)):
        part = given_entries[at : at + size]
        known, full = climb(known, t[at : at + size], [one for one, _ in part], [one for _, one in part])
        found += full
        at += size
    assert sorted(found) == sorted(whole)
    assert known == whole_left


def test_sums_of_the_largest_numbers_stay_numbers() -> None:
    most = sys.float_info.max
    values = [most] * 32 + [-most] * 32
    _, found = climb(Open(), times(64), values, [False] * 64)
    totals = [bucket.total for bucket in found]
    assert totals[:8] == [most] * 4 + [-most] * 4
    assert math.isfinite(totals[8])
