"""Every kind's measures: their order, what they need, and where each default limit comes from."""

import pytest

from benchlog.domain.kind import Kind
from benchlog.domain.measures import (
    LCR,
    MEASURES,
    OPEN,
    Needs,
    asked_of,
    measure_of,
    typed_after,
)
from benchlog.domain.reading import Function
from benchlog.errors import BadInput


@pytest.mark.parametrize("kind", Kind)
def test_each_measure_of_a_kind_stands_once_and_one_is_usual(kind: Kind) -> None:
    words = [measure.word for measure in MEASURES[kind]]
    assert len(set(words)) == len(words)
    assert any(measure.usual for measure in MEASURES[kind])
    for measure in MEASURES[kind]:
        # A limit is either somebody's or says that it is nobody's, and each can be read.
        assert bool(measure.limits) == bool(measure.source)
        if measure.limits:
            assert measure.expected(kind, measure.limits).unit == measure.unit


def test_a_transistor_is_looked_at_for_a_short_from_collector_to_emitter_first() -> None:
    # Common practice, no source: six readings, and with C-E short the other five prove nothing.
    assert [one.word for one in asked_of(Kind.TRANSISTOR)] == ["ce", "be", "bc"]
    junctions = [one for one in MEASURES[Kind.TRANSISTOR] if one.function is Function.DIODE]
    assert len(junctions) == 6
    assert [one.word for one in junctions if one.limits == OPEN] == ["ce", "ec", "eb", "cb"]


def test_a_bridge_has_four_junctions_and_their_reverses_are_called_up() -> None:
    asked = asked_of(Kind.BRIDGE)
    assert [one.word for one in asked] == ["-a", "-b", "a+", "b+"]
    assert all(one.limits != OPEN for one in asked)
    reverse = [measure_of(Kind.BRIDGE, word) for word in ("a-", "b-", "+a", "+b")]
    assert {one.limits for one in reverse} == {OPEN}


@pytest.mark.parametrize(
    "kind", [one for one in Kind if one not in {Kind.TRANSISTOR, Kind.BRIDGE, Kind.POTENTIOMETER}]
)
def test_every_other_part_that_is_listed_is_one_reading_to_do(kind: Kind) -> None:
    (own,) = asked_of(kind)
    assert own.word == ""


def test_what_was_asked_for_is_to_do_in_the_order_it_is_taken() -> None:
    found = asked_of(Kind.ELECTROLYTIC, ("leakage", "value", "esr"))
    assert [one.word for one in found] == ["", "esr", "leakage"]
    # What no part of the kind has is left alone: a library may hold a word that is gone.
    assert [one.word for one in asked_of(Kind.ELECTROLYTIC, ("smell",))] == [""]


def test_a_part_that_is_measured_otherwise_than_its_kind_is_measured_so_alone() -> None:
    (own,) = asked_of(Kind.TRANSISTOR, (), Function.VOLTS_DC)
    assert (own.word, own.function, own.limits) == ("", Function.VOLTS_DC, "")
    again = asked_of(Kind.TRANSISTOR, ("be",), Function.VOLTS_DC)
    assert [one.word for one in again] == ["be"]


def test_losses_need_their_frequency_and_a_leakage_its_minutes() -> None:
    kind = Kind.ELECTROLYTIC
    assert {one.word for one in MEASURES[kind] if Needs.FREQUENCY in one.needs} == {"d", "esr"}
    assert {one.word for one in MEASURES[kind] if Needs.MINUTES in one.needs} == {"leakage"}
    assert all(measure_of(kind, word).function in LCR for word in ("value", "d", "esr"))
    with pytest.raises(BadInput, match=r"write it as in < 0\.2 at 120 Hz"):
        measure_of(kind, "d").expected(kind, "< 0.2")
    limit = measure_of(kind, "d").expected(kind, "< 0.2 at 120 Hz")
    assert (limit.low, limit.high, limit.frequency) == (0.0, 0.2, 120.0)
    assert measure_of(kind, "leakage").expected(kind, "< 770u").high == 770e-6


def test_a_word_that_is_no_measure_of_the_kind_is_answered_with_those_that_are() -> None:
    with pytest.raises(BadInput, match=r'"bee": is no measurement of a transistor; did you mean "be"\?'):
        measure_of(Kind.TRANSISTOR, "bee")
    with pytest.raises(BadInput, match="an inductor; write one of: value, esr, volts"):
        measure_of(Kind.INDUCTOR, "be")


def test_values_typed_in_one_go_stand_in_the_order_of_the_kind() -> None:
    assert typed_after(Kind.ELECTROLYTIC, "") == ("", "d", "esr")
    assert typed_after(Kind.ELECTROLYTIC, "d") == ("d", "esr")
    assert typed_after(Kind.DIODE, "") == ("", "reverse")
    assert typed_after(Kind.TRANSISTOR, "be") == ("be", "bc")
    assert typed_after(Kind.RESISTOR, "") == ("",)
    assert typed_after(Kind.TRANSISTOR, "heatsink") == ("heatsink",)
