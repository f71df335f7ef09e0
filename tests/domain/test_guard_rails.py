"""Rails, lamp and supply against the source: what a comparison with mains or last readings gets wrong."""

import pytest
from helpers.watched import (
    BENCH_SUPPLY,
    DIRECT,
    LAMP,
    MAINS,
    MINUS,
    PLUS,
    STATE,
    VOLTS,
    Watched,
    ns,
    plan_of,
    ramp,
)

from benchlog.domain.reading import STATES, Outcome, SupplyState
from benchlog.domain.trace import SECOND

CEILING = "trace='+B', kind='high', value=50.0"
RAIL_LOW = "trace='+B', kind='rail_low'"
RAIL_HIGH = "trace='+B', kind='rail_high'"
APART = "trace='+B', kind='apart', partner='-B'"
ONE_VOLT = ["name='1', volts=1.0, current_limit=0.1, dwell=1.0"]


def watched(*traces: str, limits: tuple[str, ...] = (), **more: object) -> Watched:
    """A guard over these traces, armed, with the source off."""
    return Watched(plan_of(*traces, limits=limits, **more))  # type: ignore[arg-type]


class TestRailsFollowTheSource:
    """Against what mains and lamp leave for the unit, behind a lamp more gently."""

    def test_a_healthy_rail_behind_a_lamp_that_takes_its_share_does_not_trip(self) -> None:
        # Proportion to mains would call 26 V of 44 V a broken rail.
        bench = watched(MAINS, LAMP, PLUS, limits=(RAIL_LOW, RAIL_HIGH))
        bench.at_rest(230.0)
        bench.play(30.0, {"mains": 230.0, "lamp": 95.0, "+B": 25.8})
        assert bench.found == []

    def test_the_same_rail_without_a_lamp_is_low(self) -> None:
        bench = watched(MAINS, PLUS, source=DIRECT, limits=(RAIL_LOW, RAIL_HIGH))
        bench.at_rest(230.0)
        bench.play(30.0, {"mains": 230.0, "+B": 25.8})
        assert bench.trips == ["+B 25.80 V, low, should read about 44.43 V"]

    def test_a_healthy_rail_at_a_tenth_of_mains_does_not_trip(self) -> None:
        bench = watched(
            MAINS, PLUS, source=DIRECT, limits=(RAIL_LOW + ", floor=0.5", RAIL_HIGH + ", floor=0.5")
        )
        bench.at_rest(23.0)
        bench.play(30.0, {"mains": 23.0, "+B": 3.86})
        assert bench.found == []

    def test_a_rail_is_low_only_after_the_source_was_steady_for_five_seconds_behind_a_lamp(self) -> None:
        bench = watched(MAINS, LAMP, PLUS, limits=(RAIL_LOW,))
        bench.at_rest(230.0)
        (broken,) = bench.play(20.0, {"mains": 230.0, "lamp": 20.0, "+B": 5.0})
        assert 7.0 <= broken.t / SECOND <= 7.5

    def test_and_after_two_seconds_direct(self) -> None:
        bench = watched(MAINS, PLUS, source=DIRECT, limits=(RAIL_LOW,))
        bench.at_rest(230.0)
        (broken,) = bench.play(20.0, {"mains": 230.0, "+B": 5.0})
        assert 4.0 <= broken.t / SECOND <= 4.5

    def test_a_rail_that_is_high_trips_sooner_than_one_that_is_low(self) -> None:
        bench = watched(MAINS, PLUS, source=DIRECT, limits=(RAIL_HIGH,))
        bench.at_rest(115.0)
        (broken,) = bench.play(20.0, {"mains": 115.0, "+B": 40.0})
        assert 3.0 <= broken.t / SECOND <= 3.5
        assert broken.text.startswith("+B 40.00 V, high, should read about 21.89 V")

    def test_a_negative_rail_is_judged_by_its_size_and_named_with_its_sign(self) -> None:
        bench = watched(
            MAINS,
            MINUS,
            source=DIRECT,
            limits=("trace='-B', kind='rail_low'", "trace='-B', kind='rail_high'"),
        )
        bench.at_rest(230.0)
        bench.play(10.0, {"mains": 230.0, "-B": -44.4})
        assert bench.found == []
        bench.play(5.0, {"mains": 230.0, "-B": -60.0})
        (broken,) = bench.found
        assert broken.text == "-B -60.00 V, high, should read about -44.43 V"
        assert broken.bound == pytest.approx(-48.87, abs=0.01)

    def test_a_low_negative_rail_is_told_with_its_sign(self) -> None:
        bench = watched(MAINS, MINUS, source=DIRECT, limits=("trace='-B', kind='rail_low'",))
        bench.at_rest(230.0)
        (broken,) = bench.play(10.0, {"mains": 230.0, "-B": -10.0})
        assert broken.text == "-B -10.00 V, low, should read about -44.43 V"
        assert broken.bound == pytest.approx(-39.99, abs=0.01)

    def test_low_limits_rest_while_the_source_is_moving(self) -> None:
        bench = watched(MAINS, PLUS, source=DIRECT, limits=(RAIL_LOW, "trace='+B', kind='low', value=3.0"))
        bench.at_rest(230.0)
        bench.play(5.0, {"mains": 230.0, "+B": 44.4})
        bench.play(20.0, {"mains": ramp(230.0, 5.0, -10.0), "+B": 1.0})
        assert bench.moves == ["moving"]
        assert bench.found == []

    def test_low_limits_rest_while_the_unit_is_off(self) -> None:
        bench = watched(MAINS, PLUS, limits=(RAIL_LOW, RAIL_HIGH, "trace='+B', kind='low', value=3.0"))
        bench.play(30.0, {"mains": 230.0, "+B": 0.0})
        assert bench.found == []

    def test_behind_a_lamp_that_no_meter_watches_a_low_rail_asks(self) -> None:
        bench = watched(PLUS, limits=(RAIL_LOW,))
        bench.at_rest(230.0)
        bench.play(20.0, {"+B": 25.0})
        assert (len(bench.warnings), bench.trips) == (1, [])

    def test_behind_a_lamp_whose_meter_never_spoke_a_low_rail_asks_as_well(self) -> None:
        bench = watched("name='lamp', role='lamp', critical=false", PLUS, limits=(RAIL_LOW,))
        bench.at_rest(230.0)
        bench.play(20.0, {"+B": 25.0, "lamp": Outcome.MISSING})
        assert (len(bench.warnings), bench.trips) == (1, [])

    def test_a_bound_may_wait_longer_for_a_steady_source(self) -> None:
        bench = watched(PLUS, limits=(CEILING + ", after_steady=10.0",))
        bench.play(3.0, {"+B": 51.0})
        bench.at_rest(230.0)
        bench.play(9.9, {"+B": 51.0})
        assert bench.found == []
        bench.play(1.0, {"+B": 51.0})
        assert len(bench.trips) == 1


