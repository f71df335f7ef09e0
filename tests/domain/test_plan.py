"""Plans as a person writes them: what is taken, what is refused, and that every fault is told at once."""

import math
from pathlib import Path

import pytest
from helpers.watched import (
    AMPS,
    BENCH_SUPPLY,
    DIRECT,
    HALL,
    IDLE,
    LAMP,
    MAINS,
    MINUS,
    OFFSET,
    PLUS,
    SINK,
    STATE,
    TWO_STAGES,
    VOLTS,
    plan_of,
    plan_text,
)

from benchlog import textfile
from benchlog.domain.plan import Mover, Plan
from benchlog.domain.plan_limit import RESTS_WHILE_MOVING, Action, Limit, LimitKind
from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import Function
from benchlog.errors import BadInput

EXAMPLES = sorted((Path(__file__).parents[2] / "resources" / "examples").glob("*/plan.toml"))


def faults(text: str) -> dict[str, str]:
    """Key path -> problem of every fault of a plan."""
    with pytest.raises(BadInput) as caught:
        textfile.parse(text, "plan.toml", Plan)
    return {fault.place.removeprefix("plan.toml: "): fault.problem for fault in caught.value.faults}


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_every_shipped_plan_is_read_and_guards_something(path: Path) -> None:
    plan = textfile.read(path, Plan)
    assert any(limit.action is Action.TRIP for limit in plan.limit)
    assert all(stage.dwell > 0 for stage in plan.stage)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_a_plan_that_is_written_reads_back_as_itself(path: Path) -> None:
    plan = textfile.read(path, Plan)
    assert textfile.parse(textfile.write(plan), "plan.toml", Plan) == plan


def test_examples_are_shipped() -> None:
    assert [path.parent.name for path in EXAMPLES] == ["amplifier", "board", "by-hand", "lamp-ladder"]


def test_a_trace_is_read_from_the_meter_of_its_own_name_with_the_function_of_its_role() -> None:
    plan = plan_of(MAINS, LAMP, PLUS, SINK, "name='own', role='idle', meter='dmm 2', function='amps_dc'")
    assert [(trace.job, trace.measures) for trace in plan.trace] == [
        ("mains", Function.VOLTS_AC),
        ("lamp", Function.VOLTS_AC),
        ("+B", Function.VOLTS_DC),
        ("sink L", Function.TEMPERATURE),
        ("dmm 2", Function.AMPS_DC),
    ]


def test_traces_are_found_by_name_and_by_what_they_show() -> None:
    plan = plan_of(MAINS, PLUS, MINUS)
    assert plan.find("-B").sign == -1
    assert [trace.name for trace in plan.of_role(Role.RAIL)] == ["+B", "-B"]
    assert plan.of_role(Role.LAMP) == ()
    with pytest.raises(KeyError):
        plan.find("+C")


def test_every_role_has_a_function() -> None:
    for role in Role:
        plan = plan_of(f"name='x', role='{role}'")
        assert plan.trace[0].measures.unit or role is Role.SUPPLY_STATE


def test_a_limit_has_the_persistence_of_its_kind_unless_it_says_otherwise() -> None:
    plan = plan_of(
        PLUS,
        MINUS,
        limits=[
            "trace='+B', kind='high', value=50.0",
            "trace='+B', kind='rail_low'",
            "trace='+B', kind='apart', partner='-B'",
            "trace='+B', kind='rail_high', persistence=0.0",
        ],
    )
    assert [limit.seconds for limit in plan.limit] == [0.0, 2.0, 2.0, 0.0]
    assert [limit.readings for limit in plan.limit] == [2, 2, 2, 2]


def test_every_kind_of_limit_has_the_persistence_that_is_usual_at_the_bench() -> None:
    assert {kind.value: Limit(trace="x", kind=kind).seconds for kind in LimitKind} == {
        "high": 0.0,
        "low": 2.0,
        "rail_low": 2.0,
        "rail_high": 1.0,
        "apart": 2.0,
        "polarity": 0.0,
        "supply": 0.5,
        "runaway": 0.0,
        "rise": 0.0,
    }


def test_what_a_plan_leaves_out_is_what_is_usual_at_the_bench() -> None:
    plan = plan_of(
        PLUS,
        source="moved_by='hand', chain=['wall'], mains=230.0",
        limits=["trace='+B', kind='high', value=50.0, gate={any_of=['+B'], above=1.0}"],
        stages=["name='1', fraction=0.1, dwell=1.0, wait=[{trace='+B', low=1.0}]"],
    )
    (limit,), (stage,), source = plan.limit, plan.stage, plan.source
    assert (plan.trace[0].critical, plan.trace[0].sign, plan.tail) == (True, 1, 10.0)
    assert (source.lamp_watts, source.diode_drop, source.protection) == (0.0, 0.8, 1.1)
    assert (limit.floor, limit.fraction, limit.after_on, limit.after_steady) == (1.5, None, 0.0, None)
    assert (limit.action, limit.gate and limit.gate.seconds) == (Action.TRIP, 5.0)
    assert (stage.wait[0].seconds, stage.wait[0].as_expected) == (3.0, False)


