"""What a plan puts into a graph, and how its scales are written."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog import resources, textfile
from benchlog.domain.plan import Plan
from benchlog.domain.reference import Reference, Stood
from benchlog.window import graph_scale
from benchlog.window.graph_scene import Band, Scene, bands_of_stage, of_the_past, scene_of
from benchlog.window.graph_view import View


def plan(example: str) -> Plan:
    return textfile.read(resources.path("examples", example, "plan.toml"), Plan)


@pytest.fixture(scope="module")
def amplifier() -> Plan:
    return plan("amplifier")


# --- scene ---------------------------------------------------------------------------------------


def test_an_amplifier_has_its_panels_in_the_order_a_person_looks_at_them(amplifier: Plan) -> None:
    scene = scene_of(amplifier)
    assert scene.panels == ("rails", "output offset", "idle", "lamp and mains", "heat sink")
    assert [line.name for line in scene.of_panel("rails")] == ["+B", "-B"]
    assert [line.name for line in scene.of_panel("lamp and mains")] == ["lamp", "mains"]
    assert [line.side for line in scene.of_panel("idle")] == ["left", "right"]


def test_the_traces_of_one_panel_differ_in_colour() -> None:
    for example in ("amplifier", "by-hand", "board"):
        scene = scene_of(plan(example))
        for panel in scene.panels:
            colours = [line.colour for line in scene.of_panel(panel)]
            assert len(set(colours)) == len(colours)


def test_a_panel_is_called_after_what_stands_in_it() -> None:
    assert scene_of(plan("by-hand")).panels == ("rails", "lamp")
    assert scene_of(plan("board")).panels == ("rails", "supply current")


def test_a_supplys_state_is_no_line() -> None:
    assert not [line for line in scene_of(plan("board")).lines if "state" in line.name]


def test_limits_stand_on_the_side_the_guard_looks_at(amplifier: Plan) -> None:
    scene = scene_of(amplifier)
    told = {(bound.panel, bound.value): bound.text for bound in scene.bounds}
    assert told["rails", 50.0] == "trips above 50 V"
    assert told["rails", -50.0] == "trips beyond -50 V"
    assert told["output offset", 0.1] == "warns beyond 100 mV"
    assert told["output offset", -1.0] == "trips beyond -1 V"
    assert told["heat sink", 60.0] == "trips above 60 °C"
    assert ("heat sink", -60.0) not in told


def test_one_limit_on_both_sides_is_one_line(amplifier: Plan) -> None:
    bounds = scene_of(amplifier).bounds
    assert len(set(bounds)) == len(bounds)
    assert len([bound for bound in bounds if bound.panel == "idle"]) == 6


def test_a_run_that_is_over_shows_no_limit_as_if_it_had_looked(amplifier: Plan) -> None:
    bounds = of_the_past(scene_of(amplifier)).bounds
    assert not any(bound.looks for bound in bounds)
    assert ("rails", 50.0, ("limit 50 V", "50 V")) in [(one.panel, one.value, one.said) for one in bounds]
    assert len({(one.panel, one.value) for one in bounds}) == len(bounds)


def test_a_limit_that_follows_the_source_is_no_line(amplifier: Plan) -> None:
    assert not [bound for bound in scene_of(amplifier).bounds if bound.panel == "lamp and mains"]


def test_a_stage_has_bands_for_its_rails_and_for_what_it_waits_for(amplifier: Plan) -> None:
    stage = amplifier.stage[2]
    bands = bands_of_stage(amplifier, stage, 85.0, 150.0, lamp=8.0)
    rails = [band for band in bands if band.panel == "rails"]
    assert [(round(band.low, 1), round(band.high, 1)) for band in rails] == [(11.9, 17.4), (-17.4, -11.9)]
    assert Band("output offset", -0.05, 0.05, 85.0, 150.0) in bands
    assert len([band for band in bands if band.panel == "output offset"]) == 1


def test_once_there_is_a_good_run_its_figures_are_the_bands(amplifier: Plan) -> None:
    rails = {"+B": 13.1, "-B": 12.9}
    good = Reference("2026-05-03", (Stood(92.0, 100.0, 9.0, None, rails),))
    bands = bands_of_stage(amplifier, amplifier.stage[2], 85.0, 150.0, lamp=9.0, reference=good)
    shown = {
        panel: [(round(band.low, 2), round(band.high, 2)) for band in bands if band.panel == panel]
        for panel in ("rails", "lamp and mains")
    }
    # A tenth and at least 1.5 V about what each rail read; the lamp give or take the room before it warns.
    assert shown["rails"] == [(11.6, 14.6), (-14.4, -11.4)]
    assert shown["lamp and mains"] == [(3.48, 14.52)]
    far = bands_of_stage(amplifier, amplifier.stage[5], 85.0, 150.0, lamp=22.8, reference=good)
    assert not [band for band in far if band.panel == "lamp and mains"]
    assert far == bands_of_stage(amplifier, amplifier.stage[5], 85.0, 150.0, lamp=22.8)


# --- scales --------------------------------------------------------------------------------------


@given(
    st.floats(-1e3, 1e3, allow_subnormal=False),
    st.floats(0.0, 1e3, allow_subnormal=False),
    st.floats(30.0, 400.0),
    st.booleans(),
)
def test_a_scale_holds_what_it_must_and_its_numbers_are_true(
    low: float, span: float, height: float, words_below: bool
) -> None:
    scale = graph_scale.value_scale(
        low, low + span, "V", 0.01, height=height, line=18.0, words_below=words_below
    )
    assert scale.low <= low
    assert low + span <= scale.high
    exponent = -3 if scale.unit == "mV" else 0
    for value, word in scale.ticks:
        assert scale.low - 1e-9 <= value <= scale.high + 1e-9
        if word:
            assert math.isclose(float(word) * 10.0**exponent, value, rel_tol=1e-6, abs_tol=1e-9)


@given(st.floats(-1e3, 1e3, allow_subnormal=False), st.floats(0.0, 1e3), st.floats(145.0, 400.0))
def test_a_scale_bears_two_numbers_at_least_that_do_not_touch(low: float, span: float, height: float) -> None:
    line = 18.0
    scale = graph_scale.value_scale(low, low + span, "V", 0.01, height=height, line=line)
    written = [value for value, word in scale.ticks if word]
    assert len(written) >= 2
    per = height / (scale.high - scale.low)
    assert all((b - a) * per >= line for a, b in pairwise(written))


def test_small_volts_are_written_in_millivolts() -> None:
    scale = graph_scale.value_scale(0.0, 0.1, "V", 1e-5, height=120.0, line=18.0)
    assert scale.unit == "mV"
    assert (0.05, "50") in [(round(value, 9), word) for value, word in scale.ticks]


def test_a_near_limit_is_in_view_and_a_far_one_is_not() -> None:
    assert graph_scale.value_range([(-0.002, 0.014)], [], [-1.0, -0.1, 0.1, 1.0]) == (-0.002, 0.014)
    assert graph_scale.value_range([(-0.03, 0.04)], [], [-1.0, -0.1, 0.1, 1.0]) == (-0.1, 0.1)
    assert graph_scale.value_range([(0.0, 44.0)], [(30.0, 46.0)], [50.0]) == (0.0, 50.0)
    assert graph_scale.value_range([(23.0, 24.0)], [], [20.0]) == (20.0, 24.0)


def test_a_value_beyond_its_limit_is_in_view_with_it() -> None:
    low, high = graph_scale.value_range([(0.0, 1.31)], [], [-1.0, 1.0])
    assert low <= 0.0
    assert high == 1.31


@given(st.lists(st.floats(-50.0, 250.0), max_size=8))
def test_names_at_the_right_end_never_lie_on_each_other(wanted: list[float]) -> None:
    placed = sorted(graph_scale.spread(wanted, 18.0, 0.0, 200.0))
    assert all(b - a >= 18.0 - 1e-6 for a, b in pairwise(placed))
    assert all(9.0 - 1e-6 <= one <= 191.0 + 1e-6 for one in placed)


@pytest.mark.parametrize(
    ("t", "fine", "words"),
    [
        (0.0, False, "0:00"),
        (462.9, False, "7:42"),
        (4062.0, False, "1:07:42"),
        (59.96, True, "1:00.0"),
        (-5.0, False, "-0:05"),
    ],
)
def test_a_time_of_a_run_is_written_as_a_clock_would(t: float, fine: bool, words: str) -> None:
    assert graph_scale.moment(t, fine=fine) == words


@given(st.floats(0.0, 1e6), st.floats(0.2, 1e6), st.integers(1, 20))
def test_the_time_scale_has_no_more_numbers_than_there_is_room_for(t0: float, span: float, most: int) -> None:
    ticks = graph_scale.time_ticks(t0, t0 + span, most)
    assert len(ticks) <= most + 1
    assert all(t0 - 1e-6 * span <= t <= t0 + span * (1 + 1e-6) for t, _ in ticks)


# --- the stretch in view -------------------------------------------------------------------------


def test_the_whole_run_is_in_view_and_its_end_moves_in_steps() -> None:
    view = View()
    ends = set()
    for latest in range(600, 620):
        view.ran(0.0, float(latest))
        t0, t1, _first = view.range(1000)
        assert (t0, t1 >= latest) == (0.0, True)
        ends.add(t1)
    assert len(ends) <= 3


def test_the_newest_minutes_move_by_whole_columns() -> None:
    view = View()
    view.follow(60.0)
    firsts = []
    for latest in (600.0, 600.03, 600.1):
        view.ran(0.0, latest)
        t0, t1, first = view.range(600)
        assert t1 >= latest
        assert math.isclose(first * 0.1, t0, abs_tol=1e-6)
        firsts.append(first)
    assert firsts == sorted(firsts)


def test_who_pulls_the_picture_back_stays_there_and_follows_again_at_the_end() -> None:
    view = View()
    view.ran(0.0, 600.0)
    view.follow(60.0)
    view.pull(0.5, 600)
    assert not view.follows
    held = view.range(600)[:2]
    view.ran(0.0, 700.0)
    assert view.range(600)[:2] == held
    for _ in range(10):
        view.pull(-0.5, 600)
    assert view.follows
    assert math.isclose(view.range(600)[1], 700.0, abs_tol=0.2)


def test_zooming_keeps_what_is_pointed_at_in_its_place() -> None:
    view = View()
    view.ran(0.0, 600.0)
    view.hold(100.0, 200.0)
    view.zoom(0.5, 0.25, 600)
    t0, t1, _first = view.range(600)
    assert math.isclose(t0 + 0.25 * (t1 - t0), 125.0)
    assert math.isclose(t1 - t0, 50.0)


def test_zooming_out_ends_at_the_whole_run() -> None:
    view = View()
    view.ran(0.0, 600.0)
    view.follow(60.0)
    for _ in range(20):
        view.zoom(1.5, 1.0, 600)
    assert view.range(600)[0] == 0.0
    view.zoom(1e-9, 0.5, 600)
    t0, t1, _first = view.range(600)
    assert math.isclose(t1 - t0, graph_scale.LEAST_SPAN)


def test_an_empty_scene_has_no_panels() -> None:
    assert Scene().panels == ()


def test_labels_without_room_are_told_together() -> None:
    placed = [
        (10.0, "a"),
        (14.0, "c"),
        (60.0, "b 18 Nov"),
        (90.0, "d"),
        (95.0, "e"),
        (96.0, "f"),
        (99.0, "g"),
    ]
    assert graph_scale.gathered(placed, 20.0) == [(12.0, "ac"), (60.0, "b 18 Nov"), (95.0, "d+3")]
