"""A stage counts only where its source stands, and only what was read there."""

import pytest
from helpers.watched import LAMP, MAINS, PLUS, PoweredUp, plan_of, refused, state

from benchlog.domain.stages import State
from benchlog.errors import BadInput

STAGES = (
    "name='10 %', fraction=0.1, dwell=10.0, wait=[{trace='+B', as_expected=true, seconds=1.0}]",
    "name='40 %', fraction=0.4, dwell=10.0, wait=[{trace='lamp', steady=0.1, seconds=5.0}]",
)


def rail(mains: float, lamp: float) -> float:
    return max(0.196 * (mains - lamp) - 0.65, 0.0)


def at(mains: float) -> dict[str, float]:
    """A healthy unit at rest."""
    return {"mains": mains, "lamp": 0.1 * mains, "+B": rail(mains, 0.1 * mains)}


def bench() -> PoweredUp:
    """Mains, lamp and a rail, all metered, off."""
    run = PoweredUp(plan_of(MAINS, LAMP, PLUS, stages=STAGES))
    run.play(1.0, {"mains": 0.0, "lamp": 0.0, "+B": 0.0})
    return run


def come_up() -> PoweredUp:
    """On at the first stage, at rest."""
    run = bench()
    run.begin()
    run.play(4.0, at(23.0))
    return run


class TestWhereTheSourceStands:
    """By the meter, whatever was told."""

    def test_next_is_refused_with_where_it_stands_and_where_it_must(self) -> None:
        run = come_up()
        run.play(12.0, at(23.0))
        run.next()
        run.set()  # told, but the dial has not been touched
        run.play(20.0, at(23.0))
        assert state(run) is State.DWELLING
        with pytest.raises(BadInput) as caught:
            run.stages.next(run.t)
        (fault,) = caught.value.faults
        assert fault.problem == "the source stands at 23.00 V, not at 92.00 V"
        assert fault.fix == "turn it there slowly, or switch off"
        assert run.stages.index == 1

    def test_the_dwell_counts_from_where_it_stands_right(self) -> None:
        run = come_up()
        run.play(12.0, at(23.0))
        run.next()
        run.set()
        run.play(20.0, at(23.0))
        assert run.stages.dwell_left == 10.0
        run.play(20.0, at(92.0))
        assert state(run) is State.READY

    def test_a_source_turned_on_past_the_stage_takes_the_offer_back(self) -> None:
        run = come_up()
        run.play(12.0, at(23.0))
        assert state(run) is State.READY
        run.play(12.0, at(161.0))
        assert state(run) is State.DWELLING
        assert refused(run, "next") == "the source stands at 161.0 V, not at 23.00 V"

    def test_nothing_awaited_holds_beside_the_stage(self) -> None:
        run = come_up()
        run.play(12.0, at(23.0))
        assert run.stages.awaited(run.t)[1].holds
        run.play(12.0, at(161.0))
        assert not run.stages.awaited(run.t)[1].holds

    def test_it_may_still_go_back_or_off(self) -> None:
        run = come_up()
        run.play(12.0, at(23.0))
        run.next()
        run.set()
        run.play(12.0, at(23.0))
        assert run.do(run.stages.back(run.t)) == ["set_dial"]

    def test_a_wall_that_gives_a_tenth_less_stands_where_it_should(self) -> None:
        run = come_up()
        run.play(12.0, at(23.0))
        run.next()
        run.set()
        run.play(20.0, at(83.0))
        assert state(run) is State.READY

    def test_where_no_meter_shows_the_source_the_word_counts(self) -> None:
        run = PoweredUp(plan_of(LAMP, PLUS, stages=STAGES))
        run.begin()
        run.play(15.0, {"lamp": 2.3, "+B": rail(23.0, 2.3)})
        assert state(run) is State.READY


class TestWhatIsAwaited:
    """It holds by what is read at this stage, and never by nothing."""

    def test_a_rail_of_no_volts_before_anything_is_on_is_not_as_expected(self) -> None:
        run = bench()
        _, wait = run.stages.awaited(run.t)
        assert (wait.holds, wait.progress) == (False, "0.00 V")
        run.next()
        run.play(2.0, {"mains": 0.0, "lamp": 0.0, "+B": 0.0})
        assert not run.stages.awaited(run.t)[1].holds

    def test_a_dead_rail_is_not_as_expected_where_the_band_reaches_down_to_nothing(self) -> None:
        stages = ("name='3 %', fraction=0.03, dwell=1.0, wait=[{trace='+B', as_expected=true}]",)
        run = PoweredUp(plan_of(MAINS, PLUS, stages=stages))
        run.begin()
        run.play(12.0, {"mains": 6.9, "+B": 0.0})
        assert run.guard.rail_band("+B").low < 0.0 < run.guard.rail_band("+B").expected
        assert not run.stages.awaited(run.t)[1].holds
        run.play(5.0, {"mains": 6.9, "+B": 0.65})
        assert run.stages.awaited(run.t)[1].holds

    def test_no_rail_is_as_expected_behind_a_source_that_gives_nothing(self) -> None:
        run = come_up()
        run.play(3.0, at(23.0))
        assert run.stages.awaited(run.t)[1].holds
        run.play(8.0, {"mains": 0.0, "lamp": 0.0, "+B": 0.0})
        assert not run.stages.awaited(run.t)[1].holds

    def test_what_was_steady_before_this_stage_says_nothing_about_it(self) -> None:
        run = come_up()
        run.play(12.0, at(23.0))
        run.next()
        run.set()
        run.play(4.0, at(23.0))
        assert not run.stages.awaited(run.t)[1].holds

    def test_nothing_holds_while_the_next_stage_is_being_set(self) -> None:
        run = come_up()
        run.play(12.0, at(23.0))
        run.next()
        run.play(20.0, at(23.0))
        assert state(run) is State.SETTING
        assert not run.stages.awaited(run.t)[1].holds
