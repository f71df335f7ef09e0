"""What each key of the number pad does to a typed reading, and what would be stored (rule 31)."""

import pytest

from benchlog.domain.expectation import Expectation
from benchlog.domain.quantity import Overload
from benchlog.window.parts_entry import Entry, meant, prefixes

OHMS = Expectation.parse("4k7 5%")


def typed(text: str) -> Entry:
    entry = Entry()
    for char in text:
        assert entry.takes(char)
        entry.type(char)
    return entry


def test_digits_and_a_point_begin_it_and_letters_follow() -> None:
    assert not Entry().takes("k")
    assert not Entry().takes("-")
    entry = typed("4k7")
    assert entry.text == entry.shown == "4k7"
    assert not typed("1" * 24).takes("1")


def test_a_bare_number_is_taken_in_the_prefix_of_what_it_should_read_and_that_is_said() -> None:
    found = meant(typed("4.65"), OHMS, "ohm")
    assert found.reading is not None
    assert found.reading.value == 4650.0
    assert found.shown == "4.65 kΩ"
    assert found.reading.assumed == "4.65 taken as 4.65 kΩ"


def test_what_can_be_meant_in_two_ways_is_asked_with_the_choices() -> None:
    found = meant(typed("465"), OHMS, "ohm")
    assert found.reading is None
    assert found.choices == "write 465 Ω or 465 kΩ"
    assert found.problem.startswith("465: can be meant in more than one way")


def test_the_star_steps_through_the_prefixes_beginning_with_the_one_on_the_sheet() -> None:
    entry = typed("465")
    seen = []
    for _ in range(5):
        entry.step_prefix("ohm", OHMS)
        seen.append(entry.text)
    assert seen == ["465k", "465M", "465m", "465", "465k"]
    assert prefixes("F", Expectation.parse("100n 10%")) == ("n", "u", "p", "m", "")
    assert prefixes("F") == ("u", "n", "p", "m", "")
    assert prefixes("V", Expectation.parse("0.5..0.7 V")) == ("m", "u", "k", "")


def test_a_prefix_of_none_that_was_asked_for_leaves_nothing_to_assume() -> None:
    entry = typed("4.65")
    for _ in range(4):
        entry.step_prefix("ohm", OHMS)
    found = meant(entry, OHMS, "ohm")
    assert found.reading is not None
    assert found.reading.value == 4.65


def test_the_slash_goes_on_to_the_next_value_and_backspace_comes_back() -> None:
    entry = typed("4650")
    entry.step_prefix("F")
    entry.go_on("F")
    entry.go_on("")
    assert (entry.done, entry.shown, entry.active) == (("4650u", ""), "4650u /  / ", True)
    for char in ".03":
        entry.type(char)
    entry.over_range()
    assert entry.shown.endswith("/ OL")
    seen = []
    while entry.active:
        entry.back()
        seen.append(entry.shown)
    assert seen[:5] == ["4650u /  / .03", "4650u /  / .0", "4650u /  / .", "4650u /  / ", "4650u / "]
    assert seen[-1] == ""


def test_micro_is_shown_as_its_sign() -> None:
    entry = typed("47")
    entry.step_prefix("F")
    assert (entry.text, entry.shown) == ("47u", "47µ")


def test_the_sign_flips_and_over_range_keeps_it() -> None:
    entry = typed("38.9")
    entry.flip()
    assert entry.text == "-38.9"
    entry.over_range()
    found = meant(entry, None, "V")
    assert found.reading is not None
    assert found.reading.value is Overload.NEGATIVE
    assert found.shown == "-OL"
    entry.flip()
    entry.step_prefix("V")
    assert entry.text == "OL"


def test_backspace_takes_one_key_back_after_the_other_until_nothing_is_typed() -> None:
    entry = typed("47")
    entry.flip()
    entry.step_prefix("ohm")
    entry.over_range()
    seen = []
    while entry.active:
        entry.back()
        seen.append(entry.text)
    assert seen == ["-47k", "-47", "-4", ""]
    assert entry == Entry()


def test_a_digit_behind_an_overload_begins_anew() -> None:
    entry = typed("0")
    entry.over_range()
    entry.type("5")
    assert entry.text == "5"


def test_two_points_make_it_a_jump_which_has_no_sign_and_no_prefix() -> None:
    entry = typed("..107")
    assert entry.jump == "107"
    for act in (entry.flip, entry.over_range, lambda: entry.step_prefix("ohm")):
        act()
    assert entry.text == "..107"
    assert typed("4").jump is None


@pytest.mark.parametrize(("text", "problem"), [("4..6", "is not a value"), ("12V", "is in V")])
def test_what_is_no_reading_of_this_part_says_so(text: str, problem: str) -> None:
    found = meant(typed(text), OHMS, "ohm")
    assert found.reading is None
    assert problem in found.problem
    assert found.shown == ""
