"""Tones: each result has its own, each has its file, and none is missed where there is no loudspeaker."""

import wave
from array import array
from pathlib import Path

import alarm_sound
import pytest
import tones as writer
from PySide6.QtCore import QUrl

from benchlog import resources
from benchlog.domain.standing import Rule
from benchlog.domain.verdict import Judgement, Verdict
from benchlog.window.sounder import Loudspeaker
from benchlog.window.tone import OF_VERDICT, Tone, tone_of


def judged(verdict: Verdict, *, near_limit: bool = False) -> Judgement:
    return Judgement(verdict, "", Rule.BENCH, near_limit=near_limit)


# --- which tone ----------------------------------------------------------------------------------


def test_every_result_has_a_tone() -> None:
    assert set(OF_VERDICT) == set(Verdict)


def test_the_pass_tones_are_for_what_passed_alone() -> None:
    passed = {Tone.WITHIN, Tone.NEAR_LIMIT, Tone.AS_OTHER_SIDE}
    heard = {verdict for verdict in Verdict if tone_of(judged(verdict)) in passed}
    assert heard == {Verdict.WITHIN, Verdict.AS_OTHER_SIDE}


def test_a_second_pip_says_that_the_limit_is_nearer_than_the_meters_error() -> None:
    assert tone_of(judged(Verdict.WITHIN)) is Tone.WITHIN
    assert tone_of(judged(Verdict.WITHIN, near_limit=True)) is Tone.NEAR_LIMIT


@pytest.mark.parametrize("verdict", [Verdict.HIGH, Verdict.LOW, Verdict.OPEN, Verdict.SHORT])
def test_what_is_out_falls(verdict: Verdict) -> None:
    assert tone_of(judged(verdict)) is Tone.OUT


@pytest.mark.parametrize("verdict", [Verdict.UNPROVEN, Verdict.UNDECIDED])
def test_what_cannot_be_told_yet_asks(verdict: Verdict) -> None:
    assert tone_of(judged(verdict)) is Tone.ASK


# --- the files -----------------------------------------------------------------------------------


def test_the_shipped_tones_are_what_their_script_writes(tmp_path: Path) -> None:
    writer.write(tmp_path)
    shipped = sorted(resources.path("sounds").glob("tone-*.wav"))
    assert [path.name for path in shipped] == sorted(f"tone-{tone}.wav" for tone in Tone)
    for path in shipped:
        assert path.read_bytes() == (tmp_path / path.name).read_bytes()


@pytest.mark.parametrize("tone", Tone)
def test_a_tone_is_short_small_loud_enough_and_does_not_click(tone: Tone) -> None:
    path = resources.path("sounds", f"tone-{tone}.wav")
    assert path.stat().st_size < 20_000
    with wave.open(str(path)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, alarm_sound.RATE)
        samples = array("h", file.readframes(file.getnframes()))
    assert len(samples) < 0.65 * alarm_sound.RATE
    assert 10_000 < max(samples) < 32_000
    sounding = [at for at, sample in enumerate(samples) if sample]
    assert sounding[0] >= writer.WAKING
    assert len(samples) - 1 - sounding[-1] >= writer.REST
    first, last = samples[sounding[0] : sounding[0] + 4], samples[sounding[-1] - 3 : sounding[-1] + 1]
    assert max(map(abs, first)) < 2500
    assert max(map(abs, last)) < 2500


def test_no_two_tones_sound_alike() -> None:
    assert len({writer.sound(tone) for tone in Tone}) == len(Tone)


# --- the loudspeaker -----------------------------------------------------------------------------


class Devices:
    """What the system has for loudspeakers."""

    def __init__(self, *names: str) -> None:
        self.names = list(names)

    def audioOutputs(self) -> list[str]:  # noqa: N802
        return self.names

    def defaultAudioOutput(self) -> str:  # noqa: N802
        return self.names[0]


class Effect:
    """One tone that was loaded."""

    def __init__(self) -> None:
        self.source = QUrl()
        self.device = ""
        self.did: list[str] = []

    def setSource(self, source: QUrl) -> None:  # noqa: N802
        self.source = source

    def setAudioDevice(self, device: str) -> None:  # noqa: N802
        self.device = device

    def isPlaying(self) -> bool:  # noqa: N802
        return self.did[-1:] == ["play"]

    def play(self) -> None:
        self.did.append("play")

    def stop(self) -> None:
        self.did.append("stop")


class Shop:
    """A loudspeaker with what it told and what it loaded."""

    def __init__(self, *names: str) -> None:
        self.told: list[str] = []
        self.made: list[Effect] = []
        self.devices = Devices(*names)
        self.loudspeaker = Loudspeaker(self.told.append, self.devices, self.make, resources.path("sounds"))
        self.loudspeaker.look()

    def make(self) -> Effect:
        self.made.append(Effect())
        return self.made[-1]

    def of(self, tone: Tone) -> Effect:
        return next(one for one in self.made if one.source.fileName() == f"tone-{tone}.wav")


def test_every_tone_is_loaded_once_and_told_once() -> None:
    shop = Shop("desk")
    shop.loudspeaker.look()
    assert shop.told == ["yes"]
    assert len(shop.made) == len(Tone)


def test_a_tone_cuts_off_the_one_before() -> None:
    shop = Shop("desk")
    shop.loudspeaker.obey("play", Tone.READY)
    shop.loudspeaker.obey("play", Tone.OUT)
    shop.loudspeaker.obey("play", "a tone nobody knows")
    assert shop.of(Tone.READY).did == ["play", "stop"]
    assert shop.of(Tone.OUT).did == ["play"]


def test_no_output_device_is_told_and_tones_come_back_with_one() -> None:
    shop = Shop()
    shop.loudspeaker.obey("play", Tone.OUT)
    assert shop.told == ["no no loudspeaker or headphones were found"]
    assert not shop.made
    shop.devices.names = ["headphones"]
    shop.loudspeaker.look()
    assert shop.told[1:] == ["yes"]
    shop.devices.names = ["desk", "headphones"]
    shop.loudspeaker.look()
    assert {one.device for one in shop.made} == {"desk"}
    shop.devices.names = []
    shop.loudspeaker.look()
    assert shop.told[2:] == ["no no loudspeaker or headphones were found"]
