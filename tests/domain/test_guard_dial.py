"""A dial left up as the unit comes on, one turned down again, and which limits are armed at a moment."""

import math
import random

import pytest
from helpers.watched import DIRECT, LAMP, MAINS, MINUS, PLUS, PoweredUp, Value, Watched, plan_of, ramp

from benchlog.domain.watch import NOT_YET

RAIL_HIGH = "trace='+B', kind='rail_high'"
APART = "trace='+B', kind='apart', partner='-B'"
CEILING = "trace='+B', kind='high', value=50.0"
STAGES = ("name='10 %', fraction=0.1, dwell=10.0", "name='100 %', fraction=1.0, dwell=10.0")


def rail(mains: float) -> float:
    return max(0.196 * mains - 0.65, 0.0)


class TestLeftUp:
    """Going live at the lowest stage with the dial still where the last run left it."""

    def test_two_readings_above_what_was_told_cut(self) -> None:
        run = PoweredUp(plan_of(MAINS, LAMP, stages=STAGES))
        run.play(1.0, {"mains": 0.0, "lamp": 0.0})
        run.begin()
        run.play(0.25, {"mains": 230.0, "lamp": 40.0})
        assert run.trips == []
        run.play(0.5, {"mains": 230.0, "lamp": 40.0})
        assert run.trips == ["mains 230.0 V where 23.00 V was set: the dial was left up"]
        assert run.guard.tripped is not None
        assert run.guard.tripped.limit == "dial left up"

    def test_a_reading_from_before_it_was_switched_on_again_counts_no_more(self) -> None:
        run = PoweredUp(plan_of(MAINS, LAMP, stages=STAGES))
        run.begin()
        run.guard.feed.left_up = 1
        run.guard.feed.switch(False, run.t)
        run.guard.feed.switch(True, run.t)
        assert run.guard.feed.left_up == 0

    @pytest.mark.parametrize("volts", [0.0, 11.0, 23.0, 30.0])
    def test_at_its_setting_or_below_nothing_is_said(self, volts: float) -> None:
        run = PoweredUp(plan_of(MAINS, LAMP, stages=STAGES))
        run.begin()
        run.play(20.0, {"mains": volts, "lamp": 0.0})
        assert run.trips == []

    def test_once_it_has_come_up_right_a_turn_is_a_turn(self) -> None:
        run = PoweredUp(plan_of(MAINS, LAMP, stages=STAGES))
        run.begin()
        run.play(5.0, {"mains": 23.0, "lamp": 2.0})
        run.play(5.0, {"mains": 161.0, "lamp": 20.0})
        assert run.trips == []

    def test_switched_on_again_after_a_drill_it_is_looked_at_again(self) -> None:
        run = PoweredUp(plan_of(MAINS, LAMP, stages=STAGES), by_hand=True)
        run.begin()
        run.play(15.0, {"mains": 23.0, "lamp": 3.0})
        run.play(3.0, {"mains": 0.0, "lamp": 0.0})
        run.do(run.stages.was_drilled(True, run.t))
        run.switched_on()
        run.play(1.0, {"mains": 92.0, "lamp": 10.0})
        assert len(run.trips) == 1


