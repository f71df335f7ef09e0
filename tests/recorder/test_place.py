"""Where readings go, and which of them speak of a meter left on another function."""

from helpers.watched import BENCH_SUPPLY, LAMP, VOLTS, plan_of

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.recorder.place import Places

ONE = ("name='10 V', volts=10.0, current_limit=0.2, dwell=1.0",)


def read(function: Function, channel: str = "") -> Reading:
    return Reading(Outcome.OK, 1.0, function, 0, "", channel=channel)


def test_a_supply_that_gives_more_than_the_plan_wants_was_not_left_on_another_function() -> None:
    places = Places(plan_of(VOLTS, source=BENCH_SUPPLY, stages=ONE))
    assert places.name("bench supply", read(Function.VOLTS_DC, "1")) == "volts"
    for function in (Function.AMPS_DC, Function.STATE):
        reading = read(function, "1")
        assert places.name("bench supply", reading) is None
        assert places.left_on_another("bench supply", reading) is None


def test_a_meter_with_a_dial_was() -> None:
    places = Places(plan_of(LAMP))
    assert places.name("lamp", read(Function.VOLTS_AC)) == "lamp"
    assert places.left_on_another("lamp", read(Function.VOLTS_DC)) == "lamp"
