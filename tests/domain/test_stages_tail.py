"""How long a run goes on after off: as its plan says, longer where no meter has seen it."""

from dataclasses import replace

from helpers.watched import LAMP, PLUS, PoweredUp, plan_of, state

from benchlog.domain.stages import TOLD_TAIL, UNSEEN_TAIL, State


def gone_off(tail: float = 10.0) -> PoweredUp:
    """A run that was on, and whose cut was asked just now."""
    run = PoweredUp(replace(plan_of(LAMP, PLUS), tail=tail))
    run.play(1.0, {"lamp": 0.0, "+B": 0.0})
    run.begin()
    run.stages.went_off(run.t)
    return run


def test_the_tail_is_counted_from_the_moment_the_far_end_was_seen_off() -> None:
    run = gone_off()
    run.play(5.0, {"lamp": 0.0})
    run.stages.confirmed_off(run.t)
    run.play(2.0, {"lamp": 0.0})
    run.stages.confirmed_off(run.t)
    run.play(7.9, {"lamp": 0.0})
    assert state(run) is State.TAIL
    run.play(0.2, {"lamp": 0.0})
    assert state(run) is State.CLOSED
    assert run.orders[-1].what == "close"


def test_where_nobody_has_seen_it_off_the_tail_is_a_minute_longer() -> None:
    run = gone_off()
    run.play(10.0 + UNSEEN_TAIL - 0.1, {"lamp": 0.0})
    assert state(run) is State.TAIL
    run.play(0.2, {"lamp": 0.0})
    assert state(run) is State.CLOSED


def test_a_persons_word_alone_leaves_the_meters_time_to_bear_it_out() -> None:
    run = gone_off(tail=2.0)
    run.stages.told_off(run.t)
    assert run.stages.off_is_known
    run.play(TOLD_TAIL - 0.1, {"lamp": 0.0})
    assert state(run) is State.TAIL
    run.play(0.2, {"lamp": 0.0})
    assert state(run) is State.CLOSED


def test_what_meters_see_after_a_persons_word_counts_the_tail_anew() -> None:
    run = gone_off(tail=2.0)
    run.stages.told_off(run.t)
    run.play(5.0, {"lamp": 0.0})
    run.stages.confirmed_off(run.t)
    run.stages.told_off(run.t)
    run.play(1.9, {"lamp": 0.0})
    assert state(run) is State.TAIL
    run.play(0.2, {"lamp": 0.0})
    assert state(run) is State.CLOSED


def test_a_second_cut_neither_reopens_nor_lengthens_anything() -> None:
    run = gone_off()
    run.stages.confirmed_off(run.t)
    run.play(8.0, {})
    run.stages.went_off(run.t)
    run.play(2.1, {})
    assert state(run) is State.CLOSED
    run.stages.went_off(run.t)
    run.play(1.0, {})
    assert state(run) is State.CLOSED
