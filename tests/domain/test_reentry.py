"""Back up after a trip with short dwells: only within the hour, with a cause, cold and down, never after a short."""

import math
from dataclasses import replace

import pytest

from benchlog.domain.plan_limit import LimitKind
from benchlog.domain.plan_trace import Role
from benchlog.domain.reentry import Reentry, Sink, Tripped, reentry

OFFSET = Tripped(Role.OFFSET, LimitKind.HIGH, 2)
DOWN: dict[str, float | None] = {"+B": 0.4, "-B": -4.9}
COOL = (Sink("sink L", 24.0, 29.0),)


def asked(
    tripped: Tripped = OFFSET,
    seconds: float = 600.0,
    cause: str = "clip slipped",
    rails: dict[str, float | None] = DOWN,
    sinks: tuple[Sink, ...] = COOL,
) -> Reentry:
    """An answer, where all is well but for what a test says."""
    return reentry(tripped, seconds, cause, rails, sinks)


def test_dwells_are_short_below_the_stage_reached_and_the_plans_own_from_there_on() -> None:
    found = asked()
    assert found.allowed
    assert [found.dwell(index, 30.0) for index in range(4)] == [10.0, 10.0, 30.0, 30.0]


def test_a_dwell_is_never_made_longer() -> None:
    assert asked().dwell(0, 4.0) == 4.0


def test_a_refusal_leaves_every_dwell_as_planned() -> None:
    assert asked(cause=" ").dwell(0, 30.0) == 30.0


@pytest.mark.parametrize(
    ("role", "kind", "said"),
    [
        (Role.IDLE, LimitKind.RUNAWAY, "running away"),
        (Role.SINK, LimitKind.RISE, "running away"),
        (Role.LAMP, LimitKind.HIGH, "drew too much"),
        (Role.DROP, LimitKind.HIGH, "drew too much"),
        (Role.MAINS_AMPS, LimitKind.HIGH, "drew too much"),
        (Role.SUPPLY_AMPS, LimitKind.HIGH, "drew too much"),
        (Role.SUPPLY_STATE, LimitKind.SUPPLY, "drew too much"),
        (Role.RAIL, LimitKind.APART, "stood apart"),
        (Role.RAIL, LimitKind.POLARITY, "stood apart"),
        (Role.RAIL, LimitKind.RAIL_LOW, "rails fell"),
        (None, None, "No limit"),
    ],
)
def test_never_after_a_short_or_a_runaway(role: Role | None, kind: LimitKind | None, said: str) -> None:
    found = asked(Tripped(role, kind, 2))
    assert not found.allowed
    assert said in found.why_not


@pytest.mark.parametrize("role", [Role.OFFSET, Role.IDLE, Role.SINK, Role.CAN, Role.RAIL])
def test_a_plain_high_limit_may_be_climbed_back_from(role: Role) -> None:
    assert asked(Tripped(role, LimitKind.HIGH, 2)).back_to == 2


def test_not_where_no_stage_was_reached() -> None:
    assert "No stage" in asked(replace(OFFSET, reached=-1)).why_not


def test_not_before_it_is_known_to_be_off() -> None:
    assert asked(replace(OFFSET, off_known=False)).why_not.startswith("STILL LIVE: ")


@pytest.mark.parametrize(
    ("seconds", "allowed"), [(0.0, True), (3600.0, True), (3600.1, False), (-1.0, False), (math.nan, False)]
)
def test_only_within_the_hour(seconds: float, allowed: bool) -> None:
    assert asked(seconds=seconds).allowed is allowed


def test_a_cause_must_be_named() -> None:
    assert "No cause" in asked(cause="  ").why_not


@pytest.mark.parametrize(
    ("rails", "said"),
    [
        ({}, "No meter"),
        ({"+B": 0.1, "-B": None}, "-B is not read"),
        ({"+B": math.nan}, "+B is not read"),
        ({"+B": 0.1, "-B": -5.0}, "-B still stands at -5.0 V"),
    ],
)
def test_every_rail_must_be_read_and_down(rails: dict[str, float | None], said: str) -> None:
    assert said in asked(rails=rails).why_not


@pytest.mark.parametrize(
    ("sink", "said"),
    [
        (Sink("sink L", 24.0, 29.1), "5.1 K above"),
        (Sink("sink L", 24.0, None), "not read now"),
        (Sink("sink L", None, 24.0), "not read at switch-on"),
    ],
)
def test_a_metered_sink_must_be_back(sink: Sink, said: str) -> None:
    assert said in asked(sinks=(sink,)).why_not


def test_an_unmetered_sink_is_not_asked_for_after_a_trip_that_warms_none() -> None:
    assert asked(sinks=()).allowed


@pytest.mark.parametrize("role", [Role.IDLE, Role.SINK])
def test_after_too_much_idle_nobody_knows_without_a_meter_whether_the_sink_is_back(role: Role) -> None:
    assert "No meter shows that the sinks" in asked(Tripped(role, LimitKind.HIGH, 2), sinks=()).why_not
