"""The stage machine goes up only when asked, one stage at a time, and closes only after off."""

import pytest
from helpers.watched import (
    BENCH_SUPPLY,
    LAMP,
    MAINS,
    PLUS,
    STATE,
    VOLTS,
    PoweredUp,
    plan_of,
    ramp,
    refused,
    state,
)

from benchlog.domain.stages import LIVE, Order, State

TEN_AND_FULL = (
    "name='10 %', fraction=0.1, dwell=10.0, wait=[{trace='+B', as_expected=true}]",
    "name='50 %', fraction=0.5, dwell=20.0",
    "name='100 %', fraction=1.0, dwell=30.0",
)
AT_TEN = {"lamp": 3.0, "+B": 3.4}


def bench(*, by_hand: bool = False) -> PoweredUp:
    """A lamp and a rail, mains unmetered, three stages."""
    run = PoweredUp(plan_of(LAMP, PLUS, stages=TEN_AND_FULL), by_hand=by_hand)
    run.play(1.0, {"lamp": 0.0, "+B": 0.0})
    return run


class TestTheWayUp:
    """Set, switch on, rest, dwell, be offered the next."""

    def test_the_first_next_asks_a_person_to_set_the_dial_before_anything_is_on(self) -> None:
        run = bench()
        run.next()
        assert run.orders == [
            Order(
                "ask",
                "set_dial",
                "Set the variable transformer to 10 %, 23 V.",
                {"fraction": 0.1, "volts": pytest.approx(23.0)},
            )
        ]
        assert (state(run), run.stages.reached) == (State.SETTING, -1)
        assert run.guard.feed.on_since is None

    def test_once_set_it_is_switched_on_and_once_on_it_has_reached_the_stage(self) -> None:
        run = bench()
        run.next()
        assert run.set() == ["switch_on"]
        assert state(run) is State.SWITCHING_ON
        assert run.switched_on() == []
        assert (state(run), run.stages.reached) == (State.MOVING, 0)
        assert run.guard.feed.on_since == run.t

    def test_by_hand_a_person_is_asked_to_switch_on(self) -> None:
        run = bench(by_hand=True)
        run.next()
        run.set()
        assert (run.orders[-1].what, run.orders[-1].kind) == ("ask", "switch_on")

    def test_the_next_stage_is_offered_after_dwell_and_waits(self) -> None:
        run = bench()
        run.begin()
        run.play(9.9, AT_TEN)
        assert state(run) is State.DWELLING
        run.play(0.3, AT_TEN)
        assert state(run) is State.READY

    def test_it_never_goes_up_by_itself(self) -> None:
        run = bench()
        run.begin()
        run.play(100.0, AT_TEN)
        assert (state(run), run.stages.index) == (State.READY, 0)
        assert run.next() == ["set_dial"]
        assert (state(run), run.stages.index, run.stages.reached) == (State.SETTING, 1, 0)

    def test_what_is_on_stays_on_while_the_next_stage_is_set(self) -> None:
        run = bench()
        run.begin()
        since = run.guard.feed.on_since
        run.play(11.0, AT_TEN)
        run.next()
        assert run.set() == []
        assert (state(run), run.guard.feed.on_since, run.stages.reached) == (State.MOVING, since, 1)

    def test_after_the_last_stage_next_means_off(self) -> None:
        run = bench()
        run.begin()
        for _ in range(2):
            run.play(35.0, AT_TEN)
            run.next()
            run.set()
        run.play(35.0, AT_TEN)
        assert run.next() == ["completed"]
        assert state(run) is State.SWITCHING_OFF

    def test_a_supply_is_set_by_the_program_with_its_limit_and_its_protection(self) -> None:
        stages = ("name='10 V', volts=10.0, current_limit=0.15, dwell=5.0",)
        run = PoweredUp(plan_of(VOLTS, STATE, source=BENCH_SUPPLY, stages=stages))
        run.next()
        assert run.orders == [
            Order("set_supply", data={"volts": 10.0, "limit": 0.15, "protection": pytest.approx(11.0)})
        ]
        assert (run.guard.feed.target, run.guard.feed.moving) == (10.0, True)
        assert run.set() == ["switch_on"]
        run.switched_on()
        run.play(2.0, {"volts": 10.0, "state": 1.0})
        assert state(run) is State.MOVING
        run.play(2.0, {"volts": 10.0, "state": 1.0})
        assert state(run) is State.DWELLING