class TestOfTheSource:
    """The lamp against the voltage applied to lamp plus unit."""

    LIMIT = "trace='lamp', kind='high', of_source=0.6, persistence=1.0"

    def test_a_lamp_that_takes_most_of_the_applied_voltage_trips_at_every_setting(self) -> None:
        for volts in (23.0, 92.0, 230.0):
            bench = watched(MAINS, LAMP, limits=(self.LIMIT,))
            bench.on(volts)
            bench.play(5.0, {"mains": volts, "lamp": 0.55 * volts})
            assert bench.found == []
            bench.play(5.0, {"mains": volts, "lamp": 0.65 * volts})
            assert len(bench.trips) == 1

    def test_the_lamp_stays_armed_while_the_source_is_moving(self) -> None:
        bench = watched(LAMP, limits=(self.LIMIT,))
        bench.at_rest(92.0)
        bench.guard.feed.begin_move(138.0, bench.t)
        bench.play(3.0, {"lamp": 90.0})
        assert len(bench.trips) == 1

    def test_unmetered_mains_is_what_was_told_and_while_it_moves_the_higher_setting(self) -> None:
        bench = watched(LAMP, limits=(self.LIMIT,))
        assert bench.guard.applied() == (0.0, False)
        bench.at_rest(92.0)
        assert bench.guard.applied() == (92.0, False)
        bench.guard.feed.begin_move(138.0, bench.t)
        assert bench.guard.applied() == (138.0, False)

    def test_a_mains_meter_goes_before_what_was_told(self) -> None:
        bench = watched(MAINS, LAMP, limits=(self.LIMIT,))
        bench.at_rest(92.0)
        bench.give("mains", 101.0)
        assert bench.guard.applied() == (101.0, True)

    def test_the_noise_of_two_meters_on_a_dead_source_is_no_broken_limit(self) -> None:
        bench = watched(MAINS, LAMP, limits=(self.LIMIT,))
        bench.play(10.0, {"mains": 0.01, "lamp": 0.03})
        assert bench.found == []

    def test_a_lamp_that_glows_while_the_mains_meter_reads_nothing_trips_all_the_same(self) -> None:
        bench = watched(MAINS, LAMP, limits=(self.LIMIT,))
        bench.play(10.0, {"mains": 0.01, "lamp": 100.0})
        assert len(bench.trips) == 1

    def test_a_regulated_output_that_stays_down_is_low_of_the_source(self) -> None:
        bench = watched(
            VOLTS,
            "name='out', role='regulated'",
            source=BENCH_SUPPLY,
            stages=ONE_VOLT,
            limits=("trace='out', kind='low', of_source=0.6, persistence=3.0",),
        )
        bench.at_rest(20.0)
        bench.play(8.0, {"volts": 20.0, "out": -15.0})
        assert bench.found == []
        bench.play(8.0, {"volts": 20.0, "out": -0.2})
        assert bench.trips == ["out -0.20 V, below its limit of 12.00 V"]


