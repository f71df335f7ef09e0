"""Six numbers and the meters at hand make plans that read like written ones, and guard what they can."""

from dataclasses import replace

import pytest

from benchlog import textfile
from benchlog.domain.guard import Guard
from benchlog.domain.guard_defaults import ceiling
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Action, LimitKind, OfTrace
from benchlog.domain.plan_templates import Template, plan
from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import Function
from benchlog.domain.sixnumbers import MeterAtHand, SixNumbers, read_rail
from benchlog.errors import BadInput
from benchlog.instruments.bench import Bench, MeterEntry, OffSwitchEntry, SupplyEntry
from benchlog.recorder.plancheck import check

FREE = tuple(MeterAtHand(f"dmm {n}", mains_side=n == 1) for n in range(1, 9))
HALL = SixNumbers(230.0, 44.0, True, 2, 0.0165, 0.33, 100.0, FREE)
SMALL = SixNumbers(120.0, 18.0, False, 1, 0.005, 0.5, 0.0, FREE[:1])
UNITS = [
    replace(unit, meters=FREE[:count], lamp_watts=lamp, paired=paired)
    for unit in (HALL, SMALL)
    for count in (1, 2, 8)
    for lamp in (0.0, 25.0, 60.0)
    for paired in (True, False)
]


def bench_of(six: SixNumbers) -> Bench:
    """A bench that has those meters, a supply, and both kinds of off-switch."""
    meters = tuple(
        MeterEntry(job=meter.job, profile="x", address="tcp://127.0.0.1:1", link_isolated="yes")
        for meter in six.meters
    )
    supply = SupplyEntry(job="bench supply", profile="scpi-supply", address="tcp://127.0.0.1:1")
    off = OffSwitchEntry(kind="supply", job="bench supply", supply="bench supply")
    return Bench(name="b", meter=meters, supply=(supply,), off_switch=(off,))


def one(template: Template, six: SixNumbers) -> Plan:
    """The plan of a template, on a bench that has a supply."""
    return plan(template, six, "bench supply")


def clipped(plan: Plan) -> list[tuple[str, str]]:
    """Trace and meter of each point."""
    return [(trace.name, trace.job) for trace in plan.trace]


@pytest.mark.parametrize("template", Template)
def test_every_plan_reads_back_as_itself_and_passes_the_plan_check(template: Template) -> None:
    for six in UNITS:
        made = one(template, six)
        assert textfile.parse(textfile.write(made), "plan.toml", Plan) == made
        assert check(made, bench_of(six), "plan.toml")
        assert any(limit.action is Action.TRIP for limit in made.limit) is made.run_kind.feeds
        assert Guard(made).traces


def test_one_meter_goes_across_the_lamp_and_to_an_idle_drop_where_there_is_none() -> None:
    alone = replace(HALL, meters=FREE[:1])
    assert clipped(one(Template.VARIABLE_TRANSFORMER, alone)) == [("lamp", "dmm 1")]
    direct = replace(alone, lamp_watts=0.0)
    assert clipped(one(Template.VARIABLE_TRANSFORMER, direct)) == [("idle L", "dmm 1")]


def test_no_meter_is_refused_since_nothing_would_cut() -> None:
    with pytest.raises(BadInput, match="across the lamp"):
        plan(Template.QUICK, replace(HALL, meters=()))


def test_a_meter_not_fit_for_the_mains_side_goes_elsewhere() -> None:
    unfit = replace(HALL, meters=(MeterAtHand("dmm 2"),))
    assert clipped(one(Template.QUICK, unfit)) == [("+B", "dmm 2")]


def test_a_meter_of_a_points_own_name_goes_there_and_one_of_a_fixed_function_where_it_reads() -> None:
    meters = (
        MeterAtHand("-B"),
        MeterAtHand("network meter", Function.VOLTS_AC, mains_side=True),
        MeterAtHand("handheld", Function.VOLTS_DC),
    )
    assert clipped(one(Template.QUICK, replace(HALL, meters=meters))) == [
        ("lamp", "network meter"),
        ("+B", "handheld"),
        ("-B", "-B"),
    ]


