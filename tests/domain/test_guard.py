"""The guard trips on what breaks a limit for long enough, once, with a reason, and on nothing else."""

import math

import pytest
from helpers.watched import (
    IDLE,
    LAMP,
    MAINS,
    MINUS,
    OFFSET,
    PLUS,
    SINK,
    STATE,
    Watched,
    ns,
    plan_of,
)

from benchlog.domain.guard import Guard
from benchlog.domain.plan_limit import Action, LimitKind
from benchlog.domain.reading import Outcome
from benchlog.domain.trace import SECOND

CEILING = "trace='+B', kind='high', value=50.0"
APART = "trace='+B', kind='apart', partner='-B'"
HALF = "gate={any_of=['+B', '-B'], above=20.0, seconds=5.0}"


def watched(*traces: str, limits: tuple[str, ...] = (), **more: object) -> Watched:
    """A guard over these traces, armed, with the source off."""
    return Watched(plan_of(*traces, limits=limits, **more))  # type: ignore[arg-type]


class TestCeilings:
    """Always armed, two readings, whatever the source does."""

    def test_a_ceiling_trips_at_the_second_reading_beyond_it(self) -> None:
        bench = watched(PLUS, limits=(CEILING,))
        assert bench.give("+B", 50.1) == ()
        (broken,) = bench.give("+B", 50.2)
        assert broken.action is Action.TRIP
        assert (broken.trace, broken.limit, broken.value, broken.bound) == ("+B", "high", 50.2, 50.0)
        assert broken.text == "+B 50.20 V, above its limit of 50.00 V"
        assert bench.guard.tripped is broken

    def test_the_sentence_is_that_of_the_reading_that_broke_it_however_late_it_is_asked_for(self) -> None:
        bench = watched(PLUS, limits=(CEILING,))
        bench.give("+B", 50.1)
        (broken,) = bench.give("+B", 50.2)
        bench.give("+B", 3.0)
        assert broken.text == "+B 50.20 V, above its limit of 50.00 V"

    def test_a_single_jump_never_trips(self) -> None:
        bench = watched(PLUS, limits=(CEILING,))
        for value in (44.0, 400.0, 44.0, 400.0, 44.0):
            assert bench.give("+B", value) == ()

    def test_a_reading_on_the_limit_does_not_break_it(self) -> None:
        bench = watched(PLUS, limits=(CEILING,))
        assert [bench.give("+B", 50.0) for _ in range(3)] == [(), (), ()]

    def test_a_ceiling_bounds_the_size_of_a_negative_rail(self) -> None:
        bench = watched(MINUS, limits=("trace='-B', kind='high', value=50.0",))
        bench.give("-B", -50.1)
        (broken,) = bench.give("-B", -51.0)
        assert broken.text == "-B -51.00 V, above its limit of 50.00 V"

    def test_an_offset_is_bounded_both_ways(self) -> None:
        bench = watched(OFFSET, limits=("trace='offset L', kind='high', value=0.1",))
        bench.give("offset L", -0.2)
        assert len(bench.give("offset L", 0.2)) == 1

    def test_a_temperature_is_bounded_with_its_sign(self) -> None:
        bench = watched(
            SINK,
            PLUS,
            limits=("trace='sink L', kind='high', value=5.0", "trace='sink L', kind='low', value=-5.0"),
        )
        bench.at_rest(10.0)
        bench.play(12.0, {"sink L": -6.0, "+B": 0.0})
        assert [broken.limit for broken in bench.found] == ["low"]

    def test_ceilings_do_not_rest_while_the_source_is_moving(self) -> None:
        bench = watched(MAINS, PLUS, limits=(CEILING,))
        bench.on(230.0)
        bench.guard.feed.asked = True
        bench.play(1.0, {"mains": 230.0, "+B": 51.0})
        assert bench.trips == ["+B 51.00 V, above its limit of 50.00 V"]

    def test_a_ceiling_is_armed_before_anybody_says_that_the_unit_is_on(self) -> None:
        bench = watched(PLUS, limits=(CEILING,))
        bench.play(1.0, {"+B": 51.0})
        assert len(bench.trips) == 1

    def test_why_it_matters_is_said_with_the_reason(self) -> None:
        bench = watched(PLUS, limits=(CEILING + ", why='the reservoirs are rated for it'",))
        bench.play(1.0, {"+B": 51.0})
        assert bench.trips == ["+B 51.00 V, above its limit of 50.00 V: the reservoirs are rated for it"]

    def test_a_limit_may_be_armed_only_some_time_after_switching_on(self) -> None:
        bench = watched(
            LAMP, limits=("trace='lamp', kind='high', value=60.0, after_on=3.0, persistence=1.0",)
        )
        bench.play(5.0, {"lamp": 100.0})
        assert bench.found == []
        bench.on(230.0)
        bench.play(3.9, {"lamp": 100.0})
        assert bench.found == []
        bench.play(0.5, {"lamp": 100.0})
        assert len(bench.trips) == 1


