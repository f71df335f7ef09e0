"""What must hold before the next stage is offered; a value nobody sees any more holds nothing."""

from collections.abc import Mapping

from helpers.watched import (
    LAMP,
    OFFSET,
    PLUS,
    PoweredUp,
    Value,
    plan_of,
    refused,
    state,
)

from benchlog.domain.reading import Outcome
from benchlog.domain.stages import State

AT_TEN = {"lamp": 3.0, "+B": 3.4}
AS_EXPECTED = "{trace='+B', as_expected=true}"


def bench(waits: str) -> PoweredUp:
    """A lamp, a rail and an offset, mains unmetered, one stage without a dwell."""
    stages = (f"name='1', fraction=0.1, dwell=0.0, wait=[{waits}]",)
    run = PoweredUp(plan_of(LAMP, PLUS, OFFSET, stages=stages))
    run.play(1.0, {"lamp": 0.0, "+B": 0.0, "offset L": 0.0})
    return run


def waiting(waits: str, *readings: tuple[float, Mapping[str, Value]]) -> list[tuple[str, bool]]:
    """What is awaited, and whether it holds, after meters said this for so many seconds."""
    run = bench(waits)
    run.begin()
    for seconds, meters in readings:
        run.play(seconds, {"lamp": 3.0, **meters})
    return [(awaited.what, awaited.holds) for awaited in run.stages.awaited(run.t)[1:]]


def test_a_wait_that_does_not_hold_keeps_next_from_going_up_even_before_the_end_of_the_dwell() -> None:
    run = bench(AS_EXPECTED)
    run.begin()
    run.play(20.0, {"lamp": 3.0, "+B": 0.1})
    assert state(run) is State.DWELLING
    assert refused(run, "next") == "still waiting for +B as expected"


def test_a_wait_must_hold_for_its_seconds_without_a_break() -> None:
    wait = "{trace='+B', low=3.0, seconds=5.0}"
    high, low = {"+B": 3.4}, {"+B": 2.0}
    assert waiting(wait, (4.5, high)) == [("+B above 3.00 V", False)]
    assert waiting(wait, (5.5, high)) == [("+B above 3.00 V", True)]
    assert waiting(wait, (4.5, high), (0.5, low), (4.5, high)) == [("+B above 3.00 V", False)]


def test_a_wait_that_held_before_the_source_was_set_begins_anew() -> None:
    run = bench("{trace='+B', high=50.0, seconds=5.0}")
    run.next()
    run.play(30.0, {"lamp": 0.0, "+B": 0.0})
    run.stages.awaited(run.t)
    run.play(30.0, {"lamp": 0.0, "+B": 0.0})
    run.set()
    run.switched_on()
    run.play(2.0, AT_TEN)
    assert not run.stages.awaited(run.t)[1].holds


def test_bounds_are_judged_with_their_signs() -> None:
    wait = "{trace='offset L', low=-0.05, high=0.05}"
    said = "offset L between -50.00 mV and 50.00 mV"
    for value, holds in ((0.04, True), (-0.04, True), (0.06, False), (-0.3, False)):
        assert waiting(wait, (5.0, {"offset L": value})) == [(said, holds)]


def test_a_ceiling_is_said_as_below() -> None:
    assert waiting("{trace='+B', high=5.0}", (5.0, {"+B": 3.4})) == [("+B below 5.00 V", True)]


def test_steadiness_looks_back_over_its_own_seconds() -> None:
    wait = "{trace='lamp', steady=0.1, seconds=10.0}"
    said = "lamp steady within 10 % for 10 s"
    assert waiting(wait, (8.0, {})) == [(said, False)]
    assert waiting(wait, (11.0, {})) == [(said, True)]
    assert waiting(wait, (11.0, {}), (1.0, {"lamp": 6.0})) == [(said, False)]


def test_a_rail_is_expected_on_either_side_of_its_band_to_be_missed() -> None:
    for value, holds in ((3.3, True), (0.5, False), (6.0, False), (-3.3, False)):
        found = waiting("{trace='+B', as_expected=true}", (5.0, {"+B": value}))
        assert found == [("+B as expected", holds)]


def test_a_trace_that_was_never_read_holds_nothing() -> None:
    run = PoweredUp(
        plan_of(PLUS, OFFSET, stages=("name='1', fraction=0.1, dwell=0.0, wait=[{trace='+B', high=5.0}]",))
    )
    run.begin()
    run.play(5.0, {"offset L": 0.0})
    assert run.stages.awaited(run.t)[1].progress == "no reading"
    assert refused(run, "next") == "still waiting for +B below 5.00 V"


def test_the_last_value_of_a_meter_that_fell_silent_holds_nothing() -> None:
    run = bench("{trace='offset L', low=-0.05, high=0.05}")
    run.begin()
    run.play(5.0, {**AT_TEN, "offset L": 0.01})
    assert state(run) is State.READY
    run.play(2.5, AT_TEN)
    assert state(run) is State.DWELLING
    assert run.stages.awaited(run.t)[1].progress == "no reading any more"


def test_the_last_value_before_an_overload_holds_nothing() -> None:
    run = bench("{trace='offset L', low=-0.05, high=0.05}")
    run.begin()
    run.play(5.0, {**AT_TEN, "offset L": 0.01})
    run.play(0.5, {**AT_TEN, "offset L": Outcome.OVERLOAD})
    assert state(run) is State.DWELLING
    assert run.stages.awaited(run.t)[1].progress == "beyond the range of its meter"


def test_an_offer_is_taken_back_when_a_wait_fails_again() -> None:
    run = bench(AS_EXPECTED)
    run.begin()
    run.play(11.0, AT_TEN)
    assert state(run) is State.READY
    run.play(0.5, {"lamp": 3.0, "+B": 0.5})
    assert state(run) is State.DWELLING