def test_meters_that_read_no_point_are_refused() -> None:
    with pytest.raises(BadInput, match="none of them can read a point"):
        plan(Template.QUICK, replace(HALL, meters=(MeterAtHand("sink probe", Function.TEMPERATURE),)))


def test_the_table_of_the_bench_stands_in_a_whole_plan() -> None:
    made = one(Template.VARIABLE_TRANSFORMER, HALL)
    found = [(limit.trace, limit.kind.value, limit.value, limit.seconds) for limit in made.limit]
    assert found[:9] == [
        ("lamp", "high", None, 1.0),
        ("lamp", "high", None, 5.0),
        ("lamp", "rise", None, 0.0),
        ("lamp", "rise", None, 0.0),
        ("+B", "high", 50.0, 0.0),
        ("+B", "rail_low", None, 2.0),
        ("+B", "rail_high", None, 1.0),
        ("+B", "polarity", None, 0.0),
        ("+B", "apart", None, 2.0),
    ]
    lamp = made.limit[:4]
    assert [limit.over_healthy or limit.fraction for limit in lamp] == [0.12, 0.06, 0.25, 0.10]
    assert [limit.action.value for limit in lamp] == ["trip", "warn", "trip", "warn"]
    low = next(limit for limit in made.limit if limit.trace == "idle L" and limit.kind is LimitKind.LOW)
    assert (low.value, low.once_set, low.action) == (0.0033, True, Action.WARN)
    assert ("idle L", "high", 0.033, 3.0) in found
    assert ("idle L", "high", 0.0825, 0.0) in found
    assert ("idle L", "runaway", None, 0.0) in found
    assert ("offset R", "high", 1.0, 1.0) in found
    gates = {(limit.gate.any_of, limit.gate.above) for limit in made.limit if limit.gate}
    assert gates == {(("+B", "-B"), 22.0)}
    assert made.about.startswith(
        "+/-44 V rails, 50 mA idle in each of two channels (16.5 mV across 0.33 ohm). "
    )


def test_a_single_rail_has_no_pair_to_compare() -> None:
    made = one(Template.VARIABLE_TRANSFORMER, replace(HALL, paired=False))
    assert [trace.name for trace in made.of_role(Role.RAIL)] == ["+B"]
    assert LimitKind.APART not in {limit.kind for limit in made.limit}
    assert made.about.endswith("Take the offset after the output capacitor.")


def test_a_board_on_one_rail_may_have_no_output_capacitor() -> None:
    made = one(Template.BOARD, replace(HALL, paired=False))
    assert made.of_role(Role.OFFSET)
    assert made.about.endswith("after the output capacitor; where there is none, leave it out of the plan.")
    few = one(Template.BOARD, replace(HALL, paired=False, meters=HALL.meters[:1]))
    assert not few.of_role(Role.OFFSET)
    assert "offset" not in few.about


def test_the_midpoint_of_a_single_rail_is_half_of_it_as_measured() -> None:
    made = one(Template.QUICK, replace(HALL, paired=False))
    assert clipped(made) == [("lamp", "dmm 1"), ("+B", "dmm 2"), ("midpoint L", "dmm 3")]
    found = [limit for limit in made.limit if limit.trace == "midpoint L"]
    assert [(limit.kind, limit.of_trace, limit.action) for limit in found] == [
        (LimitKind.HIGH, OfTrace(trace="+B", share=0.55), Action.TRIP),
        (LimitKind.LOW, OfTrace(trace="+B", share=0.45), Action.TRIP),
    ]
    assert all(limit.gate is not None and limit.gate.above == 22.0 for limit in found)


def test_a_midpoint_without_its_rail_is_watched_only() -> None:
    meters = (MeterAtHand("lamp", mains_side=True), MeterAtHand("midpoint L"))
    made = one(Template.VARIABLE_TRANSFORMER, replace(HALL, paired=False, meters=meters))
    assert clipped(made) == [("lamp", "lamp"), ("midpoint L", "midpoint L")]
    assert {limit.trace for limit in made.limit} == {"lamp"}


