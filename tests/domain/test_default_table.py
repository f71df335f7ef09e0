"""Each row of the bench's usual table can be said in a plan and is judged so: common practice, no source."""

from collections.abc import Iterable

import pytest
from helpers.watched import (
    BENCH_SUPPLY,
    DIRECT,
    HALL,
    IDLE,
    LAMP,
    MAINS,
    PLUS,
    STATE,
    Watched,
    plan_of,
    plan_text,
    ramp,
)

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.domain.reading import STATES, SupplyState
from benchlog.domain.reference import Reference, Stood
from benchlog.errors import BadInput

CAN = "name='can', role='can'"
DROPS = ("name='drop +', role='drop'", "name='drop -', role='drop'")
AMPS = "name='mains current', role='mains_amps'"
MIDDLE = "name='midpoint', role='midpoint'"
OUT = "name='+24', role='regulated'"
GOOD_RUN = Reference(
    "2026-03-12", (Stood(92.0, 100.0, 6.0, 0.06), Stood(230.0, 100.0, 20.0, 0.2, {"+B": 40.0}))
)


def watched(
    *traces: str, limits: Iterable[str], reference: Reference | None = None, source: str = HALL
) -> Watched:
    """A guard over these, on at rest since time 0 on full mains."""
    bench = Watched(plan_of(*traces, limits=limits, source=source), reference=reference)
    bench.at_rest(230.0)
    return bench


class TestLampInDwell:
    """Armed after 30 s of rest; a rise within a minute: 10 % warns, 25 % trips."""

    LIMITS = (
        "trace='lamp', kind='rise', fraction=0.10, action='warn'",
        "trace='lamp', kind='rise', fraction=0.25",
    )

    def test_a_lamp_that_brightens_warns_then_trips(self) -> None:
        bench = watched(LAMP, limits=self.LIMITS)
        bench.play(60.0, {"lamp": 23.0})
        assert bench.found == []
        bench.play(20.0, {"lamp": ramp(23.0, 60.0, 0.15)})
        assert len(bench.warnings) == 1
        assert "rises: up by 2." in bench.warnings[0]
        assert "within 60 s" in bench.warnings[0]
        assert bench.trips == []
        bench.play(30.0, {"lamp": ramp(23.0, 60.0, 0.15)})
        assert len(bench.trips) == 1

    def test_what_it_did_before_thirty_seconds_of_rest_is_no_rise(self) -> None:
        bench = watched(LAMP, limits=self.LIMITS)
        bench.play(29.0, {"lamp": ramp(10.0, 0.0, 0.5)})
        bench.play(60.0, {"lamp": 24.5})
        assert bench.found == []

    def test_what_an_inrush_showed_hides_no_rise(self) -> None:
        bench = watched(LAMP, limits=self.LIMITS)
        bench.play(4.0, {"lamp": 90.0})
        bench.play(46.0, {"lamp": 22.0})
        bench.play(20.0, {"lamp": ramp(22.0, 50.0, 0.5)})
        assert len(bench.trips) == 1

    def test_a_slow_rise_is_none_within_the_window(self) -> None:
        bench = watched(LAMP, limits=self.LIMITS)
        bench.play(300.0, {"lamp": ramp(23.0, 0.0, 0.03)})
        assert bench.found == []

    def test_one_odd_reading_is_no_rise(self) -> None:
        bench = watched(LAMP, limits=self.LIMITS)
        bench.play(60.0, {"lamp": 23.0})
        for value in (60.0, 23.0, 1.0, 23.0, 23.0):
            bench.now += 0.25
            assert bench.give("lamp", value) == ()

    def test_what_comes_back_from_a_dip_has_not_risen(self) -> None:
        bench = watched(LAMP, limits=self.LIMITS)
        bench.play(20.0, {"lamp": 22.0})
        # Armed in the middle of the dip: what it read before still counts.
        bench.play(15.0, {"lamp": 17.0})
        for _ in range(3):
            bench.play(12.0, {"lamp": 22.0})
            bench.play(4.0, {"lamp": 17.0})
        assert bench.found == []

    def test_a_rise_is_found_behind_a_dip_too(self) -> None:
        bench = watched(LAMP, limits=self.LIMITS)
        bench.play(50.0, {"lamp": 22.0})
        bench.play(4.0, {"lamp": 17.0})
        bench.play(10.0, {"lamp": 28.0})
        assert len(bench.trips) == 1

    def test_a_dark_lamp_may_glimmer(self) -> None:
        bench = watched(LAMP, limits=self.LIMITS)
        bench.play(60.0, {"lamp": 2.0})
        bench.play(10.0, {"lamp": 3.4})
        assert bench.found == []

    def test_it_looks_anew_after_the_source_was_moved(self) -> None:
        bench = watched(MAINS, LAMP, limits=self.LIMITS)
        bench.play(60.0, {"lamp": 10.0, "mains": 230.0})
        bench.guard.feed.begin_move(240.0, bench.t)
        bench.guard.feed.settle(bench.t)
        bench.play(60.0, {"lamp": 20.0, "mains": 230.0})
        assert bench.found == []