class TestPersistence:
    """Broken for so many seconds and at least two readings in a row."""

    def test_a_limit_trips_at_the_reading_that_completes_its_persistence(self) -> None:
        bench = watched(PLUS, limits=(CEILING + ", persistence=1.0",))
        (broken,) = bench.play(3.0, {"+B": 51.0})
        # Readings come at 0.05, 0.30 ... s: the fifth is a second after the first.
        assert broken.t == ns(1.05)

    def test_one_good_reading_starts_the_persistence_anew(self) -> None:
        bench = watched(PLUS, limits=(CEILING + ", persistence=1.0",))
        bench.play(0.9, {"+B": 51.0})
        bench.give("+B", 49.0)
        bench.play(1.0, {"+B": 51.0})
        assert bench.found == []
        bench.play(0.3, {"+B": 51.0})
        assert len(bench.trips) == 1

    def test_a_persistence_that_no_meter_is_quick_enough_for_still_takes_two_readings(self) -> None:
        bench = watched(PLUS, limits=(CEILING + ", persistence=0.1",))
        bench.play(2.9, {"+B": None})
        assert bench.give("+B", 51.0) == ()
        bench.now += 3.0
        assert len(bench.give("+B", 51.0)) == 1

    def test_more_readings_may_be_asked_for(self) -> None:
        bench = watched(PLUS, limits=(CEILING + ", readings=4",))
        assert [len(bench.give("+B", 51.0)) for _ in range(5)] == [0, 0, 0, 1, 0]

    def test_a_warning_is_said_once_and_again_after_it_held_meanwhile(self) -> None:
        bench = watched(PLUS, limits=(CEILING + ", action='warn'",))
        bench.play(5.0, {"+B": 51.0})
        bench.play(1.0, {"+B": 49.0})
        bench.play(5.0, {"+B": 51.0})
        assert len(bench.warnings) == 2
        assert bench.guard.tripped is None

    def test_each_limit_of_a_trace_is_judged_for_itself(self) -> None:
        bench = watched(
            OFFSET,
            limits=(
                "trace='offset L', kind='high', value=0.1, persistence=2.0, action='warn'",
                "trace='offset L', kind='high', value=1.0, persistence=1.0",
            ),
        )
        bench.play(3.0, {"offset L": 0.5})
        assert len(bench.warnings) == 1
        assert bench.trips == []
        bench.play(3.0, {"offset L": 1.5})
        assert len(bench.trips) == 1


