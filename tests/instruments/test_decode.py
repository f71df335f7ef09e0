"""Replies become readings: a number only where the whole reply is one, and nothing raises on noise."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.instruments.decode import as_text, decoder, scpi
from benchlog.instruments.profile import find_profile
from benchlog.instruments.profile_reply import Reply, UnitWord

VOLTS = Function.VOLTS_DC
HANDHELD = find_profile("ascii-handheld").reply
DECORATED = Reply(
    form="decorated",
    overload=("OVLOAD",),
    not_a_number=("OVFLOW",),
    units={"V DC": UnitWord(), "F": UnitWord(function=Function.CAPACITANCE)},
)
LCR = find_profile("scpi-lcr-meter").reply
SEGMENTS = find_profile("segment-handheld").reply
FORMS = [
    LCR,
    SEGMENTS,
    Reply(),
    Reply(form="list", item=2),
    Reply(prefix="V=", suffix="V", overload=("OL",), not_a_number=("----",)),
    HANDHELD,
    DECORATED,
]


def told(text: str, reply: Reply, scale: float = 1.0, function: Function = VOLTS) -> Reading:
    return decoder(reply, scale)(text, function, 7)


def test_a_reading_carries_what_was_asked_when_it_came_and_its_text() -> None:
    made = scpi("+1.25000000E+00", Function.OHMS, 42)
    assert made == Reading(Outcome.OK, 1.25, Function.OHMS, 42, "+1.25000000E+00")


@pytest.mark.parametrize(
    ("text", "outcome", "negative"),
    [
        ("9.9E37", Outcome.OVERLOAD, False),
        ("-9.9E37", Outcome.OVERLOAD, True),
        ("+9.90000000E+37", Outcome.OVERLOAD, False),
        ("9.90E37", Outcome.OVERLOAD, False),
        ("9.8999999E+37", Outcome.OVERLOAD, False),
        ("1E+38", Outcome.OVERLOAD, False),
        ("1e999", Outcome.OVERLOAD, False),
        ("9.91E37", Outcome.NOT_A_NUMBER, False),
        ("+9.91000000E+37", Outcome.NOT_A_NUMBER, False),
    ],
)
def test_specials_are_outcomes_and_never_huge_numbers(text: str, outcome: Outcome, negative: bool) -> None:
    made = scpi(text, VOLTS, 0)
    assert (made.outcome, made.value, made.negative, made.raw) == (outcome, None, negative, text)


@pytest.mark.parametrize(
    "text", ["", "abc", "1,2", "nan", "inf", "-inf", "infinity", "1_0", "0x10", "1e", "+", "1 2"]
)
def test_what_is_no_number_is_malformed_and_never_zero(text: str) -> None:
    made = scpi(text, VOLTS, 0)
    assert (made.outcome, made.value) == (Outcome.MALFORMED, None)


def test_the_largest_ordinary_number_is_one() -> None:
    assert scpi("9.7E37", VOLTS, 0).value == 9.7e37


def test_an_entry_of_a_list() -> None:
    assert told("1.0,2.5,9.9E37", Reply(form="list", item=2)).value == 2.5
    assert told("1.0, 2.5 ", Reply(form="list", item=2)).value == 2.5
    assert told("1.0,2.0,9.9E37", Reply(form="list", item=3)).outcome is Outcome.OVERLOAD
    assert told("1.0", Reply(form="list", item=2)).outcome is Outcome.MALFORMED


@pytest.mark.parametrize(
    ("text", "outcome", "value", "beside"),
    [
        ("+1.0E-6,+1.2E-2,+0", Outcome.OK, 1e-6, (("dissipation", 0.012),)),
        ("+1.0E-6, +1.2E-2, 0", Outcome.OK, 1e-6, (("dissipation", 0.012),)),
        ("+1.0E-6,+9.91E37,+0", Outcome.OK, 1e-6, ()),
        ("+9.9E37,+9.9E37,+1", Outcome.OVERLOAD, None, ()),
        ("+1.0E-6,+1.2E-2,+2", Outcome.NOT_A_NUMBER, None, ()),
        ("+1.0E-6,+1.2E-2,", Outcome.NOT_A_NUMBER, None, ()),
        ("+1.0E-6,+1.2E-2", Outcome.MALFORMED, None, ()),
        ("+1.0E-6,D,+0", Outcome.MALFORMED, None, ()),
        ("C,+1.2E-2,+0", Outcome.MALFORMED, None, ()),
    ],
)
def test_what_stands_beside_a_value_comes_with_it_where_the_status_lets_it_count(
    text: str, outcome: Outcome, value: float | None, beside: tuple[tuple[str, float], ...]
) -> None:
    made = told(text, LCR)
    assert (made.outcome, made.value, made.beside) == (outcome, value, beside)


def test_affixes_are_literal_and_must_be_there() -> None:
    reply = Reply(prefix="V=", suffix="V", overload=("OL",), not_a_number=("----",))
    assert told("V= 1.5 V", reply).value == 1.5
    assert told("V=OL V", reply).outcome is Outcome.OVERLOAD
    assert told("V=-OL V", reply).negative
    assert (
        told("V=---- V", Reply(prefix="V=", suffix="V", not_a_number=("",))).outcome is Outcome.NOT_A_NUMBER
    )
    assert told("1.5", reply).outcome is Outcome.MALFORMED
    assert told("V=", Reply(prefix="V=", suffix="=")).outcome is Outcome.MALFORMED
    assert told("V.=1V", Reply(prefix="V.*", suffix="V")).outcome is Outcome.MALFORMED


def test_a_scale_takes_a_number_to_the_si_unit_without_the_last_bits_noise() -> None:
    made = told("101.234", Reply(), 1e-3)
    assert (made.value, made.raw) == (0.101234, "101.234")
    assert told("9.9E37", Reply(), 1e-3).outcome is Outcome.OVERLOAD


@pytest.mark.parametrize(
    ("text", "value", "function", "resolution"),
    [
        ("+023.41 V AC", 23.41, Function.VOLTS_AC, 0.01),
        ("-038.90 V DC", -38.9, Function.VOLTS_DC, 0.01),
        ("+004.12 mV DC", 0.00412, Function.VOLTS_DC, 1e-5),
        ("4.687kohm", 4687.0, Function.OHMS, 1.0),
        ("- 1.5 V DC", -1.5, Function.VOLTS_DC, 0.1),
        (".5 V DC", 0.5, Function.VOLTS_DC, 0.1),
        ("12 V  DC", 12.0, Function.VOLTS_DC, 1.0),
        ("1.5e3 ohm", 1500.0, Function.OHMS, 100.0),
        ("0e99 ohm", 0.0, Function.OHMS, None),
    ],
)
def test_a_decorated_number_names_its_function(
    text: str, value: float, function: Function, resolution: float | None
) -> None:
    made = told(text, HANDHELD)
    assert (made.outcome, made.value, made.function) == (Outcome.OK, value, function)
    assert made.resolution == (pytest.approx(resolution) if resolution is not None else None)


def test_annunciators_travel_with_the_reading() -> None:
    assert told("+230.1 V AC HOLD LOBAT", HANDHELD).flags == ("hold", "low_battery")
    assert told("+230.1 V AC", HANDHELD).flags == ()


@pytest.mark.parametrize(
    ("text", "outcome", "negative", "function"),
    [
        ("+OL V AC", Outcome.OVERLOAD, False, Function.VOLTS_AC),
        ("-OL V DC HOLD", Outcome.OVERLOAD, True, Function.VOLTS_DC),
        ("OL kohm", Outcome.OVERLOAD, False, Function.OHMS),
        ("OL", Outcome.OVERLOAD, False, Function.VOLTS_DC),
        ("-OL mV DC", Outcome.OVERLOAD, True, Function.VOLTS_DC),
        ("9.9E37 V DC", Outcome.OVERLOAD, False, Function.VOLTS_DC),
    ],
)
def test_an_overload_word_stands_in_the_place_of_the_number(
    text: str, outcome: Outcome, negative: bool, function: Function
) -> None:
    made = told(text, HANDHELD)
    assert (made.outcome, made.value, made.negative, made.function) == (outcome, None, negative, function)
    assert made.resolution is None


@pytest.mark.parametrize(
    "text",
    ["+023.41", "023.41 X", "+023+024.10 V AC", "V AC", "", "OLD V DC", "1.2.3 V DC", "--1 V DC", "1,2 V DC"],
)
def test_a_number_without_its_unit_is_malformed(text: str) -> None:
    made = told(text, HANDHELD)
    assert (made.outcome, made.value) == (Outcome.MALFORMED, None)


def test_words_of_an_asked_meter() -> None:
    assert told("OVLOAD", DECORATED).outcome is Outcome.OVERLOAD
    assert told("OVFLOW", DECORATED).outcome is Outcome.NOT_A_NUMBER
    assert told("1.5 V DC", DECORATED, function=Function.VOLTS_AC).function is Function.VOLTS_AC


@pytest.mark.parametrize(
    ("line", "text"),
    [
        (b" 1.5 \r", "1.5"),
        (b"1.5\xff", "1.5\\xff"),
        (b"\x001", "\\x001"),
        (b"", ""),
        (b"1\x1b[2J", "1\\x1b[2J"),
    ],
)
def test_text_is_printable_ascii_whatever_the_bytes(line: bytes, text: str) -> None:
    assert as_text(line) == text


@given(st.binary(max_size=80), st.sampled_from(FORMS), st.sampled_from([1.0, 1e-3]))
def test_noise_never_raises_and_never_becomes_a_number_that_is_none(
    line: bytes, reply: Reply, scale: float
) -> None:
    made = decoder(reply, scale)(as_text(line), VOLTS, 0)
    assert made.raw.isascii()
    assert made.raw.isprintable()
    assert (made.value is not None) == (made.outcome is Outcome.OK)
    if made.value is not None:
        assert math.isfinite(made.value)
        assert any(c.isdigit() for c in made.raw)


@given(st.text(alphabet="0123456789+-.eE _OLVADCm,HOLD", max_size=30), st.sampled_from(FORMS))
def test_near_misses_never_raise_either(text: str, reply: Reply) -> None:
    made = decoder(reply)(as_text(text.encode()), VOLTS, 0)
    assert (made.value is not None) == made.good


@given(st.floats(min_value=-9e37, max_value=9e37))
def test_every_number_comes_back_as_written(value: float) -> None:
    assert scpi(repr(value), VOLTS, 0).value == value
