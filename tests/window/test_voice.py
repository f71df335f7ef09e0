"""The voice: what is heard and said when, in which order, what cuts it off, and what happens without sound."""

import pytest
from helpers.silent_link import SilentLink
from PySide6.QtWidgets import QApplication

from benchlog.domain.standing import Rule
from benchlog.domain.verdict import Judgement, Verdict
from benchlog.window.voice import OFF_LASTS, Voice
from benchlog.window.work import Sounds


class Bench:
    """A voice whose sounders keep what they are asked for, and a clock."""

    def __init__(self, *, tones: bool = True, speech: bool = True) -> None:
        self.tones, self.speech = SilentLink("tones", heard=tones), SilentLink("speech", heard=speech)
        self.now = 0.0
        self.voice = Voice(self.tones, self.speech, lambda: self.now)

    @property
    def said(self) -> list[str]:
        return [asked.removeprefix("say ") for asked in self.speech.asked if asked.startswith("say ")]


@pytest.fixture
def bench(qapp: QApplication) -> Bench:
    return Bench()


def judged(verdict: Verdict, *, near_limit: bool = False) -> Judgement:
    return Judgement(verdict, "", Rule.BENCH, near_limit=near_limit)


# --- parts: shorter than a pencil ----------------------------------------------------------------


def test_the_voice_is_what_the_pages_ask_for(bench: Bench) -> None:
    sounds: Sounds = bench.voice
    sounds.elsewhere()
    assert bench.tones.asked == ["play elsewhere"]
    assert not bench.said


def test_within_is_a_tone_alone_and_the_last_part_leaves_nothing_to_say(bench: Bench) -> None:
    bench.voice.result(judged(Verdict.WITHIN), "4.68 kΩ")
    bench.voice.result(judged(Verdict.WITHIN, near_limit=True), "4.93 kΩ")
    assert bench.tones.asked == ["play within", "play near-limit"]
    assert not bench.said


def test_after_within_the_next_designator_is_all_that_is_said(bench: Bench) -> None:
    bench.voice.result(judged(Verdict.WITHIN), "4.68 kΩ", "", "R108")
    assert bench.said == ["R 108."]


@pytest.mark.parametrize("verdict", sorted(set(Verdict) - {Verdict.WITHIN}))
def test_whatever_is_not_within_is_said_and_then_the_next_designator(bench: Bench, verdict: Verdict) -> None:
    bench.voice.result(judged(verdict), "5.31 kΩ", "", "R109")
    (said,) = bench.said
    told, following = said.removesuffix(".").split(". ")
    assert told
    assert following == "R 109"
    # Beside these a number says nothing.
    wordless = (Verdict.OPEN, Verdict.NO_CONTACT, Verdict.WRONG_FUNCTION)
    assert ("5.31 kilohm" in told) is (verdict not in wordless)


@pytest.mark.parametrize("verdict", list(Verdict))
def test_where_a_prefix_was_assumed_the_value_is_said_whatever_it_proves(
    bench: Bench, verdict: Verdict
) -> None:
    bench.voice.result(judged(verdict), "4.65 kΩ", "read as 4.65 k", "R108")
    (said,) = bench.said
    assert "4.65 kilohm" in said
    assert said.endswith(". R 108.")


def test_the_tone_comes_first_then_what_was_being_said_ends_then_the_words(bench: Bench) -> None:
    in_order = bench.speech.asked = bench.tones.asked
    bench.voice.result(judged(Verdict.HIGH), "5.31 kΩ", "", "R109")
    assert in_order == ["play out", "stop", "say high, 5.31 kilohm. R 109."]


def test_the_next_contact_cuts_off_what_is_being_said_and_no_tone(bench: Bench) -> None:
    bench.voice.result(judged(Verdict.HIGH), "5.31 kΩ", "", "R109")
    bench.voice.hush()
    assert bench.speech.asked[-1] == "stop"
    assert bench.tones.asked == ["play out"]


def test_the_next_result_cuts_off_the_one_before_also_where_it_has_nothing_to_say(bench: Bench) -> None:
    bench.voice.result(judged(Verdict.HIGH), "5.31 kΩ", "", "R109")
    bench.voice.result(judged(Verdict.WITHIN), "4.68 kΩ")
    assert bench.speech.asked == ["stop", "say high, 5.31 kilohm. R 109.", "stop"]