@pytest.mark.parametrize(
    ("trace", "value", "shown"),
    [
        (PLUS, 44.0, "44.00 V"),
        (PLUS, 144.123, "144.1 V"),
        (PLUS, 0.0, "0.00 V"),
        (PLUS, math.inf, "OL"),
        (OFFSET, 0.0123456, "12.35 mV"),
        (OFFSET, -0.00004, "-0.04 mV"),
        (OFFSET, -0.000001, "0.00 mV"),
        (OFFSET, -0.553692, "-553.7 mV"),
        (OFFSET, 1.23456, "1.235 V"),
        (SINK, 41.26, "41.3 °C"),
        (AMPS, 0.0612, "61.2 mA"),
    ],
)
def test_a_value_is_shown_to_the_digit_that_matters_on_its_trace(
    trace: str, value: float, shown: str
) -> None:
    assert plan_of(PLUS, trace.replace("'+B'", "'other'")).trace[1].shown(value) == shown


def test_ceilings_polarity_and_the_supply_do_not_rest_while_somebody_turns_it_up() -> None:
    assert not {LimitKind.HIGH, LimitKind.POLARITY, LimitKind.SUPPLY} & RESTS_WHILE_MOVING


def test_a_plan_for_a_supply_says_what_the_supply_is_set_to() -> None:
    plan = plan_of(
        VOLTS,
        AMPS,
        STATE,
        source=BENCH_SUPPLY,
        stages=["name='10 V', volts=10.0, current_limit=0.1, dwell=5.0"],
    )
    assert plan.source.moved_by is Mover.PROGRAM
    assert faults(plan_text(VOLTS, source=BENCH_SUPPLY, stages=["name='10 V', dwell=5.0"])) == {
        "stage[1].volts": "is missing",
        "stage[1].current_limit": "is missing",
    }


def test_a_plan_by_hand_says_how_far_up_the_variable_transformer_is() -> None:
    assert faults(plan_text(PLUS, stages=["name='low', dwell=5.0", "name='high', volts=3.0, dwell=1.0"])) == {
        "stage[1].fraction": "is missing",
        "stage[2].fraction": "is missing",
    }


def test_the_source_must_be_complete() -> None:
    assert faults(plan_text(PLUS, source="moved_by='hand', chain=['wall']")) == {"source.mains": "is missing"}
    assert faults(plan_text(PLUS, source="moved_by='program', chain=['x']"))["source.supply"] == "is missing"


@pytest.mark.parametrize(
    ("limit", "place", "problem"),
    [
        ("trace='+B', kind='high'", "value", "needs exactly one bound"),
        ("trace='+B', kind='low', value=1.0, of_source=0.1", "value", "needs exactly one bound"),
        ("trace='+B', kind='polarity', value=1.0", "value", "means nothing for a limit of kind polarity"),
        ("trace='+B', kind='apart'", "partner", "is missing"),
        ("trace='+B', kind='apart', partner='+B'", "partner", "is the trace itself"),
        (
            "trace='+B', kind='rail_low', partner='-B'",
            "partner",
            "means nothing for a limit of kind rail_low",
        ),
        ("trace='+B', kind='high', value=1.0, readings=1", "readings", "1 is out of bounds"),
        ("trace='+B', kind='high', of_source=-0.5", "of_source", "-0.5 is out of bounds"),
        ("trace='+B', kind='high', value=1.0, gate={any_of=[], above=1.0}", "gate.any_of", "names no trace"),
    ],
)
def test_a_limit_that_cannot_mean_anything_is_refused(limit: str, place: str, problem: str) -> None:
    assert faults(plan_text(PLUS, MINUS, limits=[limit])) == {f"limit[1].{place}": problem}


@pytest.mark.parametrize(
    ("limit", "place", "problem"),
    [
        ("trace='+B', kind='supply'", "kind", "needs a supply's state, which +B is not"),
        ("trace='idle L', kind='rail_low'", "kind", "is for raw rails, which idle L is not"),
        ("trace='idle L', kind='rail_high'", "kind", "is for raw rails, which idle L is not"),
        ("trace='-B', kind='high', value=-50.0", "value", "is negative, but -B is bounded by its size"),
    ],
)
def test_a_limit_must_fit_what_its_trace_shows(limit: str, place: str, problem: str) -> None:
    assert faults(plan_text(PLUS, MINUS, IDLE, limits=[limit])) == {f"limit[1].{place}": problem}


def test_a_temperature_may_have_a_negative_bound() -> None:
    plan = plan_of(SINK, PLUS, limits=["trace='sink L', kind='low', value=-20.0"])
    assert plan.limit[0].value == -20.0


def test_following_the_source_needs_to_know_what_the_rail_should_be() -> None:
    text = plan_text(
        PLUS,
        source="moved_by='hand', chain=['wall'], mains=230.0",
        limits=["trace='+B', kind='rail_low'"],
        stages=["name='1', fraction=0.1, dwell=1.0, wait=[{trace='+B', as_expected=true}]"],
    )
    assert faults(text) == {
        "limit[1].kind": "needs to know what the rail should be",
        "stage[1].wait[1].as_expected": "needs to know what the rail should be",
    }


