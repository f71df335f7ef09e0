"""What each fault of the model shows, and when: within stated bands of what such a fault is known to show.

Like the design figures these are calculations and bench habit, not measurements of one unit. Nothing here
waits: the model is stepped through plan time.
"""

import itertools
import random
from collections.abc import Iterator
from dataclasses import replace

import pytest

from benchlog.simbench import truth
from benchlog.simbench.amplifier import Amplifier
from benchlog.simbench.board import Board
from benchlog.simbench.channel import Channel

STEP, COARSE = 0.005, 0.02
TARGET = 0.050
"""Amps at idle that the hall amplifier is set to."""


def amplifier(fault: str, lamp: float = 100.0) -> Amplifier:
    """The shipped amplifier behind a lamp (0: direct), on mains that stand still."""
    found = truth.load("amplifier", fault)
    return Amplifier(
        replace(found.unit, lamp_watts=lamp, wander=0.0),
        found.left,
        found.right,
        random.Random(1),
        lambda *_, **__: None,
        reservoir=found.reservoir,
        contact=found.contact,
    )


def live(model: Amplifier | Board, seconds: float, step: float = STEP) -> None:
    for _ in range(round(seconds / step)):
        model.step(step)


def at(fault: str, dial: float = 1.0, seconds: float = 8.0, lamp: float = 100.0) -> Amplifier:
    model = amplifier(fault, lamp)
    model.dial = dial
    live(model, seconds)
    return model


def idle_course(fault: str, seconds: tuple[float, ...]) -> list[float]:
    """Idle current of the left channel in mA at these seconds, on rails that stay at 40 V."""
    channel, lived, seen = Channel(truth.load("amplifier", fault).left, 25.0), 0.0, []
    for moment in seconds:
        while lived < moment - 1e-9:
            channel.step(COARSE, 40.0, 40.0)
            lived += COARSE
        seen.append(channel.idle * 1e3)
    return seen


# --- reservoirs ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("dial", "deficit"), [(0.5, 0.0), (0.65, 3.0), (0.8, 8.0), (1.0, 15.0)])
def test_a_leaky_reservoir_stops_following_the_mains_from_half_of_it_on(dial: float, deficit: float) -> None:
    healthy, leaky = at("healthy", dial), at("leaky-reservoir", dial)
    assert 100.0 * (1.0 - leaky.plus / healthy.plus) == pytest.approx(deficit, abs=3.5)


def test_a_leaky_reservoir_lights_the_lamp_parts_the_rails_and_doubles_the_ripple() -> None:
    leaky = at("leaky-reservoir")
    assert leaky.lamp_volts == pytest.approx(49.0, abs=8.0)
    assert 0.05 < 1.0 - leaky.plus / leaky.minus < 0.10
    assert 2.0 < leaky.measure("plus rail", "ac") / leaky.measure("minus rail", "ac") < 3.0


def test_at_a_dwell_a_leaky_reservoir_gives_way_and_its_can_warms() -> None:
    leaky = at("leaky-reservoir")
    lamp, can = leaky.lamp_volts, leaky.measure("can plus", "celsius")
    live(leaky, 60.0)
    assert leaky.lamp_volts > lamp + 1.0
    assert 0.5 < leaky.measure("can plus", "celsius") - can < 1.0


def test_a_reservoir_that_re_forms_recovers_at_a_dwell() -> None:
    forming = at("reforming-reservoir")
    lamp, plus = forming.lamp_volts, forming.plus
    live(forming, 300.0, COARSE)
    assert forming.lamp_volts < lamp - 3.0
    assert forming.plus > plus + 0.5


@pytest.mark.parametrize("dial", [0.1, 0.2, 0.4, 1.0])
def test_a_reservoir_the_wrong_way_round_holds_its_rail_on_the_wrong_side(dial: float) -> None:
    backwards = at("rail-reversed", dial)
    assert -2.0 < backwards.measure("plus rail", "dc") < -0.6
    assert backwards.lamp_volts > 0.6 * 230.0 * dial
    assert not backwards.protection.closed


def test_a_reservoir_the_wrong_way_round_is_hot_in_under_a_minute() -> None:
    assert at("rail-reversed", seconds=55.0).measure("can plus", "celsius") > 40.0


