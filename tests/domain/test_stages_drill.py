"""Where a hand is the only off-switch it is drilled at the lowest stage, before anything goes up."""

import pytest
from helpers.watched import LAMP, MAINS, PLUS, PoweredUp, plan_of, ramp, state

from benchlog.domain.stages import State
from benchlog.errors import BadInput

LIMITS = (
    "trace='lamp', kind='high', of_source=0.6, persistence=1.0",
    "trace='+B', kind='rail_low'",
    "trace='+B', kind='high', value=50.0",
)
AT_FORTY = {"lamp": 9.0, "+B": 15.6}


def by_hand() -> PoweredUp:
    """The commonest bench: a meter across the lamp, one on a rail, a hand on the switch; on at 40 %."""
    run = PoweredUp(plan_of(LAMP, PLUS, limits=LIMITS), by_hand=True)
    run.play(1.0, {"lamp": 0.0, "+B": 0.0})
    run.begin()
    return run


def drilling() -> PoweredUp:
    """The same with the drill asked for."""
    run = by_hand()
    run.play(10.5, AT_FORTY)
    assert state(run) is State.DRILL
    return run


def test_the_drill_takes_the_place_of_the_first_offer() -> None:
    run = drilling()
    order = run.orders[-1]
    assert (order.what, order.kind, order.data) == ("ask", "switch_off", {"drill": True})
    assert run.stages.live
    assert run.stages.index == 0


def test_the_next_stage_cannot_be_had_without_the_drill() -> None:
    run = by_hand()
    run.play(5.0, AT_FORTY)
    with pytest.raises(BadInput, match="has not been drilled"):
        run.stages.next(run.t)
    run = drilling()
    with pytest.raises(BadInput, match="the run is drill"):
        run.stages.next(run.t)


def test_rails_that_fall_in_the_drill_break_no_limit() -> None:
    run = drilling()
    proof = run.ask_for_off()
    run.play(8.0, {"lamp": 0.0, "+B": ramp(15.6, run.now, -1.0)})
    assert proof.seen_falling()
    assert run.found == []


def test_ceilings_and_lamp_stay_armed_in_the_drill() -> None:
    run = drilling()
    run.play(3.0, {"lamp": 80.0, "+B": 15.6})
    assert len(run.trips) == 1


def test_after_a_drill_that_was_seen_the_unit_is_switched_on_again_at_the_lowest_stage() -> None:
    run = drilling()
    assert run.do(run.stages.was_drilled(True, run.t)) == ["switch_on"]
    assert state(run) is State.SWITCHING_ON
    assert run.guard.feed.on_since is None
    run.switched_on()
    run.play(1.0, AT_FORTY)
    assert (state(run), run.stages.index) == (State.READY, 0)
    assert run.next() == ["set_dial"]


def test_the_drill_is_done_once() -> None:
    run = drilling()
    run.stages.was_drilled(True, run.t)
    run.switched_on()
    run.play(1.0, AT_FORTY)
    run.next()
    run.set()
    run.play(25.0, {"lamp": 20.0, "+B": 40.0})
    assert [order.kind for order in run.orders].count("switch_off") == 1
    assert state(run) is State.READY


def test_a_drill_that_was_not_seen_ends_the_run() -> None:
    run = drilling()
    assert run.do(run.stages.was_drilled(False, run.t)) == ["tripped"]
    assert state(run) is State.SWITCHING_OFF


def test_a_unit_that_was_not_switched_on_again_begins_at_the_lowest_stage() -> None:
    run = drilling()
    run.stages.was_drilled(True, run.t)
    run.switched_on(done=False)
    assert state(run) is State.STANDING
    assert run.next() == ["set_dial"]
    assert run.stages.index == 0


def test_an_automatic_off_switch_needs_no_drill() -> None:
    run = PoweredUp(plan_of(MAINS, PLUS), by_hand=False)
    run.begin()
    run.play(20.0, {"mains": 92.0, "+B": 17.0})
    assert state(run) is State.READY
    assert [order.kind for order in run.orders].count("switch_off") == 0


def test_who_is_slow_to_reach_the_switch_breaks_no_limit_by_switching_off() -> None:
    run = drilling()
    run.play(45.0, AT_FORTY)
    run.play(8.0, {"lamp": 0.0, "+B": ramp(15.6, run.now, -1.0)})
    assert run.found == []
    assert state(run) is State.DRILL


def test_a_drill_that_nobody_answers_ends_the_run() -> None:
    run = drilling()
    run.play(121.0, AT_FORTY)
    assert [order.kind for order in run.orders if order.what == "switch_off"] == ["tripped"]
    assert state(run) is State.SWITCHING_OFF