class TestTripsOnce:
    """After the first trip, and after a cut, nothing trips again."""

    def test_nothing_trips_twice(self) -> None:
        bench = watched(
            PLUS,
            MINUS,
            limits=(CEILING, "trace='-B', kind='high', value=50.0", CEILING + ", persistence=1.0"),
        )
        bench.play(5.0, {"+B": 51.0, "-B": -51.0})
        assert len(bench.trips) == 1

    def test_of_a_trip_and_a_warning_at_one_reading_the_trip_is_told_first(self) -> None:
        bench = watched(PLUS, limits=(CEILING + ", action='warn'", CEILING))
        bench.give("+B", 51.0)
        assert [broken.action for broken in bench.give("+B", 51.0)] == [Action.TRIP, Action.WARN]

    def test_nothing_trips_after_the_cut(self) -> None:
        bench = watched(PLUS, MINUS, limits=(CEILING, APART))
        bench.at_rest(230.0)
        bench.guard.armed = False
        bench.guard.feed.switch(False, bench.t)
        bench.play(20.0, {"+B": 51.0, "-B": Outcome.OVERLOAD})
        bench.play(20.0, {})
        assert bench.found == []

    def test_a_guard_is_not_armed_by_itself(self) -> None:
        assert not Guard(plan_of(PLUS, limits=[CEILING])).armed

    def test_nothing_is_judged_before_the_run_is_armed_but_readings_are_taken(self) -> None:
        bench = watched(PLUS, limits=(CEILING,))
        bench.guard.armed = False
        bench.play(2.0, {"+B": 51.0})
        assert bench.found == []
        assert bench.guard.traces["+B"].value == 51.0


class TestGates:
    """Armed only while one of some traces has been past a level for some seconds."""

    LIMIT = f"trace='idle L', kind='high', value=0.033, {HALF}"

    def test_idle_counts_only_once_a_rail_has_been_past_half_for_five_seconds(self) -> None:
        bench = watched(PLUS, MINUS, IDLE, limits=(self.LIMIT,))
        bench.play(10.0, {"+B": 19.0, "-B": -19.0, "idle L": 0.05})
        assert bench.found == []
        bench.play(5.0, {"+B": 19.0, "-B": -21.0, "idle L": 0.05})
        assert bench.found == []
        bench.play(1.0, {"+B": 19.0, "-B": -21.0, "idle L": 0.05})
        assert len(bench.trips) == 1

    def test_a_rail_that_falls_back_closes_the_gate(self) -> None:
        bench = watched(PLUS, MINUS, IDLE, limits=(self.LIMIT,))
        bench.play(4.0, {"+B": 30.0, "-B": -30.0, "idle L": 0.05})
        bench.play(0.5, {"+B": 10.0, "-B": -10.0, "idle L": 0.05})
        bench.play(4.9, {"+B": 30.0, "-B": -30.0, "idle L": 0.05})
        assert bench.found == []

    def test_what_was_broken_before_the_gate_closed_counts_anew_when_it_opens_again(self) -> None:
        limit = self.LIMIT.replace("value=0.033", "value=0.033, persistence=3.0")
        bench = watched(PLUS, MINUS, IDLE, limits=(limit,))
        bench.play(7.5, {"+B": 30.0, "-B": -30.0, "idle L": 0.05})
        bench.play(0.5, {"+B": 10.0, "-B": -10.0, "idle L": 0.05})
        bench.play(7.9, {"+B": 30.0, "-B": -30.0, "idle L": 0.05})
        assert bench.found == []
        bench.play(1.0, {"+B": 30.0, "-B": -30.0, "idle L": 0.05})
        assert len(bench.trips) == 1

    def test_a_turn_on_swing_of_the_offset_does_not_trip(self) -> None:
        bench = watched(
            PLUS,
            MINUS,
            OFFSET,
            limits=(f"trace='offset L', kind='high', value=1.0, persistence=1.0, {HALF}",),
        )
        bench.on(230.0)
        bench.play(4.0, {"+B": 40.0, "-B": -40.0, "offset L": 5.0})
        bench.play(9.0, {"+B": 40.0, "-B": -40.0, "offset L": 0.02})
        assert bench.found == []