class TestRailsApart:
    """By more than 15 % and 1.5 V, compared at one time, once the standing one has stopped moving."""

    def test_a_missing_rail_trips(self) -> None:
        bench = watched(PLUS, MINUS, limits=(APART,))
        bench.at_rest(92.0)
        bench.play(10.0, {"+B": 16.0, "-B": -0.02})
        assert len(bench.trips) == 1
        assert bench.trips == ["+B 16.00 V and -B -20 mV are 15.98 V apart"]

    def test_the_rail_named_first_may_be_the_missing_one(self) -> None:
        bench = watched(PLUS, MINUS, limits=(APART,))
        bench.at_rest(92.0)
        bench.play(10.0, {"+B": 0.0, "-B": -16.0})
        assert bench.trips == ["+B 0.00 V and -B -16.00 V are 16.00 V apart"]

    def test_rails_within_a_band_or_both_near_nothing_are_not_compared_further(self) -> None:
        for plus, minus in ((44.0, -38.0), (9.0, -7.6), (4.9, 0.0)):
            bench = watched(PLUS, MINUS, limits=(APART,))
            bench.at_rest(92.0)
            bench.play(10.0, {"+B": plus, "-B": minus})
            assert bench.found == []

    def test_rails_that_fall_slowly_are_compared_at_one_time_and_not_by_their_last_readings(self) -> None:
        # 0.75 V/s on 40 V: the second rail's handheld answers every 2.2 s, so that its last reading is up to
        # 1.6 V behind, on rails that are always equal.
        limit = APART + ", fraction=0.02, floor=1.0"
        bench = Watched(plan_of(PLUS, MINUS, limits=[limit]), pace={"-B": 2.2})
        bench.at_rest(230.0)
        bench.play(14.0, {"+B": ramp(40.0, 0.0, -0.75), "-B": ramp(-40.0, 0.0, 0.75)})
        assert bench.trips == []

    def test_rails_that_part_are_found_by_a_slow_second_meter_as_well(self) -> None:
        bench = Watched(plan_of(PLUS, MINUS, limits=[APART]), pace={"-B": 1.5})
        bench.at_rest(230.0)
        bench.play(12.0, {"+B": 40.0, "-B": -30.0})
        assert len(bench.trips) == 1

    def test_rails_that_move_by_more_than_two_per_cent_a_second_are_not_compared(self) -> None:
        bench = watched(PLUS, MINUS, limits=(APART,))
        bench.at_rest(92.0)
        bench.guard.feed.moving = False
        bench.play(6.0, {"+B": ramp(40.0, 0.0, -1.2), "-B": ramp(-30.0, 0.0, 0.1)})
        assert bench.found == []

    def test_one_odd_reading_of_a_meter_that_then_falls_silent_stays_one_reading(self) -> None:
        bench = watched(PLUS, MINUS, limits=(APART,))
        bench.at_rest(92.0)
        bench.play(5.0, {"+B": 16.0, "-B": -16.0})
        bench.give("-B", -2.0)
        bench.play(4.5, {"+B": 16.0})
        assert bench.trips == []

    @pytest.mark.parametrize("paces", [(2.0, 2.0), (0.25, 2.5), (2.5, 0.25)])
    def test_odd_readings_of_a_slow_meter_between_good_ones_stay_one_reading_each(
        self, paces: tuple[float, float]
    ) -> None:
        bench = Watched(
            plan_of(PLUS, MINUS, limits=[APART]), pace=dict(zip(("+B", "-B"), paces, strict=True))
        )
        bench.at_rest(230.0)
        bench.play(1.0, {"+B": 40.0})
        bench.play(11.0, {"+B": 40.0, "-B": -40.0})
        for _ in range(2):
            bench.play(bench._pace["-B"], {"+B": 40.0, "-B": -4.0})
            bench.play(bench._pace["-B"], {"+B": 40.0, "-B": -40.0})
        assert [value for _, value in bench.guard.traces["-B"].recent(60.0, bench.t)].count(-4.0) == 2
        assert bench.trips == []

    def test_rails_are_not_compared_before_both_were_read_or_after_their_times_part(self) -> None:
        bench = watched(PLUS, MINUS, limits=(APART,))
        bench.at_rest(92.0)
        bench.play(4.0, {"+B": 16.0})
        bench.give("-B", -3.0)
        bench.play(0.5, {"+B": 16.0})
        assert bench.found == []

    def test_a_standing_rail_whose_meter_fell_silent_is_not_compared(self) -> None:
        bench = watched(PLUS, MINUS, limits=(APART,))
        bench.at_rest(92.0)
        bench.play(3.0, {"+B": 16.0, "-B": -15.9})
        bench.play(4.0, {"-B": ramp(-16.0, 3.0, 4.0)})
        assert bench.trips == []

    def test_rails_just_above_five_volts_are_compared(self) -> None:
        bench = watched(PLUS, MINUS, limits=(APART,))
        bench.at_rest(40.0)
        bench.play(10.0, {"+B": 5.5, "-B": -2.0})
        assert len(bench.trips) == 1

    def test_rails_that_discharge_at_paces_of_their_own_after_off_do_not_trip(self) -> None:
        bench = watched(PLUS, MINUS, limits=(APART,))
        bench.play(10.0, {"+B": 30.0, "-B": -20.0})
        assert bench.found == []

    def test_rails_are_not_compared_while_somebody_is_asked_to_turn_the_source(self) -> None:
        bench = watched(MAINS, PLUS, MINUS, limits=(APART,))
        bench.at_rest(92.0)
        bench.guard.feed.begin_move(138.0, bench.t)
        bench.play(10.0, {"mains": 92.0, "+B": 30.0, "-B": -20.0})
        assert bench.found == []

    def test_rails_do_not_trip_while_they_come_up_one_after_the_other(self) -> None:
        bench = watched(MAINS, PLUS, MINUS, limits=(APART,))
        bench.on(92.0)
        bench.play(2.5, {"mains": 92.0, "+B": 16.0, "-B": 0.0})
        bench.play(10.0, {"mains": 92.0, "+B": 16.0, "-B": -16.0})
        assert bench.found == []

    def test_a_second_reading_is_needed_before_the_first_moment_both_can_be_compared_at(self) -> None:
        bench = watched(PLUS, MINUS, limits=(APART,))
        bench.at_rest(92.0)
        bench.play(3.0, {"-B": -16.0})
        # The other rail is read for the first time only after the last comparison point of this one.
        bench.give("+B", 3.0)
        assert bench.found == []