def test_no_stage_waits_for_a_rail_of_nothing() -> None:
    wait = "wait=[{trace='+B', as_expected=true}]"
    text = plan_text(PLUS, stages=[f"name='{f}', fraction={f}, dwell=1.0, {wait}" for f in (0.0, 0.01, 0.1)])
    nothing = "expects nothing: the rectifier's drop takes all that the source gives here"
    assert faults(text) == {f"stage[{at}].wait[1].as_expected": nothing for at in (1, 2)}


@pytest.mark.parametrize(
    ("wait", "place", "problem"),
    [
        ("trace='offset L'", "trace", "has nothing to wait for"),
        ("trace='+B', low=5.0, high=4.0", "low", "is above high, so that nothing can lie between them"),
        ("trace='offset L', as_expected=true", "as_expected", "is for raw rails, which offset L is not"),
        ("trace='offset L', high=0.05", "high", "alone lets any negative offset pass"),
        ("trace='+B', low=1.0, seconds=601.0", "seconds", "601.0 is out of bounds"),
    ],
)
def test_a_wait_that_cannot_mean_anything_is_refused(wait: str, place: str, problem: str) -> None:
    text = plan_text(PLUS, OFFSET, stages=[f"name='1', fraction=0.1, dwell=1.0, wait=[{{{wait}}}]"])
    assert faults(text) == {f"stage[1].wait[1].{place}": problem}


def test_one_meter_cannot_show_two_points_at_once() -> None:
    text = plan_text(PLUS, "name='-B', role='rail', meter='+B'")
    assert faults(text) == {"trace[2].meter": "'+B' shows +B already, and a meter is in one place at a time"}


def test_the_outputs_of_a_supply_are_traces_of_their_own() -> None:
    second = "name='volts 2', role='supply_volts', meter='bench supply', channel='2'"
    stages = ["name='1', volts=1.0, current_limit=0.1, dwell=1.0"]
    plan = plan_of(VOLTS, AMPS, STATE, second, source=BENCH_SUPPLY, stages=stages)
    assert len(plan.trace) == 4


def test_every_fault_across_the_tables_is_told_at_once() -> None:
    text = plan_text(
        "name='+B', role='rail', critical=false",
        "name='+B', role='idle', critical=false, meter='other'",
        source=DIRECT,
        limits=[
            "trace='+C', kind='high', value=1.0, gate={any_of=['+D', '+B'], above=1.0}",
            "trace='+B', kind='apart', partner='-B'",
        ],
        stages=["name='1', dwell=1.0, wait=[{trace='lamp', low=1.0}]"],
    )
    assert faults(text) == {
        "trace[2].name": "'+B' stands twice",
        "limit[1].trace": "no trace is called '+C'",
        "limit[1].gate.any_of": "no trace is called '+D'",
        "limit[2].partner": "no trace is called '-B'",
        "stage[1].wait[1].trace": "no trace is called 'lamp'",
        "stage[1].fraction": "is missing",
        "trace": "no trace is critical",
    }


def test_a_plan_without_stages_is_refused() -> None:
    found = faults(plan_text(stages=[], limits=["trace='+B', kind='high', value=1.0"]))
    assert found == {
        "limit[1].trace": "no trace is called '+B'",
        "stage": "there is no stage",
    }


def test_a_rail_is_positive_or_negative_and_never_nothing() -> None:
    assert faults(plan_text("name='+B', role='rail', sign=0")) == {"trace[1].sign": "is 0"}


def test_a_mistyped_word_is_answered_with_the_word_that_was_meant() -> None:
    with pytest.raises(BadInput, match='did you mean "critical"'):
        plan_of("name='+B', role='rail', critcal=false")
    with pytest.raises(BadInput, match='did you mean "rail_low"'):
        plan_of(PLUS, limits=["trace='+B', kind='rail_lo'"])


def test_a_plan_for_a_newer_benchlog_is_refused_by_name() -> None:
    text = plan_text(PLUS, stages=TWO_STAGES, source=HALL).replace("plan 1", "plan 2")
    with pytest.raises(BadInput, match="newer benchlog"):
        textfile.parse(text, "plan.toml", Plan)


@pytest.mark.parametrize(
    ("limit", "place"),
    [
        ("trace='+B', kind='runaway', target=1.0", "limit[1].kind"),
        ("trace='idle L', kind='runaway'", "limit[1].target"),
        ("trace='idle L', kind='high', value=1.0, target=1.0", "limit[1].target"),
        ("trace='+B', kind='high', value=1.0, count=1.0", "limit[1].count"),
    ],
)
def test_a_runaway_is_for_idle_with_a_target_or_a_sink(limit: str, place: str) -> None:
    assert list(faults(plan_text(PLUS, IDLE, limits=(limit,)))) == [place]
