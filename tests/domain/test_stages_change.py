"""Between two stages another lamp or link is fitted: off, change, on again."""

from dataclasses import replace

import pytest
from helpers.stepped import HANDHELD, Stepped
from helpers.watched import HALL, IDLE, LAMP, MAINS, PLUS, PoweredUp, plan_of, ramp, refused, state

from benchlog.domain.offproof import CutOutcome
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import LimitKind
from benchlog.domain.plan_stage import StagePlan
from benchlog.domain.stages import LONGEST_DRILL, State
from benchlog.errors import BadInput

WALL = HALL.replace("lamp_watts=100.0", "lamp_watts=40.0")
LADDER = (
    "name='40 W lamp', fraction=1.0, dwell=10.0, lamp_watts=40.0",
    "name='100 W lamp', fraction=1.0, dwell=10.0, lamp_watts=100.0",
    "name='direct', fraction=1.0, dwell=10.0, lamp_watts=0.0",
)
BOUND = (
    "trace='lamp', kind='high', of_source=0.6, lamp_watts=40.0, persistence=1.0",
    "trace='lamp', kind='high', of_source=0.35, lamp_watts=100.0, persistence=1.0",
    "trace='+B', kind='rail_low'",
)


def ladder(*, by_hand: bool = False) -> PoweredUp:
    """A ladder of three lamps, before its first stage."""
    plan = plan_of(MAINS, LAMP, PLUS, limits=BOUND, source=WALL, stages=LADDER)
    return PoweredUp(plan, by_hand=by_hand)


def on_the_first(*, by_hand: bool = False) -> PoweredUp:
    """On behind the smallest lamp, and its dwell is over."""
    run = ladder(by_hand=by_hand)
    assert run.next() == ["fit_lamp"]
    run.do(run.stages.was_changed(True, run.t))
    run.switched_on()
    run.play(25.0, {"mains": 230.0, "lamp": 110.0, "+B": 22.9})
    if by_hand:
        run.do(run.stages.was_drilled(True, run.t))
        run.switched_on()
        run.play(25.0, {"mains": 230.0, "lamp": 110.0, "+B": 22.9})
    assert state(run) is State.READY
    return run


def test_the_first_lamp_is_asked_for_and_no_dial_where_there_is_none() -> None:
    run = ladder()
    assert run.next() == ["fit_lamp"]
    assert run.orders[-1].text == "Pull the plug, fit the 40 W lamp, plug in again."
    assert run.orders[-1].data == {"watts": 40.0, "link": ""}
    assert run.do(run.stages.was_changed(True, run.t)) == ["switch_on"]


def test_the_unit_goes_off_and_is_seen_off_before_the_lamp_is_asked_for() -> None:
    run = on_the_first()
    assert run.next() == ["pause"]
    assert state(run) is State.GOING_OFF
    assert run.stages.live
    run.play(4.0, {"mains": 0.0, "lamp": 0.0, "+B": ramp(22.9, run.now, -3.0)})
    assert run.do(run.stages.was_put_off(CutOutcome.VERIFIED, run.t)) == ["fit_lamp"]
    assert state(run) is State.CHANGING
    run.play(60.0, {"mains": 0.0, "lamp": 0.0, "+B": 1.0})
    assert run.do(run.stages.was_changed(True, run.t)) == ["switch_on"]
    assert run.guard.feed.lamp_watts == 100.0
    run.switched_on()
    assert (state(run), run.stages.index) == (State.MOVING, 1)
    assert run.trips == []


@pytest.mark.parametrize("on_again", ["not fitted", "not switched on"])
def test_a_run_left_off_for_a_change_is_closed_by_way_of_the_off_switch(on_again: str) -> None:
    run = on_the_first()
    run.next()
    run.do(run.stages.was_put_off(CutOutcome.VERIFIED, run.t))
    run.do(run.stages.was_changed(on_again == "not switched on", run.t))
    if on_again == "not switched on":
        run.do(run.stages.was_switched_on(False, run.t))
    assert state(run) is State.STANDING
    assert run.do(run.stages.close()) == ["stopped"]
    assert (run.orders[-1].what, state(run)) == ("switch_off", State.SWITCHING_OFF)


def test_rails_that_fall_for_a_change_break_nothing() -> None:
    run = on_the_first()
    run.next()
    run.play(90.0, {"mains": 0.0, "lamp": 0.0, "+B": 0.5})
    assert run.trips == []


def test_a_lamp_has_its_own_limit_and_the_one_before_it_rests() -> None:
    run = on_the_first()
    assert run.trips == []
    run.next()
    run.play(3.0, {"mains": 0.0, "lamp": 0.0, "+B": 20.0})
    run.do(run.stages.was_put_off(CutOutcome.VERIFIED, run.t))
    run.do(run.stages.was_changed(True, run.t))
    run.switched_on()
    # 110 V of 230 V are as they should be behind 40 W, and far too much behind 100 W.
    run.play(5.0, {"mains": 230.0, "lamp": 110.0, "+B": 22.9})
    assert len(run.trips) == 1
    assert "lamp" in run.trips[0]


def test_a_unit_that_stays_on_trips() -> None:
    run = on_the_first()
    run.next()
    (order,) = run.stages.was_put_off(CutOutcome.STILL_LIVE, run.t)
    assert (order.what, order.kind) == ("switch_off", "tripped")


