"""Runaway is told from warming up: by idle or sink, in windows of a minute, never on what bends or rests."""

import math
import random
from collections.abc import Callable
from itertools import pairwise

import pytest
from helpers.watched import IDLE, MINUS, PLUS, SINK, Watched, plan_of

from benchlog.domain.plan_limit import LimitKind

TARGET = 0.0165
RUNAWAY = f"trace='idle L', kind='runaway', target={TARGET}"
TWICE = f"trace='idle L', kind='high', value={2 * TARGET}, persistence=3.0"
OF_SINK = "trace='sink L', kind='runaway'"
DAY = 24 * 3600.0
NEVER = math.inf


def bench(*traces: str, limits: tuple[str, ...]) -> Watched:
    """A guard over these traces, switched on and at rest at time 0."""
    watched = Watched(plan_of(*traces, limits=limits))
    watched.at_rest(230.0)
    return watched


def dwell(
    watched: Watched, name: str, value: Callable[[float], float], seconds: float, pace: float = 1.0
) -> float:
    """Readings of one trace at this pace on a stepped clock; when the run tripped, or NEVER."""
    start = watched.now
    for step in range(1, int(seconds / pace) + 1):
        watched.now = start + step * pace
        if watched.give(name, value(watched.now)) and watched.trips:
            return watched.now
    return NEVER


def bias_high(t: float) -> float:
    """0.22 ohm, 240 mA cold, without tracking, by the table of such a run; V."""
    table = [(0.0, 240.0), (10, 365), (60, 414), (120, 471), (300, 684), (600, 1250), (900, 2350)]
    for (t0, a0), (t1, a1) in pairwise(table):
        if t0 <= t <= t1:
            return 0.22e-3 * (a0 + (a1 - a0) * (t - t0) / (t1 - t0))
    return 0.22e-3 * 2350


def slow(t: float) -> float:
    """From 1.1 times its target up by 8 % a minute; past twice only after 7.7 min."""
    return TARGET * 1.1 * math.exp(math.log(1.08) * t / 60.0)


def tracked(t: float) -> float:
    """54 mA, 62 at four minutes, then 61: a sound one."""
    return TARGET / 50 * (61.0 - 7.0 * math.exp(-t / 70) + (t / 240) * math.exp(1 - t / 240))


def untracked(t: float) -> float:
    """54 mA, 70 at five minutes, 92 at half an hour: poor, but safe."""
    return TARGET / 50 * (94.0 - 40.0 * math.exp(-t / 600))


class TestTrueOnes:
    """What runs away trips, by whichever limit comes first."""

    def test_a_bias_that_is_far_too_high_trips_by_twice_the_target(self) -> None:
        watched = bench(IDLE, limits=(TWICE, RUNAWAY))
        at = dwell(watched, "idle L", bias_high, 60.0)
        assert at <= 10.0
        assert watched.guard.tripped is not None
        assert watched.guard.tripped.limit == "high"

    @pytest.mark.parametrize("pace", [0.1, 0.4, 2.5])
    def test_a_slow_one_trips_before_it_is_past_twice_the_target(self, pace: float) -> None:
        watched = bench(IDLE, limits=(TWICE, RUNAWAY))
        at = dwell(watched, "idle L", slow, 600.0, pace)
        assert 300.0 < at < 7 * 60.0
        tripped = watched.guard.tripped
        assert tripped is not None
        assert tripped.limit == LimitKind.RUNAWAY
        assert " runs away: up by " in tripped.text

    @pytest.mark.parametrize("seed", range(6))
    def test_a_slow_one_is_found_through_the_noise_of_mains_and_meter(self, seed: int) -> None:
        at = noisy(slow, random.Random(seed), 1.0, 600.0, knocks=False)
        assert at < 7.7 * 60.0

    def test_a_sink_that_does_not_bend_trips_from_fifteen_kelvin_above_switching_on(self) -> None:
        watched = bench(SINK, IDLE, limits=(OF_SINK,))
        at = dwell(watched, "sink L", lambda t: 25.0 + 2.0 * t / 60.0, 1200.0)
        assert at >= 7.5 * 60.0

    def test_a_sink_that_bends_does_not(self) -> None:
        watched = bench(SINK, IDLE, limits=(OF_SINK,))
        assert dwell(watched, "sink L", lambda t: 70.0 - 45.0 * math.exp(-t / 600), 4 * 3600.0) == NEVER