class TestDwell:
    """Dwell counts only at rest."""

    def test_with_a_mains_meter_dwell_counts_from_a_steady_source_and_not_from_a_word(self) -> None:
        run = PoweredUp(plan_of(MAINS, PLUS))
        run.begin()
        run.play(4.0, {"mains": ramp(60.0, 0.0, 8.0), "+B": 5.0})
        assert (state(run), run.stages.dwell_left) == (State.MOVING, 10.0)
        run.play(6.0, {"mains": 92.0, "+B": 17.0})
        assert state(run) is State.DWELLING
        assert 6.0 < run.stages.dwell_left < 8.0

    def test_dwell_stands_still_while_somebody_turns_the_source(self) -> None:
        run = PoweredUp(plan_of(MAINS, PLUS))
        run.begin()
        run.play(8.0, {"mains": 92.0, "+B": 17.0})
        left = run.stages.dwell_left
        assert 4.0 < left < 6.0
        run.play(6.0, {"mains": ramp(92.0, 8.0, 1.5), "+B": 17.0})
        assert state(run) is State.MOVING
        assert left - 2.0 < run.stages.dwell_left < left
        stopped = run.stages.dwell_left
        run.play(2.0, {"mains": 101.0, "+B": 18.0})
        assert (state(run), run.stages.dwell_left) == (State.MOVING, stopped)
        run.play(12.0, {"mains": 101.0, "+B": 18.0})
        assert state(run) is State.READY

    def test_a_source_turned_while_the_next_stage_is_offered_takes_the_offer_back(self) -> None:
        run = PoweredUp(plan_of(MAINS, PLUS))
        run.begin()
        run.play(15.0, {"mains": 92.0, "+B": 17.0})
        assert state(run) is State.READY
        run.play(3.0, {"mains": ramp(92.0, 15.0, 5.0), "+B": 17.0})
        assert state(run) is State.MOVING
        assert refused(run, "next") == "the run is moving"

    def test_dwell_begins_anew_at_each_stage(self) -> None:
        run = bench()
        run.begin()
        run.play(11.0, AT_TEN)
        run.next()
        assert run.stages.dwell_left == 20.0

    def test_dwell_does_not_count_while_a_person_takes_their_time_to_set_the_dial(self) -> None:
        run = bench()
        run.begin()
        run.play(11.0, AT_TEN)
        run.next()
        run.play(60.0, AT_TEN)
        assert run.stages.dwell_left == 20.0

    def test_dwell_may_be_ended_early(self) -> None:
        run = bench()
        run.begin()
        run.play(4.0, AT_TEN)
        assert run.stages.dwell_left > 5.0
        assert run.next() == ["set_dial"]
        assert run.stages.index == 1

    def test_what_remains_of_the_dwell_is_told_first(self) -> None:
        run = bench()
        run.begin()
        run.play(4.0, AT_TEN)
        dwell, wait = run.stages.awaited(run.t)
        assert (dwell.what, dwell.holds, dwell.progress) == ("dwell 10 s", False, "6 s left")
        assert (wait.what, wait.holds, wait.progress) == ("+B as expected", True, "3.40 V")
        run.play(7.0, AT_TEN)
        assert run.stages.awaited(run.t)[0].progress == ""


class TestWhatCouldNotBeSet:
    """Nothing is taken for done that was not."""

    def test_a_dial_that_could_not_be_set_before_the_unit_is_on_leaves_it_standing(self) -> None:
        # From a hold it could be resumed, and the unit first switched on at the second stage.
        run = bench()
        run.next()
        assert run.set(done=False) == []
        assert (state(run), run.stages.index) == (State.STANDING, 0)
        assert run.next() == ["set_dial"]
        assert run.stages.index == 0

    def test_a_dial_that_could_not_be_turned_up_holds_the_run_at_the_stage_it_stands_at(self) -> None:
        run = bench()
        run.begin()
        run.play(11.0, AT_TEN)
        run.next()
        run.set(done=False)
        assert (state(run), run.stages.index, run.stages.reached) == (State.HELD, 0, 0)
        assert run.guard.feed.assumed == pytest.approx(23.0)
        run.stages.resume()
        run.play(12.0, AT_TEN)
        assert run.next() == ["set_dial"]
        assert run.stages.index == 1

    def test_a_way_up_or_down_that_failed_leaves_it_at_the_stage_it_stood_at(self) -> None:
        run = bench()
        run.begin()
        run.play(11.0, AT_TEN)
        run.next()
        run.set()
        run.play(25.0, AT_TEN)
        run.next()
        run.set(done=False)
        assert (state(run), run.stages.index, run.stages.reached) == (State.HELD, 1, 1)
        run.stages.back(run.t)
        assert run.stages.index == 0
        run.set(done=False)
        assert (state(run), run.stages.index) == (State.HELD, 1)

    def test_a_unit_that_was_not_switched_on_leaves_it_standing(self) -> None:
        run = bench()
        run.next()
        run.set()
        run.switched_on(done=False)
        assert state(run) is State.STANDING
        assert run.next() == ["set_dial"]

    def test_answers_that_come_too_late_change_nothing(self) -> None:
        run = bench()
        assert run.set() == []
        assert run.switched_on() == []
        assert run.do(run.stages.was_drilled(True, run.t)) == []
        run.stages.confirmed_off(run.t)
        assert state(run) is State.STANDING
        run.stages.went_off(run.t)
        assert run.set() == run.switched_on() == []
        assert state(run) is State.TAIL