class TestBadReplies:
    """What is no number never updates a good value, breaks nothing and clears nothing."""

    @pytest.mark.parametrize(
        "outcome", [Outcome.MALFORMED, Outcome.LATE, Outcome.MISSING, Outcome.NOT_A_NUMBER]
    )
    def test_a_bad_reply_between_two_broken_readings_does_not_help(self, outcome: Outcome) -> None:
        bench = watched(PLUS, limits=(CEILING,))
        bench.give("+B", 51.0)
        assert bench.give("+B", outcome) == ()
        assert len(bench.give("+B", 51.0)) == 1

    @pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, None])
    def test_what_is_no_number_counts_neither_as_high_nor_as_low_nor_as_good(
        self, value: float | None
    ) -> None:
        bench = watched(PLUS, limits=(CEILING, "trace='+B', kind='low', value=10.0"))
        bench.at_rest(230.0)
        bench.play(10.0, {"+B": 44.0})
        for _ in range(5):
            assert bench.give("+B", value) == ()
        assert bench.guard.traces["+B"].value == 44.0
        bench.play(6.0, {"+B": Outcome.NOT_A_NUMBER})
        assert bench.guard.tripped is not None
        assert bench.guard.tripped.limit == "lost"


class TestSilence:
    """A warning after three intervals and at least two seconds; a critical trace is lost after five."""

    def test_a_critical_trace_is_warned_of_after_two_seconds_and_lost_after_five(self) -> None:
        bench = watched(PLUS)
        bench.at_rest(92.0)
        bench.play(3.05, {"+B": 16.0})
        warned, lost = bench.play(10.0, {})
        assert (warned.action, warned.limit) == (Action.WARN, "silent")
        assert (lost.action, lost.limit) == (Action.TRIP, "lost")
        assert warned.t == ns(5.05)
        assert lost.t == ns(8.05)
        assert lost.wire == ns(3.05)
        assert lost.text == "no reading from +B for 5.0 s"

    def test_a_slow_meter_is_warned_of_after_three_of_its_intervals(self) -> None:
        bench = Watched(plan_of("name='sink', role='sink', critical=false", PLUS), pace={"sink": 1.5})
        bench.at_rest(92.0)
        bench.play(6.1, {"sink": 30.0, "+B": 16.0})
        (warned,) = bench.play(10.0, {"+B": 16.0})
        assert (warned.action, warned.trace) == (Action.WARN, "sink")
        assert warned.t == ns(6.05 + 4.5)

    @pytest.mark.parametrize("missed", [1, 2])
    def test_a_slow_meter_that_misses_a_reading_or_two_is_not_lost(self, missed: int) -> None:
        bench = Watched(plan_of(PLUS), pace={"+B": 2.5})
        bench.at_rest(92.0)
        bench.play(25.1, {"+B": 16.0})
        bench.play(2.5 * missed, {})
        bench.play(5.0, {"+B": 16.0})
        assert bench.trips == []

    @pytest.mark.parametrize(
        ("pace", "seconds"), [(0.25, 5.0), (1.0, 5.0), (2.0, 8.0), (2.5, 10.0), (4.0, 10.0)]
    )
    def test_a_meter_that_falls_silent_is_lost_by_its_habit(self, pace: float, seconds: float) -> None:
        bench = Watched(plan_of(PLUS), pace={"+B": pace})
        bench.at_rest(92.0)
        bench.play(20.05, {"+B": 16.0})
        last = bench.guard.traces["+B"].good_wire
        bench.play(12.0, {})
        (lost,) = [broken for broken in bench.found if broken.action is Action.TRIP]
        assert lost.limit == "lost"
        assert seconds * SECOND <= lost.t - last <= (seconds + 0.1) * SECOND

    def test_a_trace_that_is_not_critical_is_warned_of_and_never_lost(self) -> None:
        bench = watched(SINK, PLUS)
        bench.at_rest(92.0)
        bench.play(2.0, {"sink L": 30.0, "+B": 16.0})
        bench.play(30.0, {"+B": 16.0})
        assert (len(bench.warnings), bench.trips) == (1, [])

    def test_silence_that_ends_is_warned_of_anew_the_next_time(self) -> None:
        bench = watched(SINK, PLUS)
        bench.at_rest(92.0)
        for _ in range(2):
            bench.play(2.0, {"sink L": 30.0, "+B": 16.0})
            assert bench.guard.quiet == set()
            bench.play(4.0, {"+B": 16.0})
            assert bench.guard.quiet == {"sink L"}
        assert len(bench.warnings) == 2

    def test_an_overload_ends_silence_as_well(self) -> None:
        bench = watched(SINK, PLUS)
        bench.play(2.0, {"sink L": 30.0})
        bench.play(3.0, {})
        bench.give("sink L", Outcome.OVERLOAD)
        assert bench.guard.quiet == set()

    def test_bad_replies_are_silence(self) -> None:
        bench = watched(PLUS)
        bench.at_rest(92.0)
        bench.play(2.0, {"+B": 16.0})
        bench.play(6.0, {"+B": Outcome.MALFORMED})
        assert bench.trips == ["no reading from +B for 5.0 s"]

    def test_a_trace_that_was_never_read_is_not_lost(self) -> None:
        bench = watched(PLUS)
        bench.at_rest(92.0)
        assert bench.play(20.0, {}) == []

    def test_a_trace_is_not_lost_while_the_unit_is_off(self) -> None:
        bench = watched(PLUS)
        bench.play(2.0, {"+B": 0.0})
        bench.play(20.0, {})
        assert (len(bench.warnings), bench.trips) == (1, [])

    def test_a_trace_silent_since_before_the_unit_was_switched_on_is_lost_at_once(self) -> None:
        bench = watched(PLUS)
        bench.play(2.0, {"+B": 0.0})
        bench.play(20.0, {})
        bench.on(92.0)
        bench.play(0.1, {})
        assert len(bench.trips) == 1

    def test_a_trace_lost_without_a_warning_before_is_known_to_be_silent(self) -> None:
        bench = watched(PLUS)
        bench.at_rest(92.0)
        bench.play(2.0, {"+B": 16.0})
        bench.now += 6.0
        (lost,) = bench.play(0.05, {})
        assert lost.limit == "lost"
        assert bench.guard.quiet == {"+B"}

    def test_silence_is_judged_in_wire_time_where_plan_time_runs_faster(self) -> None:
        bench = Watched(plan_of(PLUS), rate=10.0)
        bench.at_rest(92.0)
        bench.play(5.0, {"+B": 16.0})
        bench.play(49.0, {})
        assert bench.trips == []
        bench.play(2.0, {})
        assert len(bench.trips) == 1

    def test_two_traces_lost_at_one_moment_are_one_trip(self) -> None:
        bench = watched(PLUS, MINUS)
        bench.at_rest(92.0)
        bench.play(2.0, {"+B": 16.0, "-B": -16.0})
        bench.play(10.0, {})
        assert len(bench.trips) == 1
        assert len(bench.warnings) == 2


def test_every_kind_of_limit_can_be_judged() -> None:
    extra = {
        LimitKind.HIGH: ", value=1.0",
        LimitKind.LOW: ", value=1.0",
        LimitKind.APART: ", partner='-B'",
        LimitKind.RUNAWAY: ", target=0.0165",
        LimitKind.RISE: ", fraction=0.1",
    }
    names = {LimitKind.SUPPLY: "state", LimitKind.RUNAWAY: "idle L"}
    for kind in LimitKind:
        name = names.get(kind, "+B")
        limit = f"trace='{name}', kind='{kind}', after_steady=0.0{extra.get(kind, '')}"
        bench = watched(STATE, PLUS, MINUS, IDLE, limits=(limit,))
        bench.at_rest(1.0)
        # Before the first reading of the other traces nothing can be judged, and nothing is broken.
        assert bench.give("+B", 0.5) == ()
        assert bench.give("state", 1.0) == ()