def test_the_rest_of_what_happens_has_its_tone_and_its_words(bench: Bench) -> None:
    bench.voice.at("Q7L")
    bench.voice.at("")
    bench.voice.taken()
    bench.voice.look()
    bench.voice.refused("volts only")
    bench.voice.ask("Hands out. Switch the unit on.")
    bench.voice.stage_ready("Stage 2 is ready")
    bench.voice.warn("offset 120 mV")
    assert bench.tones.asked == [
        "play taken", "play look", "play refused", "play hand", "play ready", "play warn",
    ]  # fmt: skip
    assert bench.said == [
        "Q 7 L.", "volts only", "Hands out. Switch the unit on.", "Stage 2 is ready", "offset 120 millivolt",
    ]  # fmt: skip


# --- a hand is wanted ----------------------------------------------------------------------------


def test_of_a_long_prompt_the_first_words_are_said(bench: Bench) -> None:
    bench.voice.ask("Set the variable transformer to 20 %, 46.0 V. Then take the hand away and wait.")
    assert bench.tones.asked == ["play hand"]
    assert bench.said == ["Set the variable transformer to 20 per cent, 46.0 volt."]


def test_without_speech_a_prompt_has_its_tone_all_the_same(qapp: QApplication) -> None:
    bench = Bench(speech=False)
    bench.voice.ask("Hands out. Switch the unit on.")
    assert bench.tones.asked == ["play hand"]


def test_while_off_is_said_nobody_is_asked_for_a_hand(bench: Bench) -> None:
    bench.voice.cut()
    bench.voice.ask("Hands out. Switch the unit on.")
    assert bench.said == ["OFF. OFF."]
    assert not bench.tones.asked
    bench.now += OFF_LASTS
    bench.voice.ask("Hands out. Switch the unit on.")
    assert bench.tones.asked == ["play hand"]


# --- a cut ---------------------------------------------------------------------------------------


def test_at_a_cut_off_is_said_and_nothing_talks_over_it(bench: Bench) -> None:
    bench.voice.warn("offset 120 mV")
    bench.voice.cut()
    bench.voice.warn("offset 1.2 V")
    bench.voice.hush()
    bench.voice.result(judged(Verdict.HIGH), "5.31 kΩ", "", "R109")
    assert bench.speech.asked == ["say offset 120 millivolt", "say OFF. OFF."]
    bench.now += OFF_LASTS
    bench.voice.at("R1")
    assert bench.said[-1] == "R 1."


def test_a_cut_that_cannot_be_said_is_a_tone(qapp: QApplication) -> None:
    bench = Bench(speech=False)
    bench.voice.cut()
    assert bench.tones.asked == ["play warn"]


# --- quiet ---------------------------------------------------------------------------------------


def test_muting_is_quiet_at_once_and_for_both(bench: Bench) -> None:
    bench.voice.set_muted(True)
    bench.voice.result(judged(Verdict.HIGH), "5.31 kΩ")
    bench.voice.ask("Hands out. Switch the unit on.")
    bench.voice.cut()
    assert bench.voice.muted
    assert not bench.tones.asked
    assert set(bench.speech.asked) == {"stop"}
    bench.voice.set_muted(False)
    bench.voice.at("R1")
    bench.voice.taken()
    assert bench.said == ["R 1."]
    assert bench.tones.asked == ["play taken"]


def test_without_any_sound_everything_is_silent_and_says_why_once(qapp: QApplication) -> None:
    bench = Bench(tones=False, speech=False)
    bench.tones.hear("no no loudspeaker or headphones were found")
    bench.voice.result(judged(Verdict.OPEN), "OL", "", "R2")
    bench.voice.cut()
    assert not bench.tones.asked
    assert not bench.speech.asked
    assert bench.voice.why_silent == (
        "No tones: no loudspeaker or headphones were found. No speech: no voice is installed."
    )


def test_the_voice_says_when_what_can_be_heard_changes(bench: Bench) -> None:
    changes: list[str] = []
    bench.voice.changed.connect(lambda: changes.append(bench.voice.why_silent))
    bench.speech.hear("no the voice failed")
    bench.speech.hear("speaking")
    assert changes == ["No speech: the voice failed.", ""]


def test_both_are_opened_and_closed_together(bench: Bench) -> None:
    bench.voice.open()
    bench.voice.close()
    assert bench.tones.asked == bench.speech.asked == ["open", "close"]
