"""A meter beyond its range: unknown for a second, then as bad as beyond the limit."""

from helpers.watched import (
    MINUS,
    OFFSET,
    PLUS,
    SINK,
    Watched,
    ns,
    plan_of,
)

from benchlog.domain.plan_limit import Action
from benchlog.domain.reading import Outcome

CEILING = "trace='+B', kind='high', value=50.0"
HALF = "gate={any_of=['+B', '-B'], above=20.0, seconds=5.0}"


def watched(*traces: str, limits: tuple[str, ...] = ()) -> Watched:
    """A guard over these traces, armed, with the source off."""
    return Watched(plan_of(*traces, limits=limits))


class TestOverload:
    """On volts unknown for a second, then as bad as beyond the limit."""

    def test_a_meter_beyond_its_range_is_unknown_for_a_second_then_broken(self) -> None:
        bench = watched(PLUS, limits=(CEILING,))
        (broken,) = bench.play(5.0, {"+B": Outcome.OVERLOAD})
        assert (broken.action, broken.limit) == (Action.TRIP, "beyond range")
        assert broken.text == "+B is beyond the range of its meter"
        assert broken.t == ns(1.05)
        assert broken.value is None

    def test_a_meter_that_ranges_up_within_a_second_is_no_fault(self) -> None:
        bench = watched(PLUS, limits=(CEILING,))
        for _ in range(3):
            bench.play(0.9, {"+B": Outcome.OVERLOAD})
            bench.give("+B", 44.0)
        assert bench.found == []

    def test_a_single_overload_however_long_ago_is_no_fault(self) -> None:
        bench = watched(PLUS, limits=(CEILING,))
        bench.give("+B", Outcome.OVERLOAD)
        bench.now += 3.0
        bench.give("+B", 44.0)
        bench.give("+B", Outcome.OVERLOAD)
        assert bench.found == []

    def test_two_overloads_a_second_apart_are_enough(self) -> None:
        bench = watched(PLUS, limits=(CEILING,))
        bench.give("+B", Outcome.OVERLOAD)
        bench.now += 1.0
        assert len(bench.give("+B", Outcome.OVERLOAD)) == 1

    def test_where_no_limit_bounds_it_an_overload_is_a_warning_said_once(self) -> None:
        bench = watched(PLUS, limits=())
        bench.play(5.0, {"+B": Outcome.OVERLOAD})
        assert bench.warnings == ["+B is beyond the range of its meter"]
        bench.play(1.0, {"+B": 40.0})
        bench.play(5.0, {"+B": Outcome.OVERLOAD})
        assert len(bench.warnings) == 2

    def test_where_a_limit_only_warns_so_does_an_overload(self) -> None:
        bench = watched(PLUS, limits=(CEILING + ", action='warn'",))
        bench.play(5.0, {"+B": Outcome.OVERLOAD})
        assert (len(bench.warnings), bench.trips) == (1, [])

    def test_a_turn_on_kick_beyond_the_range_does_not_trip_before_its_limit_is_armed(self) -> None:
        limit = f"trace='offset L', kind='high', value=1.0, persistence=1.0, {HALF}"
        bench = watched(PLUS, MINUS, OFFSET, limits=(limit,))
        bench.on(230.0)
        bench.play(4.5, {"+B": 40.0, "-B": -40.0, "offset L": Outcome.OVERLOAD})
        assert bench.trips == []
        bench.play(8.0, {"+B": 40.0, "-B": -40.0, "offset L": 0.01})
        assert bench.trips == []

    def test_an_overload_that_outlasts_the_arming_of_its_limit_trips(self) -> None:
        # Somebody was warned once already: that must not be the end of it.
        limit = f"trace='offset L', kind='high', value=1.0, persistence=1.0, {HALF}"
        bench = watched(PLUS, MINUS, OFFSET, limits=(limit,))
        bench.on(230.0)
        bench.play(7.0, {"+B": 40.0, "-B": -40.0, "offset L": Outcome.OVERLOAD})
        assert bench.warnings == ["offset L is beyond the range of its meter"]
        assert bench.trips == ["offset L is beyond the range of its meter"]

    def test_a_limit_that_trips_does_so_on_overload_even_where_losing_its_trace_would_not_matter(
        self,
    ) -> None:
        bench = watched(SINK, PLUS, limits=("trace='sink L', kind='high', value=60.0",))
        bench.play(3.0, {"sink L": Outcome.OVERLOAD, "+B": 0.0})
        assert len(bench.trips) == 1