def test_a_sentence_says_what_was_read_when_it_broke_however_late_it_is_asked_for() -> None:
    limits = (
        RAIL_LOW,
        APART,
        "trace='-B', kind='polarity'",
        CEILING,
        "trace='mains', kind='low', value=250.0",
    )
    bench = watched(
        MAINS, PLUS, MINUS, source=DIRECT, limits=tuple(f"{one}, action='warn'" for one in limits)
    )
    bench.at_rest(230.0)
    bench.play(10.0, {"mains": 230.0, "+B": 20.0, "-B": 5.0})
    bench.play(1.0, {"mains": 230.0, "+B": 60.0, "-B": -44.0})
    bench.play(8.0, {"mains": 231.0, "+B": 44.0, "-B": Outcome.OVERLOAD})
    bench.play(3.0, {})
    assert sorted(bench.warnings) == [
        "+B 20.00 V and -B 5.00 V are 15.00 V apart",
        "+B 20.00 V, low, should read about 44.43 V",
        "+B 60.00 V, above its limit of 50.00 V",
        "-B is beyond the range of its meter",
        "-B reads 5.00 V, the wrong sign; or the leads are swapped",
        "mains 230.0 V, below its limit of 250.0 V",
        *(f"no reading from {name} for 2.0 s" for name in ("+B", "-B", "mains")),
    ]


