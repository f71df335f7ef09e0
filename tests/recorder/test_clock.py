"""Two kinds of time: wire time is the machine's own, plan time runs at its rate beside it."""

from datetime import UTC, datetime

import pytest
from helpers.until import until

from benchlog.recorder.clock import SECOND, Clock, utc_now, wire_now


def test_plan_time_counts_from_its_origin_as_wire_time_does() -> None:
    clock = Clock(origin=5 * SECOND)
    assert clock.of(5 * SECOND) == 0
    assert clock.of(65 * SECOND + 1) == 60 * SECOND + 1


@pytest.mark.parametrize("rate", [0.5, 10.0, 200.0])
def test_plan_time_runs_at_its_rate(rate: float) -> None:
    clock = Clock(rate, origin=SECOND)
    assert clock.of(3 * SECOND) == int(2 * SECOND * rate)


def test_a_clock_begins_now() -> None:
    before = wire_now()
    clock = Clock()
    after = wire_now()
    assert -(after - before) <= clock.of(before) <= 0 <= clock.of(after)


def test_both_times_go_on() -> None:
    clock = Clock(10.0)
    t, wire = clock.now(), wire_now()
    until(lambda: clock.now() > t and wire_now() > wire, "a later moment")


def test_civil_time_is_written_in_utc_to_the_millisecond() -> None:
    said = utc_now()
    assert said.endswith("Z")
    assert len(said) == len("2026-11-25T10:15:00.250Z")
    assert datetime.fromisoformat(said).tzinfo is UTC