class TestWindowsAnew:
    """What follows a hand on dial or trimmer is that hand's doing."""

    def test_they_start_a_minute_after_the_source_has_come_to_rest(self) -> None:
        watched = bench(IDLE, limits=(RUNAWAY,))
        assert dwell(watched, "idle L", slow, 280.0) == NEVER
        watched.guard.feed.begin_move(240.0, watched.t)
        watched.guard.feed.settle(watched.t)
        at = dwell(watched, "idle L", slow, 900.0)
        assert 280.0 + 60.0 + 300.0 <= at <= 280.0 + 60.0 + 320.0

    def test_they_start_a_minute_after_a_trimmer_was_touched(self) -> None:
        watched = bench(IDLE, limits=(RUNAWAY,))
        assert dwell(watched, "idle L", slow, 280.0) == NEVER
        watched.guard.trimmer_touched(watched.t)
        at = dwell(watched, "idle L", slow, 900.0)
        assert 280.0 + 60.0 + 300.0 <= at <= 280.0 + 60.0 + 320.0

    def test_it_rests_while_the_source_moves(self) -> None:
        watched = bench(IDLE, limits=(RUNAWAY,))
        watched.guard.feed.begin_move(240.0, watched.t)
        assert watched.guard.arming(watched.t) == [math.inf]

    def test_a_gap_of_a_whole_window_starts_them_anew(self) -> None:
        watched = bench(IDLE, limits=(RUNAWAY,))
        assert dwell(watched, "idle L", slow, 280.0) == NEVER
        watched.now += 70.0
        at = dwell(watched, "idle L", slow, 900.0)
        assert at >= 350.0 + 300.0


class TestNeverFalse:
    """A whole day of dwell trips nothing that is sound, whatever meters and mains do meanwhile."""

    def test_a_rise_below_one_count_is_no_rise(self) -> None:
        coarse = "trace='idle L', kind='runaway', target=0.0008, count=0.001"
        fine = "trace='idle L', kind='runaway', target=0.0008, count=0.0001"

        def rising(t: float) -> float:
            return 0.002 + 0.0009 * t / 60.0

        assert dwell(bench(IDLE, limits=(coarse,)), "idle L", rising, 900.0) == NEVER
        assert dwell(bench(IDLE, limits=(fine,)), "idle L", rising, 900.0) < NEVER

    @pytest.mark.parametrize("model", [tracked, untracked])
    def test_a_day_in_the_life_of_what_is_safe(self, model: Callable[[float], float]) -> None:
        assert a_day(model, seed=1, pace=4.0) == NEVER

    @pytest.mark.long
    @pytest.mark.parametrize("seed", range(12))
    @pytest.mark.parametrize("model", [tracked, untracked])
    def test_many_days(self, model: Callable[[float], float], seed: int) -> None:
        assert a_day(model, seed=seed, pace=1.0) == NEVER


def a_day(model: Callable[[float], float], seed: int, pace: float) -> float:
    """24 h of dwell on such an idle; when it tripped, or NEVER."""
    return noisy(model, random.Random(seed), pace, DAY, knocks=True)


def noisy(
    model: Callable[[float], float], chance: random.Random, pace: float, seconds: float, *, knocks: bool
) -> float:
    """Idle with wandering mains and a meter that ranges and reads late; with `knocks`, steps of a bad contact."""
    watched = bench(IDLE, PLUS, MINUS, limits=(RUNAWAY,))
    step, until, phase = 0.0, 0.0, chance.uniform(0.0, 6.28)

    def read(t: float) -> float:
        nonlocal step, until
        if knocks and t > until:
            step, until = chance.choice((0.0, 0.0, 0.0, 0.03, -0.03)), t + chance.expovariate(1 / 400.0)
        late = max(t - chance.uniform(0.0, 0.4), 0.0)
        mains = 0.02 * math.sin(late / 1300.0 + phase) + chance.gauss(0.0, 0.005)
        value = model(late) * (1.0 + 1.5 * mains + step)
        count = 1e-5 if value < 0.02 else 1e-4
        return round(value / count) * count

    return dwell(watched, "idle L", read, seconds, pace)
