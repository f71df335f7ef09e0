"""The homing tone: its wave, its player, and the hand that it follows."""

import math
from array import array
from collections.abc import Callable
from itertools import pairwise
from statistics import median

import pytest
from helpers.silent_link import SilentLink
from PySide6.QtWidgets import QApplication

from benchlog.window.homing_tone import HOME, RATE, SILENT_AFTER, HomingPlayer, HomingWave
from benchlog.window.voice import Voice


def pitch_of(samples: bytes) -> float:
    """Hz, by the usual distance from one rise through nothing to the next: half of the time may be silent."""
    wave = array("h", samples)
    rises = [at for at, (a, b) in enumerate(pairwise(wave)) if a < 0 <= b]
    return RATE / median(b - a for a, b in pairwise(rises))


def loudest(samples: bytes) -> int:
    return max(map(abs, array("h", samples)), default=0)


def steady(distance: float | None) -> HomingWave:
    """A wave that has followed its distance for half a second."""
    wave = HomingWave()
    wave.distance = distance
    wave.samples(RATE // 2)
    return wave


@pytest.mark.parametrize(("distance", "octaves"), [(0.0, 0.0), (1.0, 1.0), (-1.0, -1.0), (0.5, 0.5)])
def test_pitch_is_the_distance_from_the_band(distance: float, octaves: float) -> None:
    wave = steady(distance)
    heard = pitch_of(wave.samples(RATE))
    assert heard == pytest.approx(HOME * 2.0**octaves, rel=0.03)


def gaps(wave: HomingWave) -> int:
    """Of a hundred stretches of a hundredth of a second those in which nothing is heard."""
    return sum(loudest(wave.samples(RATE // 100)) < 200 for _ in range(100))


def test_within_the_band_it_is_steady_and_outside_it_is_broken() -> None:
    assert gaps(steady(0.0)) == 0
    assert gaps(steady(0.2)) > 20
    assert gaps(steady(None)) == 100


def test_no_two_samples_are_a_step_apart_also_where_the_distance_jumps() -> None:
    wave = steady(0.0)
    first = array("h", wave.samples(2000))
    wave.distance = 1.0
    second = array("h", wave.samples(4000))
    joined = [*first, *second]
    # A sine of 880 Hz at full loudness climbs by at most a quarter of it a sample.
    assert max(abs(a - b) for a, b in pairwise(joined)) < 2600


class Sink:
    """A sink that takes what it has room for."""

    def __init__(self) -> None:
        self.room = 4000
        self.heard = b""
        self.stopped = False

    def bytesFree(self) -> int:  # noqa: N802 - Qt's own name
        return self.room

    def write(self, data: bytes) -> None:
        self.heard += data

    def stop(self) -> None:
        self.stopped = True


def player(sink: Sink | None, clock: Callable[[], float]) -> HomingPlayer:
    return HomingPlayer(lambda: None if sink is None else (sink, sink), clock)


def test_it_sounds_while_it_is_told_and_falls_silent_when_nothing_is_said_any_more(
    qapp: QApplication,
) -> None:
    del qapp
    now, sink = [0.0], Sink()
    plays = player(sink, lambda: now[0])
    plays.home("0.250")
    plays.feed()
    assert len(sink.heard) == 4000
    now[0] = SILENT_AFTER + 0.1
    plays.feed()
    assert sink.stopped
    assert plays.wave.distance is None


@pytest.mark.parametrize("word", ["off", "nan", "inf", ""])
def test_any_other_word_is_silence(qapp: QApplication, word: str) -> None:
    del qapp
    sink = Sink()
    plays = player(sink, lambda: 0.0)
    plays.home("0.5")
    plays.home(word)
    assert sink.stopped


def test_without_anything_to_play_through_it_does_nothing(qapp: QApplication) -> None:
    del qapp
    plays = player(None, lambda: 0.0)
    plays.home("0.5")
    plays.feed()
    assert plays.wave.distance is None


def test_the_voice_homes_with_a_number_and_is_quiet_where_it_is_muted(qapp: QApplication) -> None:
    del qapp
    tones = SilentLink("tones", heard=True)
    voice = Voice(tones, SilentLink("speech", heard=True), lambda: 0.0)
    voice.home(-0.5)
    voice.home(None)
    voice.set_muted(True)
    voice.home(0.0)
    assert tones.asked == ["home -0.500", "home off", "home off"]
    assert math.isfinite(float(tones.asked[0].split()[1]))