class TestPolarity:
    """A rail of the wrong sign above 1 V, by two readings."""

    def test_a_rail_of_the_wrong_sign_trips_and_the_leads_are_named_as_the_other_cause(self) -> None:
        bench = watched(MINUS, limits=("trace='-B', kind='polarity'",))
        bench.give("-B", 2.0)
        (broken,) = bench.give("-B", 2.0)
        assert broken.text == "-B reads 2.00 V, the wrong sign; or the leads are swapped"

    def test_below_a_volt_a_sign_means_nothing(self) -> None:
        bench = watched(MINUS, limits=("trace='-B', kind='polarity'",))
        bench.play(5.0, {"-B": 0.9})
        bench.play(5.0, {"-B": -40.0})
        assert bench.found == []

    def test_of_a_rail_that_is_low_and_of_the_wrong_sign_the_sign_is_told(self) -> None:
        low = "trace='+B', kind='rail_low', persistence=0.0"
        bench = watched(PLUS, limits=(low, "trace='+B', kind='polarity'"))
        bench.at_rest(230.0)
        bench.play(10.0, {"+B": 40.0})
        bench.play(2.0, {"+B": -40.0})
        (trip,) = bench.trips
        assert "leads" in trip

    def test_polarity_does_not_rest_while_the_source_is_moving(self) -> None:
        bench = watched(PLUS, limits=("trace='+B', kind='polarity'",))
        bench.on(23.0)
        bench.play(1.0, {"+B": -3.0})
        assert len(bench.trips) == 1


class TestSupplies:
    """Current limiting, protection or off by itself, after the reservoirs are charged."""

    def supply(self, limit: str = "trace='state', kind='supply', after_steady=1.5") -> Watched:
        bench = watched(STATE, source=BENCH_SUPPLY, stages=ONE_VOLT, limits=(limit,))
        bench.play(2.0, {"state": float(STATES.index(SupplyState.OFF))})
        assert bench.found == []
        return bench

    @pytest.mark.parametrize(
        ("state", "said"),
        [
            (SupplyState.LIMITING, "is in current limit"),
            (SupplyState.PROTECTED, "has shut down by its own protection"),
            (SupplyState.OFF, "has gone off by itself"),
        ],
    )
    def test_an_output_that_does_not_regulate_trips_within_half_a_second(
        self, state: SupplyState, said: str
    ) -> None:
        bench = self.supply()
        bench.on(10.0)
        bench.play(4.0, {"state": float(STATES.index(SupplyState.REGULATING))})
        assert bench.found == []
        (broken,) = bench.play(2.0, {"state": float(STATES.index(state))})
        assert broken.text == f"the supply {said} (state)"
        assert broken.t <= ns(6.0 + 0.25 + 0.5 + 0.25)

    def test_limiting_while_the_reservoirs_charge_is_no_fault(self) -> None:
        bench = self.supply()
        bench.on(10.0)
        bench.play(1.4, {"state": float(STATES.index(SupplyState.LIMITING))})
        bench.play(3.0, {"state": float(STATES.index(SupplyState.REGULATING))})
        assert bench.found == []

    def test_it_is_given_the_same_time_at_each_new_setting(self) -> None:
        bench = self.supply()
        bench.on(10.0)
        bench.play(6.0, {"state": float(STATES.index(SupplyState.REGULATING))})
        bench.guard.feed.begin_move(15.0, bench.t)
        bench.play(1.4, {"state": float(STATES.index(SupplyState.LIMITING))})
        assert bench.found == []
        bench.play(1.0, {"state": float(STATES.index(SupplyState.LIMITING))})
        assert len(bench.trips) == 1

    def test_a_supply_that_limits_does_not_win_time_by_pulling_both_rails_down(self) -> None:
        bench = watched(
            STATE,
            PLUS,
            MINUS,
            source=BENCH_SUPPLY,
            stages=ONE_VOLT,
            limits=("trace='state', kind='supply', after_steady=1.5, persistence=3.0",),
        )
        bench.at_rest(20.0)
        bench.play(4.0, {"state": 1.0, "+B": 20.0, "-B": -20.0})
        bench.play(4.0, {"state": 2.0, "+B": ramp(20.0, 4.0, -3.0), "-B": ramp(-20.0, 4.0, 3.0)})
        assert bench.trips == ["the supply is in current limit (state)"]

    def test_without_a_charging_time_it_is_armed_as_soon_as_it_is_on(self) -> None:
        bench = self.supply("trace='state', kind='supply'")
        bench.on(10.0)
        bench.play(1.0, {"state": float(STATES.index(SupplyState.LIMITING))})
        assert len(bench.trips) == 1
