"""The model's own design figures: what a bench like this one is known to show, within stated bands.

The figures are calculations and bench habit, not measurements of one unit; so they bind the model,
and say nothing about anybody's amplifier.
"""

import random
from dataclasses import replace

import pytest

from benchlog.simbench import truth
from benchlog.simbench.amplifier import Amplifier
from benchlog.simbench.channel import Channel, ChannelTruth

STEP = 0.005


def amplifier(lamp: float, fault: str = "healthy", example: str = "amplifier") -> Amplifier:
    """The shipped amplifier behind a lamp (0: direct), on mains that stand still."""
    found = truth.load(example, fault)
    unit = replace(found.unit, lamp_watts=lamp, wander=0.0)
    return Amplifier(unit, found.left, found.right, random.Random(1), lambda *_, **__: None)


def live(model: Amplifier, seconds: float) -> Amplifier:
    for _ in range(round(seconds / STEP)):
        model.step(STEP)
    return model


def at_full_mains(lamp: float, fault: str = "healthy", seconds: float = 30.0) -> Amplifier:
    model = amplifier(lamp, fault)
    model.dial = 1.0
    return live(model, seconds)


@pytest.mark.parametrize(
    ("watts", "lamp_volts", "rail"), [(40, 84, 28), (60, 49, 35), (100, 23, 40), (150, 14, 41)]
)
def test_healthy_lamp_and_rails_by_lamp_size(watts: float, lamp_volts: float, rail: float) -> None:
    model = at_full_mains(watts)
    assert model.lamp_volts == pytest.approx(lamp_volts, abs=4.0)
    assert model.plus == pytest.approx(rail, abs=1.3)
    assert model.minus == pytest.approx(model.plus, rel=0.01)


@pytest.mark.parametrize(("watts", "lamp_volts"), [(40, 228), (60, 228), (100, 226), (150, 224)])
def test_shorted_output_takes_the_mains_across_the_lamp(watts: float, lamp_volts: float) -> None:
    model = at_full_mains(watts, "shorted-output", 10.0)
    assert model.lamp_volts == pytest.approx(lamp_volts, abs=6.0)
    assert model.lamp_volts > 0.94 * 230.0
    assert model.plus < 1.0
    assert model.minus < 1.0


@pytest.mark.parametrize("dial", [0.1, 0.2, 0.4, 0.6, 0.8, 1.0])
def test_shorted_output_is_bright_from_the_first_stage_on(dial: float) -> None:
    model = amplifier(100.0, "shorted-output")
    model.dial = dial
    live(model, 5.0)
    assert model.lamp_volts > 0.75 * 230.0 * dial


def test_direct_rails_come_up_at_once() -> None:
    model = at_full_mains(0.0, seconds=0.25)
    assert model.plus == pytest.approx(44.0, abs=0.8)


def test_switch_on_behind_the_lamp_flashes_then_dims() -> None:
    model = at_full_mains(100.0, seconds=0.05)
    assert 0.6 * 230.0 < model.lamp_volts < 0.9 * 230.0
    live(model, 2.0)
    assert model.lamp_volts < 0.15 * 230.0


@pytest.mark.parametrize(("dial", "rail"), [(0.2, 8.5), (0.4, 17.4), (0.8, 35.2)])
def test_rails_follow_the_dial(dial: float, rail: float) -> None:
    model = amplifier(0.0)
    model.dial = dial
    assert live(model, 5.0).plus == pytest.approx(rail, abs=0.7)


def test_offset_kicks_and_settles() -> None:
    model = amplifier(100.0)
    model.dial = 1.0
    highest = 0.0
    for _ in range(600):
        model.step(STEP)
        highest = max(highest, abs(model.left.offset))
    assert 0.3 < highest < 2.0
    live(model, 10.0)
    assert 0.008 < model.left.offset < 0.020
    before = model.left.offset
    live(model, 300.0)
    assert abs(model.left.offset - before) < 0.005


@pytest.mark.parametrize("dial", [0.1, 0.2, 0.4, 0.6])
def test_speaker_relay_stays_silent_below_its_mains(dial: float) -> None:
    model = amplifier(100.0)
    model.dial = dial
    assert not live(model, 20.0).protection.closed


def test_speaker_relay_clicks_seconds_after_full_mains_and_once_after_off() -> None:
    model = at_full_mains(100.0, seconds=3.0)
    clicked = [model.protection.closed, live(model, 4.0).protection.closed]
    model.switched_on = False
    clicked.append(live(model, 5.0).protection.closed)
    assert clicked == [False, True, False]
    assert model.protection.clicks == 2