# --- regulators ----------------------------------------------------------------------------------


@pytest.mark.parametrize("dial", [0.4, 0.8, 1.0])
def test_an_open_regulator_never_starts_and_the_relay_stays_silent(dial: float) -> None:
    healthy, opened = at("healthy", dial), at("open-regulator", dial)
    assert 0.0 < opened.protection.supply < 0.5
    assert opened.protection.clicks == 0
    assert healthy.plus <= opened.plus < 1.10 * healthy.plus
    assert opened.lamp_volts < healthy.lamp_volts


@pytest.mark.parametrize("dial", [0.6, 0.8, 1.0])
def test_a_shorted_regulator_follows_the_raw_volts_with_their_ripple(dial: float) -> None:
    shorted = at("shorted-regulator", dial)
    assert shorted.measure("regulated", "dc") == pytest.approx(shorted.plus - 0.3, abs=0.1)
    assert shorted.measure("regulated", "ac") == pytest.approx(0.1)
    assert (shorted.protection.supply > 25.0) == (dial > 0.7)


@pytest.mark.parametrize(
    ("fault", "low", "high"), [("open-regulator", 2.0, 5.0), ("shorted-regulator", 19.5, 19.8)]
)
def test_a_dead_pass_device_on_the_board(fault: str, low: float, high: float) -> None:
    board = on_the_board(fault, 3.0)
    assert low < board.measure("regulated plus", "dc") < high
    assert board.measure("regulated minus", "dc") == pytest.approx(-15.0, abs=0.1)


@pytest.mark.parametrize(("fault", "rises"), [("leaky-reservoir", True), ("reforming-reservoir", False)])
def test_a_leaky_reservoir_on_the_board_shows_as_current(fault: str, rises: bool) -> None:
    healthy, leaky = on_the_board("healthy", 3.0), on_the_board(fault, 3.0)
    before = leaky.outputs[0].amps
    assert before > 1.5 * healthy.outputs[0].amps
    live(leaky, 60.0)
    assert (leaky.outputs[0].amps > before) == rises


def on_the_board(fault: str, seconds: float) -> Board:
    found = truth.load("board", fault)
    board = Board(found.plus, found.minus, lambda *_, **__: None)
    for output in board.outputs:
        output.set_volts, output.limit = 20.0, 0.5
        output.switch(True)
    live(board, seconds)
    return board


# --- idle current --------------------------------------------------------------------------------


def test_a_bias_that_runs_away_gathers_speed() -> None:
    seen = idle_course("bias-runaway", (10.0, 60.0, 120.0, 300.0, 600.0))
    for idle, expected in zip(seen, (365.0, 414.0, 471.0, 684.0, 1250.0), strict=True):
        assert idle == pytest.approx(expected, rel=0.15)


def test_a_bias_that_runs_away_behind_the_lamp_brightens_it_while_the_rails_sag() -> None:
    model = at("bias-runaway", seconds=60.0)
    before = (model.left.idle, model.lamp_volts, model.plus)
    live(model, 440.0, COARSE)
    assert model.left.idle > before[0]
    assert model.lamp_volts > before[1] + 10.0
    assert 18.0 < model.plus < min(27.0, before[2])


def test_a_bias_that_is_only_high_bends() -> None:
    cold, five, fifteen, thirty = idle_course("bias-high", (COARSE, 300.0, 900.0, 1800.0))
    assert cold == pytest.approx(113.0, rel=0.10)
    for idle, expected in zip((five, fifteen, thirty), (168.0, 225.0, 288.0), strict=True):
        assert idle == pytest.approx(expected, rel=0.15)
    assert (five - cold) / 300.0 > (fifteen - five) / 600.0 > (thirty - fifteen) / 900.0


