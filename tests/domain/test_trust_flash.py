"""What a meter shows for a moment while it changes its range, as soon as nobody turns the source any more."""

import pytest
from helpers.watched import LAMP, PLUS, Watched, plan_of

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.domain.trust import Trust


class Bench:
    """A lamp under a guard and its trust, on a source that has come to rest, or is being turned."""

    def __init__(self) -> None:
        self.run = Watched(plan_of(LAMP, PLUS))
        self.trust = Trust(self.run.guard)
        self.run.on(230.0)

    def read(self, value: float, after: float) -> Outcome:
        """A reading of the lamp so many seconds after the last one; what it counts as."""
        self.run.now += after
        t = self.run.t
        reading = Reading(Outcome.OK, value, Function.VOLTS_AC, t, f"{value:g}", resolution=0.01)
        verdict = self.trust.take("lamp", reading, t)
        outcome = Outcome.OK if verdict is None else verdict.outcome
        judged = verdict is None or verdict.judged or outcome is Outcome.OK
        self.run.guard.reading("lamp", value if judged else None, outcome, t, t)
        return outcome


@pytest.mark.parametrize("after", [0.5, 4.5, 8.0])
def test_a_flash_soon_after_the_source_came_to_rest_is_no_value(after: float) -> None:
    bench = Bench()
    bench.run.guard.feed.settle(bench.run.t)
    bench.read(39.9, 0.2)
    assert bench.read(399.0, after) is Outcome.FLASH
    assert bench.run.guard.traces["lamp"].value == 39.9
    assert bench.read(40.1, 0.5) is Outcome.OK


def test_what_changed_while_the_source_was_turned_is_a_value() -> None:
    bench = Bench()
    bench.read(4.0, 0.2)
    bench.run.guard.feed.settle(bench.run.t + 1)
    assert bench.read(40.0, 0.5) is Outcome.OK
    assert bench.run.guard.traces["lamp"].value == 40.0


def test_what_stays_in_another_decade_soon_after_is_a_value_at_its_second_reading() -> None:
    bench = Bench()
    bench.run.guard.feed.settle(bench.run.t)
    bench.read(4.0, 0.2)
    assert bench.read(40.0, 0.5) is Outcome.FLASH
    assert bench.read(40.5, 0.5) is Outcome.OK


def test_a_clip_that_comes_off_as_soon_as_the_source_is_set_is_no_empty_lamp() -> None:
    bench = Bench()
    bench.run.guard.feed.settle(bench.run.t)
    bench.read(24.0, 0.2)
    for _ in range(3):
        assert bench.read(0.031, 0.5) is Outcome.FELL
    assert bench.read(24.1, 0.5) is Outcome.OK


def test_a_prefix_that_slips_as_soon_as_the_source_is_set_is_no_lamp_gone_dark() -> None:
    bench = Bench()
    bench.run.guard.feed.settle(bench.run.t)
    bench.read(24.0, 0.2)
    for _ in range(3):
        assert bench.read(0.024, 0.5) is Outcome.SLIPPED
    assert bench.read(24.1, 0.5) is Outcome.OK