def test_limits_do_not_rest_for_ever_for_a_person_who_does_not_switch_off() -> None:
    run = on_the_first(by_hand=True)
    run.next()
    run.play(LONGEST_DRILL - 5.0, {"mains": 230.0, "lamp": 110.0, "+B": 22.9})
    assert state(run) is State.GOING_OFF
    run.play(10.0, {"mains": 230.0, "lamp": 110.0, "+B": 22.9})
    assert state(run) is State.SWITCHING_OFF
    assert run.orders[-1].text == "the unit was not seen to go off for the change"


def test_where_nothing_shows_it_the_plug_is_asked_for_and_a_person_tells() -> None:
    run = on_the_first()
    run.next()
    assert run.do(run.stages.was_put_off(CutOutcome.UNKNOWN, run.t)) == ["switch_off"]
    assert run.orders[-1].text == "No meter shows that the unit is off. Pull the plug, then say so."
    assert state(run) is State.GOING_OFF
    assert run.do(run.stages.was_put_off(CutOutcome.UNKNOWN, run.t, told=True)) == ["fit_lamp"]


def test_by_hand_a_person_is_asked_to_switch_off() -> None:
    run = on_the_first(by_hand=True)
    assert run.next() == ["pause", "switch_off"]
    assert run.orders[-1].text == "Switch the unit off, to fit the 100 W lamp."


def test_what_is_not_fitted_leaves_the_unit_off_and_is_asked_for_anew() -> None:
    run = on_the_first()
    run.next()
    run.do(run.stages.was_put_off(CutOutcome.VERIFIED, run.t))
    run.do(run.stages.was_changed(False, run.t))
    assert state(run) is State.STANDING
    assert run.next() == ["fit_lamp"]
    assert run.orders[-1].data["watts"] == 40.0


def test_back_is_a_change_as_well() -> None:
    run = on_the_first()
    run.next()
    run.do(run.stages.was_put_off(CutOutcome.VERIFIED, run.t))
    run.do(run.stages.was_changed(True, run.t))
    run.switched_on()
    assert run.do(run.stages.back(run.t)) == ["pause"]
    assert refused(run, "next").startswith("the run is going off")


def test_the_last_stage_has_no_lamp_and_its_socket_is_bridged() -> None:
    plan = plan_of(MAINS, LAMP, PLUS, source=WALL, stages=LADDER)
    assert plan.fitted_at(2).words == "take the lamp out and bridge its socket"
    assert (
        plan_of(PLUS, stages=("name='a', fraction=0.4, dwell=1.0, link='22 ohm in each rail'",))
        .fitted_at(0)
        .link
    )


def test_a_limit_behind_a_lamp_that_no_stage_has_is_a_fault() -> None:
    with pytest.raises(BadInput, match="no stage is behind a lamp of 60 W"):
        plan_of(LAMP, limits=("trace='lamp', kind='high', of_source=0.6, lamp_watts=60.0",), stages=LADDER)


def test_a_plan_that_changes_nothing_asks_for_no_lamp() -> None:
    run = PoweredUp(plan_of(MAINS, LAMP, PLUS, IDLE))
    assert run.next() == ["set_dial"]


def by_lamps(plan: Plan) -> Plan:
    """The example's plan as a ladder of lamps."""
    kept = tuple(limit for limit in plan.limit if limit.trace != "lamp" or limit.kind is not LimitKind.HIGH)
    rungs = tuple(
        StagePlan(name=f"{watts:g} W", fraction=1.0, dwell=10.0, lamp_watts=watts)
        for watts in (40.0, 100.0, 0.0)
    )
    return replace(plan, stage=rungs, limit=kept)


@pytest.mark.parametrize("every", [None, HANDHELD])
def test_a_healthy_amplifier_goes_up_the_lamps_without_a_trip(every: object) -> None:
    run = Stepped("by-hand", 3, every=every, remade=by_lamps)  # type: ignore[arg-type]
    run.begin()
    assert run.climb(400.0), (run.trips, run.run.stages.state, run.run.stages.index, run.said[-5:])
    run.live(30.0)
    assert run.trips == []


def changed_and_on(run: PoweredUp) -> None:
    """Off for a change, changed, and on again."""
    assert run.next() == ["pause"]
    run.play(3.0, {"mains": 0.0, "lamp": 0.0, "+B": 20.0})
    run.do(run.stages.was_put_off(CutOutcome.VERIFIED, run.t))
    run.do(run.stages.was_changed(True, run.t))
    run.switched_on()


def test_a_lamp_that_is_left_in_at_the_direct_stage_is_told_and_the_end_not_offered() -> None:
    run = on_the_first()
    changed_and_on(run)
    run.play(25.0, {"mains": 230.0, "lamp": 23.0, "+B": 39.9})
    changed_and_on(run)
    run.play(25.0, {"mains": 230.0, "lamp": 23.0, "+B": 39.9})
    told = {one.what: (one.holds, one.progress) for one in run.stages.awaited(run.t)}
    assert told["the lamp to be out"] == (False, "23.00 V across it")
    assert state(run) is State.DWELLING
    assert refused(run, "next").startswith("still waiting for the lamp to be out")
    run.play(5.0, {"mains": 230.0, "lamp": 0.1, "+B": 44.4})
    assert "the lamp to be out" not in {one.what for one in run.stages.awaited(run.t)}
    assert state(run) is State.READY
