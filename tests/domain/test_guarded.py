"""What a plan guards and what it leaves to the person, in words."""

from dataclasses import replace

import pytest
from helpers.watched import BENCH_SUPPLY, HALL, LAMP, MINUS, PLUS, STATE, plan_of

from benchlog import resources, textfile
from benchlog.domain.guarded import bound_in_words, tripping, unguarded
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Action, Limit, LimitKind

AMPLIFIER = textfile.read(resources.path("examples", "amplifier", "plan.toml"), Plan)
ONE_VOLT = ["name='1', volts=1.0, current_limit=0.1, dwell=1.0"]


def without(*names: str) -> Plan:
    """The amplifier's plan without these traces and what hangs on them."""
    kept = tuple(trace for trace in AMPLIFIER.trace if trace.name not in names)
    limits = tuple(
        limit for limit in AMPLIFIER.limit if limit.trace not in names and limit.partner not in names
    )
    return replace(AMPLIFIER, trace=kept, limit=limits)


def test_a_plan_that_guards_everything_leaves_nothing() -> None:
    assert unguarded(AMPLIFIER) == ()


@pytest.mark.parametrize(
    ("away", "said"),
    [
        (("lamp",), ("the lamp",)),
        (("-B",), ("a - rail if there is one",)),
        (("+B", "-B"), ("the + rail", "a - rail if there is one")),
        (("idle R",), ("idle current R",)),
        (("offset L", "offset R"), ("offset",)),
        (("sink L",), ("heat sinks",)),
        (("lamp", "offset L", "sink L"), ("the lamp", "offset L", "heat sinks")),
    ],
)
def test_what_has_no_meter_is_not_guarded_the_gravest_first(away: tuple[str, ...], said: tuple[str]) -> None:
    assert unguarded(without(*away)) == said


def test_what_only_warns_is_watched_and_not_guarded() -> None:
    limits = tuple(replace(one, action=Action.WARN) for one in AMPLIFIER.limit if one.trace == "sink L")
    others = tuple(one for one in AMPLIFIER.limit if one.trace != "sink L")
    assert unguarded(replace(AMPLIFIER, limit=(*others, *limits))) == ("sink L (watched only)",)


def test_either_rail_is_guarded_by_what_compares_them() -> None:
    plan = plan_of(PLUS, MINUS, limits=["trace='+B', kind='apart', partner='-B'"], source=HALL)
    assert len(tripping(plan, "-B")) == 1
    assert not {"+B (watched only)", "-B (watched only)"} & set(unguarded(plan))


def test_a_board_is_guarded_by_what_its_supply_says_of_itself() -> None:
    board = textfile.read(resources.path("examples", "board", "plan.toml"), Plan)
    assert unguarded(board) == ("heat sinks",)
    bare = plan_of(STATE, source=BENCH_SUPPLY, stages=ONE_VOLT)
    assert unguarded(bare)[0] == "state (watched only)"


@pytest.mark.parametrize(
    ("limit", "said"),
    [
        (Limit(trace="lamp", kind=LimitKind.HIGH, of_source=0.35), "above 35 % of the voltage applied"),
        (
            Limit(trace="lamp", kind=LimitKind.HIGH, of_source=0.6, lamp_watts=40.0),
            "above 60 % of the voltage applied behind the 40 W lamp",
        ),
        (Limit(trace="lamp", kind=LimitKind.LOW, value=2.0, lamp_watts=0.0), "below 2.00 V without a lamp"),
        (Limit(trace="lamp", kind=LimitKind.LOW, value=2.0), "below 2.00 V"),
        (Limit(trace="lamp", kind=LimitKind.APART, partner="-B"), "apart from -B"),
        (Limit(trace="lamp", kind=LimitKind.RUNAWAY), "running away"),
    ],
)
def test_a_bound_reads_behind_the_name_of_its_trace(limit: Limit, said: str) -> None:
    assert bound_in_words(limit, plan_of(LAMP).find("lamp")) == said