class TestLampOverHealthy:
    """60 % of mains, or 12 % over healthy, 25 % while only the table says what that is."""

    LIMITS = (
        "trace='lamp', kind='high', over_healthy=0.12, after_on=3.0, persistence=1.0",
        "trace='lamp', kind='high', over_healthy=0.06, after_on=3.0, persistence=5.0, action='warn'",
    )

    @pytest.mark.parametrize(("lamp", "trips"), [(79.0, False), (82.0, True)])
    def test_by_the_table_a_hundred_watts_may_have_a_tenth_and_a_quarter(
        self, lamp: float, trips: bool
    ) -> None:
        bench = watched(LAMP, limits=self.LIMITS)
        bench.play(10.0, {"lamp": lamp})
        assert bool(bench.trips) is trips

    def test_by_the_good_run_an_eighth_is_enough(self) -> None:
        bench = watched(LAMP, limits=self.LIMITS, reference=GOOD_RUN)
        bench.play(10.0, {"lamp": 32.0})
        assert bench.found == []
        bench.play(10.0, {"lamp": 36.0})
        assert len(bench.warnings) == 1
        bench.play(4.0, {"lamp": 50.0})
        assert len(bench.trips) == 1

    def test_never_more_than_three_fifths_of_the_mains(self) -> None:
        bench = watched(LAMP, limits=self.LIMITS, source=HALL.replace("100.0", "40.0"))
        bench.play(10.0, {"lamp": 137.0})
        assert bench.trips == []
        bench.play(4.0, {"lamp": 139.0})
        assert len(bench.trips) == 1

    def test_it_does_not_rest_while_the_source_moves(self) -> None:
        bench = watched(MAINS, LAMP, limits=self.LIMITS)
        bench.play(5.0, {"mains": 230.0})
        bench.guard.feed.begin_move(240.0, bench.t)
        bench.play(2.0, {"lamp": 150.0, "mains": 230.0})
        assert len(bench.trips) == 1


class TestDropsApart:
    """Two safety resistors that differ by 10 % and 0.1 V for 5 s warn."""

    LIMITS = (
        "trace='drop +', kind='apart', partner='drop -', fraction=0.1, floor=0.1, persistence=5.0, action='warn'",
    )

    @pytest.mark.parametrize(
        ("one", "other", "warns"), [(1.1, 1.05, 0), (1.1, 0.9, 1), (0.30, 0.22, 0), (4.0, 3.7, 0)]
    )
    def test_by_a_tenth_and_by_a_tenth_of_a_volt(self, one: float, other: float, warns: int) -> None:
        bench = watched(*DROPS, limits=self.LIMITS)
        bench.play(4.0, {"drop +": one, "drop -": other})
        assert bench.found == []
        bench.play(6.0, {"drop +": one, "drop -": other})
        assert len(bench.warnings) == warns


class TestTemperature:
    """A can that warms by more than 0.4 K/min over three minutes, or stands above 45 degC, warns."""

    LIMITS = (
        "trace='can', kind='rise', value=1.2, window=180.0, after_steady=60.0, action='warn'",
        "trace='can', kind='high', value=45.0, after_on=60.0, action='warn'",
    )

    @pytest.mark.parametrize(("a_minute", "warns"), [(0.35, 0), (0.5, 1)])
    def test_by_its_slope(self, a_minute: float, warns: int) -> None:
        bench = watched(CAN, limits=self.LIMITS)
        bench._pace["can"] = 2.0
        bench.play(420.0, {"can": ramp(25.0, 0.0, a_minute / 60.0)})
        assert len(bench.warnings) == warns

    def test_by_its_height_after_a_minute(self) -> None:
        bench = watched(CAN, limits=self.LIMITS)
        bench.play(59.0, {"can": 46.0})
        assert bench.found == []
        bench.play(3.0, {"can": 46.0})
        assert bench.warnings == ["can 46.0 °C, above its limit of 45.0 °C"]


