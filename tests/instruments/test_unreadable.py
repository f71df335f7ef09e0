"""An unreadable reply says in one sentence which key of the profile it does not fit, and the fix serves."""

from dataclasses import replace

import pytest

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.instruments.decode import decoder
from benchlog.instruments.profile import find_profile
from benchlog.instruments.profile_reply import Reply, UnitWord
from benchlog.instruments.unreadable import why

SCPI = find_profile("scpi-multimeter")
VOLT_WORD = {"V DC": UnitWord(function=Function.VOLTS_DC)}


@pytest.mark.parametrize(
    ("text", "reply", "sentence"),
    [
        ("+012.35 V", Reply(), 'ends in "V", which the profile does not name; write suffix = "V".'),
        ("VDC 12.35", Reply(), 'begins with "VDC", which the profile does not name; write prefix = "VDC".'),
        ("+012.35 V", Reply(suffix="mV"), 'does not end in "mV"; write suffix = "V".'),
        ("+012.35", Reply(suffix="V"), 'does not end in "V"; leave suffix out.'),
        ("+012.35", Reply(prefix="V="), 'does not begin with "V="; leave prefix out.'),
        ("12,35", Reply(), "has a comma where a point is expected; set the instrument to a decimal point."),
        ("1.5,0,2", Reply(), 'is a list; write form = "list" and, in item, which entry is the reading.'),
        ("1.5,0", Reply(form="list", item=3), "has 2 entries, not all of them as described; look at item"),
        ("", Reply(), "an empty line is no reading; look at its question and at reply_end in [link]."),
        ("OVLD", Reply(), "holds no number; if it means overload, add it to overload"),
        (
            "1.5 kV DC",
            Reply(form="decorated", units=VOLT_WORD),
            '"kV DC" is none of its units; add it to units',
        ),
        ("1.5", Reply(form="decorated", units=VOLT_WORD), "nothing behind the number is none of its units"),
        ("1_0", Reply(), 'ends in "_0"'),
    ],
)
def test_the_key_and_the_fix_are_named(text: str, reply: Reply, sentence: str) -> None:
    reading = decoder(reply)(text, Function.VOLTS_DC, 0)
    assert reading.outcome is Outcome.MALFORMED
    fault = why(reading, replace(SCPI, reply=reply), "mine")
    assert str(fault).startswith("mine.toml: reply: ")
    assert sentence in str(fault)


def test_a_form_of_one_function_is_named_by_its_table() -> None:
    settings = replace(SCPI.function["volts_dc"], reply=Reply(suffix="mV"))
    profile = replace(SCPI, function={"volts_dc": settings})
    fault = why(Reading(Outcome.MALFORMED, None, Function.VOLTS_DC, 0, "1 V"), profile, "mine")
    assert str(fault).startswith("mine.toml: function.volts_dc.reply: ")


def test_what_can_be_read_or_did_not_come_has_no_such_sentence() -> None:
    for outcome in (Outcome.OK, Outcome.OVERLOAD, Outcome.MISSING):
        assert why(Reading(outcome, None, Function.VOLTS_DC, 0, "x"), SCPI, "mine") is None


def test_a_state_that_no_word_names_points_at_the_supplys_table() -> None:
    fault = why(Reading(Outcome.MALFORMED, None, Function.STATE, 0, "maybe", "1"), SCPI, "mine")
    assert str(fault).startswith('mine.toml: supply: "maybe" tells no state; ')
