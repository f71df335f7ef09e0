"""What is said: values with their units as words, designators letter by letter, and nothing longer than needed."""

import pytest

from benchlog.domain.standing import Rule
from benchlog.domain.verdict import Judgement, Verdict
from benchlog.window import spoken


def judged(verdict: Verdict) -> Judgement:
    return Judgement(verdict, "", Rule.BENCH)


@pytest.mark.parametrize(
    ("shown", "said"),
    [
        ("4.68 kΩ", "4.68 kilohm"),
        ("0.34 Ω", "0.34 ohm"),
        ("1 MΩ", "1 megohm"),
        ("12.4 mV", "12.4 millivolt"),
        ("-38.9 V", "minus 38.9 volt"),
        ("−38.9 V", "minus 38.9 volt"),
        ("+39.2 V", "plus 39.2 volt"),
        ("4700 µF", "4700 microfarad"),
        ("100 nF", "100 nanofarad"),
        ("31.2 °C", "31.2 degrees"),
        ("49.98 Hz", "49.98 hertz"),
        ("-0.5", "minus 0.5"),
        ("OL", "over range"),
        ("-OL", "minus over range"),
        ("no answer", "no answer"),
    ],
)
def test_a_value_is_said_with_its_unit_in_words(shown: str, said: str) -> None:
    assert spoken.sentence(shown) == said


def test_values_inside_a_sentence_become_words_and_the_rest_stays() -> None:
    text = "Offset left 120 mV for 1 s, R107 beyond 3.9 %/s, D 0.12 at 100 Hz"
    said = "Offset left 120 millivolt for 1 second, R107 beyond 3.9 per cent a second, D 0.12 at 100 hertz"
    assert spoken.sentence(text) == said


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("R107", "R 107"),
        ("Q7L", "Q 7 L"),
        ("Q7L be", "Q 7 L B E"),
        ("C5 esr", "C 5 E S R"),
        ("Tr3", "T R 3"),
        ("VR101", "V R 101"),
        ("C12a", "C 12 A"),
        ("+B1", "plus B 1"),
        ("L- rail", "L minus rail"),
        ("R1-2", "R 1 2"),
        ("big blue by fuse", "big blue by fuse"),
        ("Output L", "Output L"),
        ("", ""),
    ],
)
def test_a_designator_is_said_so_that_no_engine_makes_a_word_of_it(written: str, said: str) -> None:
    assert spoken.designator(written) == said


def test_within_is_a_tone_and_only_the_next_designator_is_said() -> None:
    assert spoken.result(judged(Verdict.WITHIN), "4.68 kΩ", "", "R108") == "R 108."
    assert not spoken.result(judged(Verdict.WITHIN), "4.68 kΩ", "", "")


def test_the_value_is_said_whenever_a_prefix_was_assumed() -> None:
    assumed = "4.65 taken as 4.65 kΩ"
    assert spoken.result(judged(Verdict.WITHIN), "4.65 kΩ", assumed, "R108") == "4.65 kilohm. R 108."
    assert spoken.result(judged(Verdict.OPEN), "4.65 MΩ", assumed, "") == "open, 4.65 megohm."


@pytest.mark.parametrize(
    ("verdict", "shown", "said"),
    [
        (Verdict.HIGH, "5.31 kΩ", "high, 5.31 kilohm. Q 7 L."),
        (Verdict.DRIFTED, "5.1 kΩ", "drifted, kept, 5.1 kilohm. Q 7 L."),
        (Verdict.AS_OTHER_SIDE, "3.1 kΩ", "3.1 kilohm. Q 7 L."),
        (Verdict.UNPROVEN, "3.1 kΩ", "lift a leg, 3.1 kilohm. Q 7 L."),
        (Verdict.OPEN, "OL", "open. Q 7 L."),
        (Verdict.NO_CONTACT, "", "no contact. Q 7 L."),
        (Verdict.UNDECIDED, "", "meter can't tell. Q 7 L."),
    ],
)
def test_what_is_not_within_is_said_with_its_value(verdict: Verdict, shown: str, said: str) -> None:
    assert spoken.result(judged(verdict), shown, "", "Q7L") == said


@pytest.mark.parametrize("verdict", Verdict)
def test_nothing_that_is_said_is_longer_than_a_pencil_takes(verdict: Verdict) -> None:
    said = spoken.result(judged(verdict), "-38.9 V", "", "R107")
    assert len(said.split()) <= 9
    assert "safe" not in said


@pytest.mark.parametrize(
    ("prompt", "said"),
    [
        ("Hands out. Switch the unit on.", "Hands out. Switch the unit on."),
        ("Set the variable transformer to 20 %, 46.0 V.", "Set the variable transformer to 20 %, 46.0 V."),
        ("Set the variable transformer to 20 %. Then wait.", "Set the variable transformer to 20 %."),
        ("Now", "Now"),
        ("", ""),
    ],
)
def test_of_a_prompt_its_first_words_are_said(prompt: str, said: str) -> None:
    assert spoken.first_words(prompt) == said