def test_probes_for_degrees_and_amps_go_where_nothing_else_reads() -> None:
    meters = (
        MeterAtHand("dmm", mains_side=True),
        MeterAtHand("clamp", Function.AMPS_AC, mains_side=True),
        *(MeterAtHand(f"probe {n}", Function.TEMPERATURE) for n in range(3)),
    )
    made = one(Template.VARIABLE_TRANSFORMER, replace(HALL, meters=meters))
    assert [name for name, _ in clipped(made)] == ["lamp", "mains current", "sink L", "sink R", "can"]
    found = {(limit.trace, limit.kind.value, limit.action.value) for limit in made.limit}
    assert {
        ("mains current", "high", "trip"),
        ("sink L", "high", "trip"),
        ("sink R", "runaway", "trip"),
        ("can", "high", "warn"),
        ("can", "rise", "warn"),
    } <= found
    (amps,) = [limit for limit in made.limit if limit.trace == "mains current"]
    assert (amps.times_healthy, amps.seconds, amps.after_on) == (2.0, 2.0, 3.0)
    (warms,) = [limit for limit in made.limit if limit.trace == "can" and limit.kind is LimitKind.RISE]
    assert (warms.value, warms.window) == (pytest.approx(1.2), 180.0)
    assert not any(trace.critical for trace in made.of_role(Role.SINK))


def test_two_safety_resistors_are_compared() -> None:
    made = one(Template.SAFETY_RESISTORS, HALL)
    apart = [limit for limit in made.limit if limit.kind is LimitKind.APART and limit.trace == "drop +"]
    assert [(limit.partner, limit.fraction, limit.floor, limit.seconds, limit.action) for limit in apart] == [
        ("drop -", 0.1, 0.1, 5.0, Action.WARN)
    ]
    single = one(Template.SAFETY_RESISTORS, replace(HALL, paired=False))
    assert LimitKind.APART not in {limit.kind for limit in single.limit}


def test_a_ladder_is_one_plan_with_a_lamp_for_each_stage_which_its_bound_follows() -> None:
    ladder = plan(Template.LAMP_LADDER, HALL)
    assert [stage.name for stage in ladder.stage] == ["40 W lamp", "60 W lamp", "100 W lamp", "direct"]
    assert [ladder.fitted_at(index).lamp_watts for index in range(4)] == [40.0, 60.0, 100.0, 0.0]
    assert ladder.source.lamp_watts == 40.0
    assert not ladder.has_dial
    guard = Guard(ladder)
    guard.feed.switch(True, 0)
    guard.feed.told = 230.0
    bounds = []
    for watts in (40.0, 60.0, 100.0, 0.0):
        guard.feed.lamp_watts = watts
        bounds.append(guard.bound(ladder.limit[0]))
    assert bounds == [pytest.approx(138.0), pytest.approx(0.46 * 230), pytest.approx(0.35 * 230), None]


def test_a_ladder_without_a_lamp_is_the_wall_alone() -> None:
    ladder = plan(Template.LAMP_LADDER, replace(HALL, lamp_watts=0.0))
    assert [(stage.name, stage.lamp_watts) for stage in ladder.stage] == [("direct", 0.0)]
    assert not ladder.changes


def test_a_rail_behind_a_lamp_nobody_meters_is_awaited_steady_and_not_at_a_figure() -> None:
    unfit = replace(HALL, meters=(MeterAtHand("dmm 2"),))
    waits = [wait for stage in one(Template.VARIABLE_TRANSFORMER, unfit).stage for wait in stage.wait]
    assert waits
    assert not any(wait.as_expected for wait in waits)


def test_a_safety_resistor_trips_at_ten_volts_and_at_three_times_what_is_expected() -> None:
    small = replace(HALL, channels=1)
    made = one(Template.SAFETY_RESISTORS, small)
    assert [limit.value for limit in made.limit if limit.trace == "drop +"] == [10.0, 3.3, None]
    assert "22 ohm safety resistors in the rails" in made.source.chain


def test_a_single_rail_is_one_rail_and_one_resistor_in_words() -> None:
    made = one(Template.SAFETY_RESISTORS, replace(HALL, paired=False, channels=1))
    assert made.name == "Safety resistor in the rail"
    assert made.source.chain[-1] == "22 ohm safety resistor in the rail"
    assert made.about.startswith("One rail, +44 V, 50 mA idle (16.5 mV across 0.33 ohm). ")