def test_rails_bleed_down_first_by_the_idle_then_by_the_bleeder() -> None:
    model = at_full_mains(0.0)
    model.switched_on = False
    before = model.plus
    live(model, 1.0)
    assert 5.0 < before - model.plus < 14.0
    live(model, 9.0)
    at_ten = model.plus
    assert 3.0 < at_ten < 8.0
    live(model, 22.0)
    assert 0.25 < model.plus / at_ten < 0.45


# --- idle current and its heat -------------------------------------------------------------------


def course(
    truth_of: ChannelTruth, seconds: tuple[float, ...], rail: float = 40.0
) -> list[tuple[float, float]]:
    """Idle current in mA and the sink's degC at these seconds, at fixed rails."""
    channel, lived, seen = Channel(truth_of, 25.0), 0.0, []
    for moment in seconds:
        while lived < moment - 1e-9:
            channel.step(0.02, rail, rail)
            lived += 0.02
        seen.append((channel.idle * 1e3, channel.sink_celsius))
    return seen


def test_healthy_idle_peaks_and_comes_back() -> None:
    (fast, _), (peak, _), (late, sink) = course(ChannelTruth(cold_idle=0.054), (10.0, 240.0, 1800.0))
    assert fast == pytest.approx(61.0, abs=2.0)
    assert peak == pytest.approx(62.0, abs=2.0)
    assert late == pytest.approx(61.0, abs=2.0)
    assert late < peak
    assert 30.0 < sink < 33.5


def test_untracked_idle_is_poor_but_bends() -> None:
    seen = course(ChannelTruth(cold_idle=0.054, tracking=0.0), (300.0, 600.0, 1800.0))
    for (idle, _), expected in zip(seen, (70.0, 77.0, 92.0), strict=True):
        assert idle == pytest.approx(expected, rel=0.10)
    assert (seen[1][0] - seen[0][0]) / 300.0 > (seen[2][0] - seen[1][0]) / 1200.0


def test_runaway_of_a_small_emitter_resistor_gathers_speed() -> None:
    hot = ChannelTruth(cold_idle=0.240, emitter_ohms=0.22, tracking=0.0, junction=1.35)
    seen = course(hot, (10.0, 60.0, 120.0, 300.0, 600.0))
    for (idle, _), expected in zip(seen, (365.0, 414.0, 471.0, 684.0, 1250.0), strict=True):
        assert idle == pytest.approx(expected, rel=0.15)
    assert seen[-1][1] == pytest.approx(73.0, abs=7.0)
    # It rises faster the longer it lasts.
    rates = [(seen[n + 1][0] - seen[n][0]) / gap for n, gap in ((2, 180.0), (3, 300.0))]
    assert rates[1] > rates[0]


# --- the faults that are played ------------------------------------------------------------------


def test_missing_rail_lifts_the_other_and_sends_the_output_to_it() -> None:
    healthy, missing = at_full_mains(100.0), at_full_mains(100.0, "missing-rail")
    assert missing.plus < 0.1
    assert 1.03 < missing.minus / healthy.minus < 1.08
    assert missing.lamp_volts < healthy.lamp_volts
    assert -0.8 * missing.minus < missing.left.offset < -0.1 * missing.minus
    assert not missing.protection.closed


def test_runaway_passes_twice_its_target_before_the_lamp_tells_anything() -> None:
    model = amplifier(100.0, "runaway")
    for dial in (0.4, 0.6, 0.8):
        model.dial = dial
        live(model, 30.0)
    assert model.left.idle_drop > 0.033
    assert model.right.idle_drop < 0.0165
    assert model.lamp_volts < 0.20 * 230.0 * model.dial


def test_runaway_behind_sixty_watts_brightens_the_lamp() -> None:
    healthy, running = amplifier(60.0), amplifier(60.0, "runaway", "by-hand")
    for model in (healthy, running):
        model.dial = 1.0
        live(model, 40.0)
    assert healthy.lamp_volts < 0.25 * 230.0
    assert running.lamp_volts > 0.46 * 230.0


def test_a_lamp_can_be_changed_for_a_wire() -> None:
    model = amplifier(100.0)
    model.fit_lamp(0.0)
    model.dial = 1.0
    live(model, 1.0)
    assert model.lamp is None
    assert model.lamp_volts == 0.0
    assert model.measure("lamp", "ac") == pytest.approx(0.0)


def test_points_that_mean_nothing_read_nothing() -> None:
    model = at_full_mains(100.0, seconds=6.0)
    assert model.measure("nowhere", "dc") == 0.0
    assert model.measure("plus rail", "ac") == pytest.approx(0.1)
    assert model.measure("offset left", "ac") == 0.0
    assert model.measure("regulated", "dc") == pytest.approx(24.0, abs=0.5)
    assert model.measure("sink right", "celsius") > 25.0
    assert model.level == 1.0
    model.relay_in = False
    assert model.level == 0.0
