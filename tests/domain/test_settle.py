"""A part is taken when three readings in a row agree, never on the first, and never on a bad reply."""

import pytest
from helpers.watched import ns
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.domain.settle import LONGEST, Settler

Kept = tuple[Reading, bool] | None


def ohms(value: float | None, outcome: Outcome = Outcome.OK, **more: object) -> Reading:
    """A reading of a resistance."""
    return made(value, Function.OHMS, outcome, **more)


def made(value: float | None, function: Function, outcome: Outcome = Outcome.OK, **more: object) -> Reading:
    """A reading of any function."""
    return Reading(outcome, value, function, 0, "", **more)  # type: ignore[arg-type]


def take(*readings: Reading, step: float = 0.1) -> list[Kept]:
    """What a settler says to each of these readings."""
    settler = Settler(began=0)
    return [settler.take(reading, ns(step * n)) for n, reading in enumerate(readings, start=1)]


def settled(*readings: Reading) -> bool:
    """Whether the last of these readings is kept as settled."""
    *before, last = take(*readings)
    assert before == [None] * len(before)
    return last is not None and last == (readings[-1], True)


def test_three_in_a_row_after_the_first_are_enough() -> None:
    assert settled(ohms(9999.0), ohms(4700.0), ohms(4701.0), ohms(4699.0))


def test_the_first_reading_after_a_new_contact_is_never_used() -> None:
    assert take(ohms(4700.0), ohms(4700.0), ohms(4700.0)) == [None, None, None]


def test_readings_agree_within_half_a_per_cent() -> None:
    assert settled(ohms(1.0), ohms(1000.0), ohms(1004.9), ohms(1004.9))
    assert not settled(ohms(1.0), ohms(1000.0), ohms(1005.2), ohms(1005.2))


def test_a_slow_drift_is_not_settled_though_neighbours_agree() -> None:
    assert not settled(*(ohms(1000.0 * 1.004**n) for n in range(9)))


def test_a_reading_that_does_not_agree_starts_anew() -> None:
    assert not settled(ohms(1.0), ohms(100.0), ohms(100.0), ohms(200.0), ohms(200.0))
    assert settled(ohms(1.0), ohms(100.0), ohms(100.0), ohms(200.0), ohms(200.0), ohms(200.0))


def test_neighbours_that_agree_on_a_long_way_have_not_settled() -> None:
    creeping = [4680.0 - 4200.0 * 2.718281828 ** (-0.05 * n / 4.0) for n in range(159)]
    kept = take(*map(ohms, creeping), step=0.05)
    assert kept == [None] * 159
    settler = Settler(began=0)
    for n, value in enumerate(creeping):
        settler.take(ohms(value), ns(0.05 * n))
    assert settler.heading == pytest.approx(4680.0, rel=0.01)
    assert settler.overdue(ns(LONGEST)) == (ohms(creeping[-1]), False)


def test_three_counts_of_the_meter_agree() -> None:
    def count(value: float) -> Reading:
        return ohms(value, resolution=0.1)

    assert settled(count(0.0), count(10.0), count(10.3), count(10.0))
    assert not settled(count(0.0), count(10.0), count(10.4), count(10.0))


@pytest.mark.parametrize(
    ("function", "low", "high"),
    [
        (Function.OHMS, 0.01, 0.05),
        (Function.DIODE, 0.0, 0.0019),
        (Function.CAPACITANCE, 5e-12, 20e-12),
        (Function.VOLTS_DC, -1e-4, 1e-4),
    ],
)
def test_near_zero_a_per_cent_means_nothing_and_a_floor_decides(
    function: Function, low: float, high: float
) -> None:
    assert settled(*(made(value, function) for value in (low, low, high, low)))
    far = high + 30 * (high - low)
    assert not settled(*(made(value, function) for value in (low, low, far, low)))


def test_a_function_without_a_floor_goes_by_per_cent_and_counts() -> None:
    assert not settled(*(made(value, Function.FREQUENCY) for value in (0.0, 0.0, 0.001, 0.0)))


def test_an_overload_settles_like_a_value() -> None:
    over = ohms(None, Outcome.OVERLOAD)
    assert settled(ohms(1.0), over, over, over)


def test_overloads_of_both_signs_do_not_agree() -> None:
    over, under = ohms(None, Outcome.OVERLOAD), ohms(None, Outcome.OVERLOAD, negative=True)
    assert not settled(ohms(1.0), over, under, over)


def test_an_overload_and_a_value_do_not_agree() -> None:
    over = ohms(None, Outcome.OVERLOAD)
    assert not settled(ohms(1.0), over, over, ohms(4700.0))


@pytest.mark.parametrize("outcome", [Outcome.MALFORMED, Outcome.LATE, Outcome.MISSING, Outcome.NOT_A_NUMBER])
def test_a_bad_reply_starts_the_count_anew(outcome: Outcome) -> None:
    good, bad = ohms(4700.0), ohms(None, outcome)
    assert not settled(good, good, good, bad, good)
    assert settled(good, good, good, bad, good, good, good)


def test_a_bad_reply_is_not_the_first_reading() -> None:
    good, bad = ohms(4700.0), ohms(None, Outcome.MISSING)
    assert not settled(bad, good, good, good)
    assert settled(bad, good, good, good, good)


def test_what_never_comes_to_rest_is_kept_as_it_stands_and_said_to_be_unsettled() -> None:
    readings = [ohms(100.0 if n % 2 else 200.0) for n in range(9)]
    *before, last = take(*readings, step=1.0)
    assert before[:7] == [None] * 7
    assert before[7] == (readings[7], False)
    assert last == (readings[8], False)


def test_a_meter_that_stops_answering_leaves_its_last_reading() -> None:
    settler = Settler(began=ns(1))
    settler.take(ohms(1.0), ns(2))
    assert settler.overdue(ns(1 + LONGEST)) is None
    settler.take(ohms(2.0), ns(3))
    assert settler.overdue(ns(1 + LONGEST) - 1) is None
    assert settler.overdue(ns(1 + LONGEST)) == (ohms(2.0), False)


def test_a_bad_reply_after_the_longest_wait_gives_the_last_good_one() -> None:
    settler = Settler(began=0)
    settler.take(ohms(1.0), ns(1))
    settler.take(ohms(2.0), ns(2))
    assert settler.take(ohms(None, Outcome.MISSING), ns(9)) == (ohms(2.0), False)


def test_a_meter_that_never_said_a_number_leaves_nothing() -> None:
    assert take(*[ohms(None, Outcome.MISSING)] * 12, step=1.0) == [None] * 12


@given(st.lists(st.one_of(st.none(), st.floats(-1e6, 1e6)), max_size=12))
def test_what_is_kept_as_settled_agrees_with_the_two_before_it(values: list[float | None]) -> None:
    readings = [ohms(v) if v is not None else ohms(None, Outcome.MALFORMED) for v in values]
    for n, kept in enumerate(take(*readings, step=0.01)):
        if kept is None:
            continue
        last = values[n - 2 : n + 1]
        assert kept == (readings[n], True)
        assert n >= 3
        assert all(v is not None and abs(v - (values[n] or 0)) <= max(0.011 * abs(v), 0.1) for v in last)
