"""From cold to hot, and what moved in a long run."""

import numpy as np
import pytest

from benchlog.domain.detail import Items, of_readings
from benchlog.domain.drift import MINUTES, drift_of, on_since, settled_in_words
from benchlog.domain.moved import Named, moved
from benchlog.domain.plan_trace import Role
from benchlog.domain.trace import SECOND


def test_the_unit_is_on_from_what_was_seen_carried_out_or_told_the_last_time_before_off() -> None:
    told = {"prompt": "switch_on", "done": True}
    assert (
        on_since([(2.0, "on", {"done": False}), (3.0, "told", told), (9.0, "off", {}), (11.0, "on", {})])
        == 3.0
    )
    assert on_since([(2.0, "told", {"prompt": "set_dial", "done": True})]) is None


def test_a_figure_is_told_at_each_moment_by_the_newest_number_before_it() -> None:
    t = np.arange(0.0, 1000.0, 1.0)
    drift = drift_of("idle L", t, 0.01 + t * 1e-5, on=40.0)
    # 1 and 5 minutes after second 40; 15 minutes stand at second 940.
    assert drift.at[:3] == pytest.approx((0.0110, 0.0134, 0.0194))
    assert drift.at[3:] == (None, None)
    assert len(drift.at) == len(MINUTES)


def test_a_moment_without_a_reading_shortly_before_it_is_told_as_nothing() -> None:
    t = np.array([50.0, 101.0])
    assert drift_of("idle L", t, np.array([1.0, 2.0]), on=40.0).at[0] is None
    assert drift_of("idle L", np.array([99.0]), np.array([np.nan]), on=40.0).at[0] is None


def test_settled_is_said_with_its_minutes_or_why_not_yet() -> None:
    t = np.arange(0.0, 1500.0, 1.0)
    still, creeps = np.full(1500, 0.0165), 0.0165 + t * 4e-6
    assert settled_in_words(t, still, 0.0, Role.IDLE) == "settled for 25 min"
    assert settled_in_words(t, creeps, 0.0, Role.IDLE) == "not settled"
    assert settled_in_words(t[:300], still[:300], 0.0, Role.IDLE) == "5 min yet to settle"
    assert settled_in_words(t, still, 0.0, Role.RAIL) == ""


def stretches(t: np.ndarray, value: np.ndarray) -> Items:
    read = of_readings(np.rint(t * SECOND).astype(np.int64), value)
    return read.only(read.n > 0)


def test_of_a_long_run_first_last_and_extremes_are_told_with_their_times() -> None:
    t = np.arange(60.0, 3540.0, 1.0)
    value = 0.010 + t * 1e-6
    value[640] = 0.030
    found = moved(Named("idle L", Role.IDLE, "V"), stretches(t, value), (0.0101, 0.0135), 60.0, 3540.0)
    assert found.drift == pytest.approx(0.0034)
    assert found.highest == (0.030, 700.0)
    assert found.lowest == pytest.approx((0.01006, 60.0))
    assert found.silences == ()


def test_a_silence_in_it_and_one_at_its_end_are_told_with_begin_and_length() -> None:
    t = np.concatenate((np.arange(0.0, 100.0), np.arange(400.0, 500.0)))
    value = np.where(t == 450.0, np.nan, 1.0)
    found = moved(Named("+B", Role.RAIL, "V"), stretches(t, value), (1.0, 1.0), 0.0, 900.0)
    assert found.silences == ((99.0, 301.0), (499.0, 401.0))
    nothing = moved(Named("-B", Role.RAIL, "V"), stretches(t[:0], value[:0]), (None, None), 0.0, 900.0)
    assert (nothing.first, nothing.drift, nothing.silences) == (None, None, ((0.0, 900.0),))