class TestTurnedDown:
    """A reservoir follows the source down in its own time, and no limit takes that for a fault."""

    @pytest.mark.parametrize("turn", [1.0, 20.0, 400.0])
    @pytest.mark.parametrize("tau", [2.0, 20.0, 200.0])
    @pytest.mark.parametrize("to", [0.0, 23.0, 115.0])
    def test_a_healthy_unit_trips_at_no_speed_and_with_no_load(
        self, turn: float, tau: float, to: float
    ) -> None:
        limits = (RAIL_HIGH, APART, CEILING, "trace='-B', kind='rail_high'")
        watched = Watched(plan_of(MAINS, PLUS, MINUS, source=DIRECT, limits=limits))
        watched.at_rest(230.0)
        watched.play(10.0, {"mains": 230.0, "+B": 44.4, "-B": -44.4})

        def mains(t: float) -> float:
            return max(230.0 - turn * (t - 10.0), to)

        def held(t: float, load: float) -> float:
            return max(44.4 * math.exp(-(t - 10.0) / (tau * load)), rail(mains(t)))

        falls: dict[str, Value] = {
            "mains": mains,
            "+B": lambda t: held(t, 1.0),
            "-B": lambda t: -held(t, 1.6),
        }
        watched.play(120.0, falls)
        assert watched.trips == []

    @pytest.mark.parametrize("seed", range(5))
    def test_nor_with_a_meter_whose_digits_dance(self, seed: int) -> None:
        chance = random.Random(seed)
        watched = Watched(plan_of(MAINS, PLUS, source=DIRECT, limits=(RAIL_HIGH,)))
        watched.at_rest(230.0)

        def mains(t: float) -> float:
            return max(230.0 - max(t - 10.0, 0.0), 180.0) * (1.0 + chance.gauss(0.0, 0.002))

        watched.play(120.0, {"mains": mains, "+B": lambda _: 44.4 * (1.0 + chance.gauss(0.0, 0.003))})
        assert watched.trips == []

    def test_a_word_alone_counts_as_a_turn_down_as_well(self) -> None:
        run = PoweredUp(plan_of(LAMP, PLUS, limits=(RAIL_HIGH,), stages=STAGES))
        run.begin()
        run.play(12.0, {"lamp": 2.3, "+B": 3.4})
        run.next()
        run.set()
        run.play(12.0, {"lamp": 23.0, "+B": 39.9})
        run.do(run.stages.back(run.t))
        run.set()
        start = run.now
        run.play(60.0, {"lamp": 2.3, "+B": lambda t: max(39.9 * math.exp(-(t - start) / 30.0), 3.4)})
        assert run.found == []

    def test_a_unit_that_comes_on_while_its_reservoirs_are_still_charged_is_no_fault(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS, MINUS, source=DIRECT, limits=(RAIL_HIGH, APART)))

        def held(t: float) -> float:
            return max(30.0 * math.exp(-t / 60.0), rail(23.0))

        falls: dict[str, Value] = {"+B": held, "-B": lambda t: -0.6 * held(t)}
        watched.play(3.0, {"mains": 0.0, **falls})
        watched.on(23.0)
        watched.play(60.0, {"mains": 23.0, **falls})
        assert watched.found == []
        watched.play(5.0, {"mains": 23.0, "+B": 30.0, "-B": -3.9})
        assert len(watched.trips) == 1

    def test_a_rail_that_came_up_before_anybody_said_on_is_not_held_by_its_reservoir(self) -> None:
        run = PoweredUp(plan_of(LAMP, PLUS, MINUS, limits=(RAIL_HIGH, APART), stages=STAGES), by_hand=True)
        run.play(2.0, {"lamp": 0.0, "+B": 0.1, "-B": -0.1})
        run.next()
        run.set()
        # Switched on with the dial left up: the person says so a second later.
        run.play(1.0, {"lamp": 0.4, "+B": 30.0, "-B": -30.0})
        run.switched_on()
        run.play(60.0, {"lamp": 0.4, "+B": 30.0, "-B": -30.0})
        assert [text.split(",")[0] for text in run.trips] == ["+B 30.00 V"]

    def test_a_rail_that_creeps_out_of_its_band_is_not_held_by_its_reservoir(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS, source=DIRECT, limits=(RAIL_HIGH,)))
        watched.at_rest(230.0)
        watched.play(5.0, {"mains": 230.0, "+B": 48.5})
        watched.play(10.0, {"mains": 230.0, "+B": ramp(48.5, 5.0, 0.1)})
        assert len(watched.trips) == 1

    def test_rails_of_which_nobody_says_what_they_should_read_are_compared_all_the_same(self) -> None:
        source = "moved_by='hand', chain=['wall'], mains=230.0"
        run = PoweredUp(plan_of(PLUS, MINUS, source=source, limits=(APART,), stages=STAGES), by_hand=True)
        run.play(2.0, {"+B": 10.0, "-B": -10.0})
        run.begin()
        run.play(10.0, {"+B": 9.9, "-B": -5.0})
        assert len(run.trips) == 1

    def test_a_rail_that_rises_above_what_the_source_gives_trips(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS, source=DIRECT, limits=(RAIL_HIGH,)))
        watched.at_rest(230.0)
        watched.play(5.0, {"mains": 230.0, "+B": 44.4})
        watched.play(20.0, {"mains": 115.0, "+B": ramp(44.4, 5.0, -0.5)})
        assert watched.found == []
        watched.play(5.0, {"mains": 115.0, "+B": 40.0})
        assert [text.split(",")[0] for text in watched.trips] == ["+B 40.00 V"]

    def test_once_followed_down_it_is_judged_as_before(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS, source=DIRECT, limits=(RAIL_HIGH,)))
        watched.at_rest(230.0)
        watched.play(5.0, {"mains": 230.0, "+B": 44.4})
        watched.play(20.0, {"mains": 115.0, "+B": lambda t: max(44.4 - 3.0 * (t - 5.0), rail(115.0))})
        watched.play(5.0, {"mains": 115.0, "+B": 30.0})
        assert len(watched.trips) == 1

    def test_one_that_stands_where_it_was_asks_and_does_not_cut(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS, source=DIRECT, limits=(RAIL_HIGH,)))
        watched.at_rest(230.0)
        watched.play(5.0, {"mains": 230.0, "+B": 44.4})
        watched.play(60.0, {"mains": 23.0, "+B": 44.4})
        assert (len(watched.warnings), watched.trips) == (1, [])

    def test_one_that_stands_where_it_was_and_wanders_with_the_mains_asks_as_well(self) -> None:
        run = PoweredUp(plan_of(LAMP, PLUS, limits=(RAIL_HIGH,), stages=STAGES))
        run.begin()
        run.play(12.0, {"lamp": 2.3, "+B": 3.4})
        run.next()
        run.set()
        run.play(12.0, {"lamp": 23.0, "+B": 39.9})
        run.do(run.stages.back(run.t))
        run.set()
        # Said to be turned down, and not turned at all.
        run.play(120.0, {"lamp": 23.0, "+B": lambda t: 39.9 * (1.0 + 0.008 * math.sin(t))})
        assert (len(run.warnings), run.trips) == (1, [])

    def test_the_ceiling_stays_armed_all_the_while(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS, source=DIRECT, limits=(RAIL_HIGH, CEILING)))
        watched.at_rest(230.0)
        watched.play(5.0, {"mains": 230.0, "+B": 44.4})
        watched.play(2.0, {"mains": ramp(230.0, 5.0, -50.0), "+B": 51.0})
        assert watched.trips == ["+B 51.00 V, above its limit of 50.00 V"]