class TestMainsCurrent:
    """Twice what the good run drew; nobody knows before there is one."""

    LIMITS = ("trace='mains current', kind='high', times_healthy=2.0, after_on=3.0, persistence=2.0",)

    def test_twice_the_healthy_trips(self) -> None:
        bench = watched(AMPS, limits=self.LIMITS, reference=GOOD_RUN)
        bench.play(10.0, {"mains current": 0.39})
        assert bench.found == []
        bench.play(3.0, {"mains current": 0.42})
        assert len(bench.trips) == 1

    def test_without_a_good_run_it_rests_and_says_so(self) -> None:
        bench = watched(AMPS, limits=self.LIMITS)
        bench.play(10.0, {"mains current": 5.0})
        assert bench.found == []
        assert bench.guard.arming(bench.t) == [float("inf")]
        assert not bench.guard.would_trip("mains current", bench.t, fallen=False)


class TestRegulated:
    """Above always; low only once it has woken and stood so for 3 s."""

    LIMITS = (
        "trace='+24', kind='high', value=26.4, persistence=1.0",
        "trace='+24', kind='low', value=21.6, persistence=1.0, after_steady=0.0,"
        " gate={any_of=['+24'], above=21.6, seconds=3.0, stays=true}",
    )

    def test_an_output_that_sleeps_is_not_low(self) -> None:
        bench = watched(OUT, limits=self.LIMITS)
        bench.play(20.0, {"+24": 2.0})
        assert bench.found == []

    def test_one_that_has_woken_and_falls_trips(self) -> None:
        bench = watched(OUT, limits=self.LIMITS)
        bench.play(4.0, {"+24": 24.0})
        bench.play(3.0, {"+24": 2.0})
        assert bench.trips == ["+24 2.00 V, below its limit of 21.60 V"]

    def test_one_that_came_up_for_a_moment_has_not_woken(self) -> None:
        bench = watched(OUT, limits=self.LIMITS)
        bench.play(2.0, {"+24": 24.0})
        bench.play(10.0, {"+24": 2.0})
        assert bench.found == []

    def test_after_a_move_it_must_wake_anew(self) -> None:
        bench = watched(OUT, limits=self.LIMITS)
        bench.play(5.0, {"+24": 24.0})
        bench.guard.feed.begin_move(100.0, bench.t)
        bench.play(2.0, {"+24": 12.0})
        bench.guard.feed.settle(bench.t)
        bench.play(10.0, {"+24": 12.0})
        assert bench.found == []


class TestSupplyState:
    """Armed once what hangs on the output can have been charged: C x V / I."""

    STAGES = (
        "name='a', volts=20.0, current_limit=0.1, dwell=1.0",
        "name='b', volts=25.0, current_limit=0.5, dwell=1.0",
    )

    @pytest.mark.parametrize("more", ["", ", after_steady=1.0"])
    def test_it_waits_for_the_longest_charge_of_the_plan(self, more: str) -> None:
        limits = ("trace='state', kind='supply', capacitance=0.01" + more,)
        bench = Watched(plan_of(STATE, limits=limits, source=BENCH_SUPPLY, stages=self.STAGES))
        bench.at_rest(20.0)
        limiting = float(STATES.index(SupplyState.LIMITING))
        bench.play(1.9, {"state": limiting})
        assert bench.found == []
        bench.play(1.0, {"state": limiting})
        assert len(bench.trips) == 1


class TestIdleLow:
    """A fifth of its target warns, only where that idle was marked as set in this visit."""

    LIMITS = ("trace='idle L', kind='low', value=0.0033, once_set=true, action='warn'",)

    def test_only_once_it_was_set(self) -> None:
        bench = watched(IDLE, limits=self.LIMITS)
        bench.play(20.0, {"idle L": 0.001})
        assert bench.found == []
        assert bench.guard.arming(bench.t) == [float("inf")]
        assert bench.guard.idle_is_set("idle L")
        bench.play(3.0, {"idle L": 0.001})
        assert len(bench.warnings) == 1

    def test_marked_again_it_is_not_set_and_rests(self) -> None:
        bench = watched(IDLE, limits=self.LIMITS)
        marks = [bench.guard.idle_is_set("idle L") for _ in range(2)]
        bench.play(20.0, {"idle L": 0.001})
        assert (marks, bench.found) == ([True, False], [])

    def test_only_an_idle_is_set(self) -> None:
        bench = watched(IDLE, limits=self.LIMITS)
        with pytest.raises(BadInput, match="name one of idle L"):
            bench.guard.idle_is_set("+B")