class TestBackHoldResume:
    """Down, stay, go on."""

    def test_back_sets_the_stage_below(self) -> None:
        run = bench()
        run.begin()
        run.play(11.0, AT_TEN)
        run.next()
        run.set()
        run.play(1.0, AT_TEN)
        assert run.do(run.stages.back(run.t)) == ["set_dial"]
        assert run.orders[-1].data["fraction"] == 0.1
        assert (run.stages.index, run.stages.reached) == (0, 1)

    def test_below_the_lowest_stage_there_is_only_off(self) -> None:
        run = bench()
        run.begin()
        run.play(1.0, AT_TEN)
        assert refused(run, "back") == "this is the lowest stage"

    def test_a_held_run_offers_nothing_until_resumed_but_its_dwell_counts(self) -> None:
        run = bench()
        run.begin()
        run.play(1.0, AT_TEN)
        assert run.stages.hold() == []
        run.play(60.0, AT_TEN)
        assert state(run) is State.HELD
        assert run.stages.dwell_left == 0.0
        assert refused(run, "next") == "the run is held"
        assert run.stages.resume() == []
        run.play(0.1, AT_TEN)
        assert state(run) is State.READY

    def test_a_run_held_while_the_source_moves_is_resumed_into_the_move(self) -> None:
        run = PoweredUp(plan_of(MAINS, PLUS))
        run.begin()
        run.play(1.0, {"mains": 92.0, "+B": 17.0})
        run.stages.hold()
        run.play(1.0, {"mains": 92.0, "+B": 17.0})
        run.stages.resume()
        assert state(run) is State.MOVING

    def test_a_held_run_can_go_back_and_off(self) -> None:
        run = bench()
        run.begin()
        run.play(11.0, AT_TEN)
        run.next()
        run.set()
        run.stages.hold()
        assert run.do(run.stages.back(run.t)) == ["set_dial"]
        assert run.do(run.stages.off()) == ["stopped"]

    @pytest.mark.parametrize("act", ["back", "hold", "resume", "off"])
    def test_before_the_first_stage_there_is_nothing_to_go_back_from_or_to_hold(self, act: str) -> None:
        assert refused(bench(), act) == "the run is standing"

    @pytest.mark.parametrize("act", ["next", "back", "hold", "resume"])
    def test_while_the_dial_is_being_set_only_off_is_left(self, act: str) -> None:
        run = bench()
        run.next()
        assert refused(run, act) == "the run is setting"
        assert run.do(run.stages.off()) == ["stopped"]


class TestOff:
    """Logging goes on after off, longer where nobody has seen it, and then closes."""

    def test_off_is_offered_in_every_live_state_and_in_no_other(self) -> None:
        for one in State:
            run = bench()
            run.stages.state = one
            assert run.stages.live == (one in LIVE)
            if one in LIVE:
                assert run.do(run.stages.off()) == ["stopped"]
            else:
                assert refused(run, "off") == f"the run is {one}"

    def test_a_run_is_complete_only_where_the_last_stage_was_dwelt_out(self) -> None:
        def ended(seconds: float, stages: int, act: str) -> tuple[str, str]:
            run = bench()
            run.begin()
            for _ in range(stages):
                run.play(35.0, AT_TEN)
                run.next()
                run.set()
            run.play(seconds, AT_TEN)
            (order,) = run.stages.next(run.t) if act == "next" else run.stages.off()
            assert order.what == "switch_off"
            return order.kind, order.text

        complete = ("completed", "all stages done")
        assert ended(35.0, 2, "next") == complete
        assert ended(35.0, 2, "off") == complete
        assert ended(5.0, 2, "off") == ("stopped", "ended at stage 100 %")
        assert ended(35.0, 1, "off") == ("stopped", "ended at stage 50 %")

    def test_off_is_known_only_once_it_was_seen(self) -> None:
        run = bench()
        run.begin()
        run.stages.confirmed_off(run.t)
        assert not run.stages.off_is_known
        run.stages.went_off(run.t)
        assert not run.stages.off_is_known
        run.stages.confirmed_off(run.t)
        assert run.stages.off_is_known

    def test_a_live_run_cannot_be_closed_nor_one_that_is_being_switched_off(self) -> None:
        run = bench()
        run.begin()
        assert refused(run, "close") == "the run is moving"
        run.stages.off()
        assert refused(run, "close") == "the run is switching off"
        run.stages.went_off(run.t)
        assert run.do(run.stages.close()) == ["close"]
        assert state(run) is State.CLOSED

    def test_a_run_that_never_began_can_be_closed(self) -> None:
        run = bench()
        assert run.do(run.stages.close()) == ["close"]

    def test_a_cut_begins_the_tail_whatever_the_state(self) -> None:
        for one in set(State) - {State.CLOSED}:
            run = bench()
            run.stages.state = one
            run.stages.went_off(run.t)
            assert state(run) is State.TAIL