def test_a_slow_runaway_climbs_by_eight_per_cent_a_minute_and_doubles_after_seven() -> None:
    model = at("slow-runaway", seconds=10.0)
    assert model.left.idle == pytest.approx(1.1 * TARGET, rel=0.03)
    seen = [model.left.idle]
    for _ in range(8):
        live(model, 60.0, COARSE)
        seen.append(model.left.idle)
    assert all(idle < 2.0 * TARGET for idle in seen[:8])
    assert seen[8] > 2.0 * TARGET
    # The first minute holds the junction's own quick rise as well.
    rises = [later / before - 1.0 for before, later in itertools.pairwise(seen[1:])]
    assert rises == pytest.approx([0.08] * 7, abs=0.015)


def test_an_untracked_bias_is_poor_and_bends() -> None:
    seen = idle_course("untracked", (300.0, 600.0, 1800.0))
    for idle, expected in zip(seen, (70.0, 77.0, 92.0), strict=True):
        assert idle == pytest.approx(expected, rel=0.10)
    assert (seen[1] - seen[0]) / 300.0 > (seen[2] - seen[1]) / 1200.0


# --- offset, contacts, oscillation ---------------------------------------------------------------


def test_a_leaky_input_lifts_one_offset_and_nothing_else() -> None:
    model = at("leaky-input", seconds=60.0)
    other, idle = model.right.offset, model.left.idle
    for seconds, volts in ((0.0, 0.015), (240.0, 0.040), (900.0, 0.090)):
        live(model, seconds, COARSE)
        assert model.left.offset == pytest.approx(volts, rel=0.10)
    assert model.right.offset == pytest.approx(other, abs=0.005)
    assert model.left.idle == pytest.approx(idle, rel=0.10)


def spells(model: Amplifier, seconds: float) -> Iterator[tuple[bool, Amplifier]]:
    """Whether the contact is bad, at each small step."""
    for _ in range(round(seconds / STEP)):
        model.step(STEP)
        yield abs(model.contact.share - 1.0) > 0.0, model


def test_an_intermittent_joint_steps_between_good_and_bad() -> None:
    model = at("intermittent", seconds=4.0)
    lengths, lasted, was = [], 0.0, False
    for bad, seen in spells(model, 240.0):
        if bad:
            assert 0.3 <= seen.plus - seen.measure("plus rail", "dc") <= 2.0
            assert 0.010 <= abs(seen.contact.jump) <= 0.500
            assert seen.left.idle < 0.035
        else:
            assert seen.measure("plus rail", "dc") == seen.plus
        lasted += STEP
        if bad != was:
            lengths.append(lasted)
            lasted, was = 0.0, bad
    assert len(lengths) > 10
    # The first spell had begun before anybody looked.
    assert all(0.09 <= length <= 60.1 for length in lengths[1:])


def test_a_joint_recovers_at_once_and_leaves_nothing_behind() -> None:
    model = at("intermittent", seconds=4.0)
    changes = 0
    before = model.left.offset
    was = False
    for bad, seen in spells(model, 120.0):
        if bad != was:
            assert abs(seen.left.offset - before) > 0.1
            changes += 1
        was, before = bad, seen.left.offset
    assert changes >= 4


def test_a_dirty_wiper_steps_up_to_several_hundred_milliamperes() -> None:
    model = at("dirty-wiper", seconds=4.0)
    highest = max(seen.left.idle for _, seen in spells(model, 120.0))
    assert 0.2 < highest < 0.6


def test_an_oscillation_starts_at_a_rail_and_takes_everything_with_it() -> None:
    quiet, loud, healthy = at("oscillation", 0.6), at("oscillation"), at("healthy")
    assert not quiet.left.singing
    assert loud.left.singing
    assert loud.lamp_volts == pytest.approx(88.0, abs=8.0)
    assert 2.0 * healthy.left.idle < loud.left.idle < 6.0 * healthy.left.idle
    assert 0.2 < loud.measure("offset left", "ac") < 3.0
    assert 0.010 < abs(loud.left.offset - healthy.left.offset) < 0.200
    sink = loud.left.sink_celsius
    live(loud, 300.0, COARSE)
    assert 5.0 < loud.left.sink_celsius - sink < 15.0


def test_an_oscillation_is_there_within_milliseconds() -> None:
    model = at("oscillation", 0.6)
    model.dial = 1.0
    while not model.left.singing:
        before = model.left.idle
        model.step(STEP)
    assert model.left.idle > 2.0 * before