class TestMidpoint:
    """On a single rail the midpoint is half the measured rail, within a tenth."""

    LIMITS = (
        "trace='midpoint', kind='high', of_trace={trace='+B', share=0.55}, persistence=2.0",
        "trace='midpoint', kind='low', of_trace={trace='+B', share=0.45}",
    )

    @pytest.mark.parametrize(
        ("rail", "middle", "trips"), [(35.0, 17.5, 0), (28.0, 14.0, 0), (35.0, 14.0, 1), (28.0, 17.5, 1)]
    )
    def test_it_follows_the_rail_as_measured(self, rail: float, middle: float, trips: int) -> None:
        bench = watched(PLUS, MIDDLE, limits=self.LIMITS, source=DIRECT)
        bench.play(10.0, {"+B": rail, "midpoint": middle})
        assert len(bench.trips) == trips

    def test_it_says_what_it_follows(self) -> None:
        bench = watched(PLUS, MIDDLE, limits=self.LIMITS, source=DIRECT)
        bench.play(10.0, {"+B": 30.0, "midpoint": 20.0})
        assert bench.trips == ["midpoint 20.00 V, above 55 % of +B, 16.50 V"]

    def test_it_rests_while_the_source_moves(self) -> None:
        bench = watched(PLUS, MIDDLE, limits=self.LIMITS, source=DIRECT)
        bench.guard.feed.begin_move(100.0, bench.t)
        bench.guard.feed.asked = True
        bench.play(5.0, {"+B": 30.0, "midpoint": 5.0})
        assert bench.found == []

    def test_without_the_rail_nobody_knows(self) -> None:
        bench = watched(PLUS, MIDDLE, limits=self.LIMITS, source=DIRECT)
        bench.play(5.0, {"midpoint": 5.0})
        assert bench.found == []
        assert bench.guard.arming(bench.t) == [float("inf"), float("inf")]


class TestRailsByTheGoodRun:
    """Behind a lamp -25/+10 %, until a good run has shown what the rail reads: then 10 % either way."""

    LIMITS = ("trace='+B', kind='rail_low'", "trace='+B', kind='rail_high'")

    def test_a_rail_a_fifth_low_is_only_found_with_it(self) -> None:
        rail = {"lamp": 20.0, "+B": 33.0}
        without = watched(LAMP, PLUS, limits=self.LIMITS)
        without.play(15.0, rail)
        assert without.found == []
        with_it = watched(LAMP, PLUS, limits=self.LIMITS, reference=GOOD_RUN)
        with_it.play(15.0, rail)
        assert with_it.trips == ["+B 33.00 V, low, should read about 40.00 V"]

    def test_what_the_unit_draws_is_the_lamps_to_judge(self) -> None:
        # 170 V are left in place of 210: the rail has come down with them.
        bench = watched(LAMP, PLUS, limits=self.LIMITS, reference=GOOD_RUN)
        assert bench.guard.reference is not None
        bench.play(15.0, {"lamp": 48.0, "+B": 34.5})
        assert bench.found == []

    def test_behind_another_lamp_it_says_nothing(self) -> None:
        bench = watched(
            LAMP, PLUS, limits=self.LIMITS, reference=GOOD_RUN, source=HALL.replace("100.0", "60.0")
        )
        bench.play(15.0, {"lamp": 20.0, "+B": 33.0})
        assert bench.found == []


@pytest.mark.parametrize(
    ("limit", "path", "problem"),
    [
        ("trace='lamp', kind='high', value=1.0, over_healthy=0.1", "value", "needs exactly one bound"),
        (
            "trace='lamp', kind='low', over_healthy=0.1",
            "over_healthy",
            "means nothing for a limit of kind low",
        ),
        ("trace='+B', kind='high', over_healthy=0.1", "over_healthy", "is for a lamp, which +B is not"),
        (
            "trace='+B', kind='high', times_healthy=2.0",
            "times_healthy",
            "is for mains current, which +B is not",
        ),
        ("trace='+B', kind='low', value=1.0, once_set=true", "once_set", "is for idle, which +B is not"),
        ("trace='+B', kind='rise'", "value", "needs exactly one bound"),
        (
            "trace='+B', kind='high', value=1.0, capacitance=0.1",
            "capacitance",
            "means nothing for a limit of kind high",
        ),
        (
            "trace='+B', kind='high', of_trace={trace='+B', share=0.5}",
            "of_trace.trace",
            "is the trace itself",
        ),
        (
            "trace='+B', kind='high', of_trace={trace='+C', share=0.5}",
            "of_trace.trace",
            "no trace is called '+C'",
        ),
        (
            "trace='+B', kind='high', of_trace={trace='lamp', share=0.5}",
            "",
            "lamp measures something else than +B",
        ),
    ],
)
def test_what_cannot_be_meant_is_refused(limit: str, path: str, problem: str) -> None:
    with pytest.raises(BadInput) as caught:
        textfile.parse(plan_text(LAMP, PLUS, limits=(limit,)), "plan.toml", Plan)
    found = [(fault.place, fault.problem) for fault in caught.value.faults]
    assert any(
        place.endswith("limit[1]" + (f".{path}" if path else "")) and problem in said for place, said in found
    )
