"""A limit's figure while a run is open: tightened freely, loosened only with a reason."""

import math

import pytest
from helpers.watched import BENCH_SUPPLY, DIRECT, MINUS, OFFSET, PLUS, SINK, STATE, Watched, plan_of

from benchlog.domain.loosening import Change, changed, field_of, figure, typed_figure, with_figure
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Limit, LimitKind
from benchlog.errors import BadInput

LIMITS = (
    "trace='+B', kind='high', value=60.0",
    "trace='offset L', kind='high', value=0.1, persistence=30.0, action='warn'",
    "trace='offset L', kind='low', value=0.01",
    "trace='+B', kind='apart', partner='-B'",
    "trace='-B', kind='high', of_source=0.3",
    "trace='+B', kind='rail_low', fraction=0.1",
    "trace='sink L', kind='high', value=70.0",
)
PLAN = plan_of(PLUS, MINUS, OFFSET, SINK, limits=LIMITS, source=DIRECT)


def said(plan: Plan, at: int, new: float, checked: Plan | None = None, **more: str) -> str:
    """Why it is refused."""
    with pytest.raises(BadInput) as caught:
        changed(plan, checked or plan, at, new, **more)
    return str(caught.value)


@pytest.mark.parametrize(
    ("at", "new", "field", "text"),
    [
        (0, 55.0, "", "+B high tightened from 60 V to 55 V"),
        (1, 0.05, "", "offset L high tightened from 100 mV to 50 mV"),
        (1, 5.0, "persistence", "offset L high tightened from 30 s to 5 s"),
        (2, 0.02, "", "offset L low tightened from 10 mV to 20 mV"),
        (3, 0.1, "", "+B apart tightened from 15 % to 10 %"),
        (4, 0.25, "", "-B high tightened from 30 % to 25 %"),
        (5, 0.05, "fraction", "+B rail low tightened from 10 % to 5 %"),
    ],
)
def test_a_limit_is_tightened_without_a_word(at: int, new: float, field: str, text: str) -> None:
    change = changed(PLAN, PLAN, at, new, field=field)
    assert (change.text, change.loosened) == (text, False)
    assert getattr(change.limit, change.field) == new


@pytest.mark.parametrize(
    ("at", "new", "field"),
    [(1, 0.2, ""), (1, 40.0, "persistence"), (2, 0.005, ""), (3, 0.2, ""), (5, 0.2, ""), (6, 80.0, "")],
)
def test_a_limit_is_loosened_only_with_a_reason(at: int, new: float, field: str) -> None:
    for blank in ("", "  "):
        assert "would be looser, and no reason is given; say why with it" in said(
            PLAN, at, new, field=field, reason=blank
        )
    change = changed(PLAN, PLAN, at, new, field=field, reason=" the sheet says so ")
    assert change.loosened
    assert change.text.endswith(": the sheet says so")
    assert "loosened from" in change.text


def test_a_ceiling_goes_no_further_than_what_was_checked() -> None:
    assert said(PLAN, 0, 63.0, reason="I want to") == (
        "limit: +B high goes no further than 60 V while it is live; switch off, change the plan, have it checked again."
    )
    tight = changed(PLAN, PLAN, 0, 50.0)
    plan = plan_of(
        PLUS, MINUS, OFFSET, SINK, limits=(LIMITS[0].replace("60", "50"), *LIMITS[1:]), source=DIRECT
    )
    assert tight.limit == plan.limit[0]
    assert changed(plan, PLAN, 0, 60.0, reason="back to where it was").loosened
    assert "no further than" in said(plan, 0, 60.5, PLAN, reason="more")


def test_what_the_supply_says_of_itself_is_not_put_off() -> None:
    plan = plan_of(
        PLUS,
        STATE,
        limits=("trace='state', kind='supply'",),
        source=BENCH_SUPPLY,
        stages=("name='on', volts=20.0, current_limit=0.1, dwell=1.0",),
    )
    assert "no further than 0.5 s" in said(plan, 0, 2.0, reason="it flickers")
    assert not changed(plan, plan, 0, 0.2).loosened


@pytest.mark.parametrize(
    ("at", "new", "field", "problem"),
    [
        (9, 1.0, "", "there is no limit 10; the plan has 7."),
        (0, math.nan, "", "cannot be nan"),
        (0, -3.0, "", "cannot be -3"),
        (1, 1e9, "persistence", "give 0 to 60"),
        (3, 2.0, "", "give 0 to 1"),
        (0, 60.0, "", "is 60 V already"),
        (0, 0.5, "of_source", "+B high has no of_source; it has value or persistence"),
        (0, 0.5, "colour", "+B high has no colour"),
    ],
)
def test_what_no_limit_can_be_is_refused(at: int, new: float, field: str, problem: str) -> None:
    assert problem in said(PLAN, at, new, field=field, reason="why not")


@pytest.mark.parametrize(
    ("at", "field", "text", "figure"),
    [
        (0, "value", "55", 55.0),
        (0, "value", "55 V", 55.0),
        (1, "value", "50", 0.05),
        (1, "value", "0.05 V", 0.05),
        (1, "persistence", "5", 5.0),
        (3, "fraction", "10", 0.1),
        (3, "fraction", "10 %", 0.1),
        (4, "of_source", "25", 0.25),
        (6, "value", "65", 65.0),
    ],
)
def test_a_bare_number_is_of_the_unit_that_is_shown(at: int, field: str, text: str, figure: float) -> None:
    limit = PLAN.limit[at]
    assert typed_figure(limit, PLAN.find(limit.trace), field, text) == pytest.approx(figure)


@pytest.mark.parametrize("text", ["", "lots", "5 ohm", "OL"])
def test_what_is_no_number_is_no_figure(text: str) -> None:
    with pytest.raises(BadInput):
        typed_figure(PLAN.limit[0], PLAN.find("+B"), "value", text)


def test_the_guard_judges_by_the_new_figure() -> None:
    run = Watched(plan_of(PLUS, limits=LIMITS[:1], source=DIRECT))
    run.at_rest(230.0)
    run.play(2.0, {"+B": 55.0})
    change: Change = changed(run.guard.plan, run.guard.plan, 0, 50.0)
    run.guard.set_limit(0, change.limit)
    assert run.trips == []
    assert run.guard.plan.limit[0].value == 50.0
    run.play(1.0, {"+B": 55.0})
    assert len(run.trips) == 1
    assert "50.00 V" in run.trips[0]


def test_what_is_bounded_by_the_healthy_figure_is_set_by_its_room() -> None:
    lamp = Limit(trace="lamp", kind=LimitKind.HIGH, over_healthy=0.12)
    amps = Limit(trace="mains current", kind=LimitKind.HIGH, times_healthy=2.0)
    assert [field_of(limit) for limit in (lamp, amps)] == ["over_healthy", "times_healthy"]
    assert [figure(limit, field_of(limit)) for limit in (lamp, amps)] == [0.12, 2.0]
    assert with_figure(amps, "times_healthy", 3.0).times_healthy == 3.0
    assert with_figure(lamp, "over_healthy", 0.1).over_healthy == 0.1