class TestArming:
    """How long until each limit of the plan looks."""

    LIMITS = (
        CEILING,
        RAIL_HIGH,
        "trace='lamp', kind='high', of_source=0.35, after_on=3.0",
        "trace='+B', kind='polarity', gate={any_of=['+B'], above=20.0, seconds=5.0}",
    )

    def watched(self) -> Watched:
        watched = Watched(plan_of(LAMP, PLUS, limits=self.LIMITS))
        watched.play(1.0, {"lamp": 0.0, "+B": 0.0})
        return watched

    def test_before_anything_is_on_only_the_ceiling_looks(self) -> None:
        watched = self.watched()
        assert watched.guard.arming(watched.t) == [0.0, NOT_YET, NOT_YET, NOT_YET]

    def test_once_on_and_at_rest_each_says_how_long(self) -> None:
        watched = self.watched()
        watched.at_rest(230.0)
        watched.play(1.0, {"lamp": 20.0, "+B": 40.0})
        arming = watched.guard.arming(watched.t)
        assert arming == [0.0, pytest.approx(4.0), pytest.approx(2.0), pytest.approx(4.25, abs=0.3)]
        watched.play(6.0, {"lamp": 20.0, "+B": 40.0})
        assert watched.guard.arming(watched.t) == [0.0] * 4

    def test_one_that_follows_the_source_is_not_armed_while_the_reservoir_follows_it_down(self) -> None:
        watched = Watched(plan_of(MAINS, LAMP, PLUS, limits=self.LIMITS))
        watched.at_rest(230.0)
        watched.play(10.0, {"mains": 230.0, "lamp": 20.0, "+B": 40.0})
        watched.play(12.0, {"mains": 23.0, "lamp": 2.0, "+B": ramp(40.0, 10.0, -1.0)})
        assert watched.guard.arming(watched.t)[:2] == [0.0, NOT_YET]

    def test_after_the_cut_none_looks(self) -> None:
        watched = self.watched()
        watched.guard.armed = False
        assert watched.guard.arming(watched.t) == [NOT_YET] * 4