@pytest.mark.parametrize("template", [each for each in Template if not each.by_supply])
def test_what_switches_is_called_as_the_bench_calls_it(template: Template) -> None:
    assert plan(template, HALL, "", "mains relay").source.chain[0] == "mains relay"
    assert plan(template, HALL).source.chain[0] == "wall switch"


def test_a_sink_is_watched_only_where_a_meter_reads_degrees() -> None:
    bare = one(Template.VARIABLE_TRANSFORMER, HALL)
    assert not bare.of_role(Role.SINK)
    probe = MeterAtHand("probe", Function.TEMPERATURE)
    with_probe = one(Template.VARIABLE_TRANSFORMER, replace(HALL, meters=(*FREE, probe)))
    assert [trace.job for trace in with_probe.of_role(Role.SINK)] == ["probe"]


def test_a_board_needs_its_supply() -> None:
    with pytest.raises(BadInput, match="name the supply"):
        plan(Template.BOARD, HALL)
    made = one(Template.BOARD, HALL)
    assert [stage.volts for stage in made.stage] == [14.7, 29.3, 44.0]
    assert [stage.current_limit for stage in made.stage] == [0.1, 0.25, 0.25]


@pytest.mark.parametrize(
    ("text", "said"), [("+/-44", (44.0, True)), ("+35 V", (35.0, False)), ("±9,5", (9.5, True))]
)
def test_a_rail_says_which_there_are(text: str, said: tuple[float, bool]) -> None:
    assert read_rail(text) == said


@pytest.mark.parametrize("text", ["44", "", "-44", "+"])
def test_a_rail_without_its_sign_is_asked_again(text: str) -> None:
    with pytest.raises(BadInput, match=r"\+/-44"):
        read_rail(text)


@pytest.mark.parametrize(
    ("field", "value"),
    [("mains", 0.0), ("rail", float("nan")), ("idle", 50.0), ("across", 0.0), ("channels", 3)],
)
def test_numbers_that_cannot_be_are_refused(field: str, value: float) -> None:
    with pytest.raises(BadInput, match=field):
        plan(Template.QUICK, replace(HALL, **{field: value}))  # type: ignore[arg-type]


def test_a_ceiling_is_the_next_usual_rating() -> None:
    assert [ceiling(rail) for rail in (18.0, 44.0, 480.0)] == [25.0, 50.0, 528.0]


# --- after the first power-up ----------------------------------------------------------------------


def test_an_adjustment_sets_offset_idle_cold_idle_warm_and_offset_again_without_a_lamp() -> None:
    made = one(Template.ADJUST, HALL)
    assert [stage.name for stage in made.stage] == ["offset", "idle, cold", "idle, warm", "offset again"]
    assert not any(made.fitted_at(index).lamp_watts for index in range(len(made.stage)))
    cold, warm = ({trim.trace: trim for trim in made.stage[at].trim} for at in (1, 2))
    assert (warm["idle L"].low, warm["idle L"].high) == pytest.approx((0.95 * 0.0165, 1.05 * 0.0165))
    # Cold it is below what it will be: it rises as it warms, and never starts above its final band.
    assert cold["idle L"].low < 0.5 * 0.0165
    assert cold["idle L"].high <= warm["idle L"].high
    assert warm["idle L"].ohms == 0.33


def test_nothing_feeds_a_discharge_and_a_capacitor_is_reformed_step_by_step() -> None:
    drained, reformed = one(Template.DISCHARGE, HALL), one(Template.REFORM, HALL)
    assert {trace.role for trace in drained.trace} == {Role.RAIL}
    assert (drained.limit, drained.run_kind.feeds) == ((), False)
    volts = [stage.volts for stage in reformed.stage]
    assert volts == [11.0, 22.0, 33.0, 44.0]
    assert [stage.wait[0].high for stage in reformed.stage] == pytest.approx(
        [0.1 * one for one in (11, 22, 33, 44)]
    )
    assert {stage.current_limit for stage in reformed.stage} == {0.01}
    assert {trace.name: trace.ohms for trace in reformed.trace if trace.ohms} == {"drop": HALL.across}
