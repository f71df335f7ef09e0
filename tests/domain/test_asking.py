"""From records to the question a reading asks, and when a reading is held for a second look."""

from dataclasses import replace

import pytest

from benchlog.domain.asking import (
    IN_CIRCUIT,
    LIFTED,
    REVERSED,
    Subject,
    agrees_again,
    look_at,
    question_of,
    value_of,
    wants_a_look,
)
from benchlog.domain.expectation import Expectation
from benchlog.domain.kind import Kind
from benchlog.domain.quantity import Overload
from benchlog.domain.reading import Function, Outcome
from benchlog.domain.unit import Conditions, Part, PartReading

PART = Part("p", "b", "R101", Kind.RESISTOR)


def subject(should_read: str = "", part: Part = PART) -> Subject:
    """The part's own value."""
    return Subject(part, part.measure(""), should_read=should_read, own=should_read)


def reading(
    value: float | None = 4700.0, *, job: str = "meter", circuit: str = "", leads: str = ""
) -> PartReading:
    return PartReading(
        id="r",
        designator="R101",
        function=Function.OHMS,
        outcome=Outcome.OVERLOAD if value is None else Outcome.OK,
        value=value,
        unit="ohm",
        raw="",
        taken="",
        job=job,
        conditions=Conditions(circuit=circuit, leads=leads),
    )


def test_a_question_carries_what_was_measured_and_how() -> None:
    asked = question_of(
        subject("4k7 5%"), reading(), other=reading(4600.0), turned=reading(4710.0, leads=REVERSED)
    )
    assert asked.expectation is not None
    assert asked.expectation.nominal == 4700.0
    assert (asked.reading, asked.mirror, asked.reversed) == (4700.0, 4600.0, 4710.0)
    assert asked.in_circuit
    assert asked.mirror_alike
    assert asked.dead_board is None
    assert question_of(subject(), reading()).expectation is None


def test_the_reading_says_whether_a_leg_was_lifted_else_the_part() -> None:
    assert not question_of(subject(), reading(circuit=LIFTED)).in_circuit
    assert question_of(subject(), reading(circuit=IN_CIRCUIT)).in_circuit
    off = subject(part=Part("p", "b", "R1", Kind.RESISTOR, in_circuit=False))
    assert not question_of(off, reading()).in_circuit


def test_idle_drops_that_agree_speak_for_both_emitter_resistors() -> None:
    # Rule 30: within 30 %. On the board 0.22 ohm would prove nothing.
    part = Part("p", "b", "R5", Kind.EMITTER_RESISTOR)
    own = Subject(part, part.measure(""), should_read="R22 10%")
    for other, agree in ((0.0101, True), (0.0040, False)):
        drops = [replace(reading(volts), measure="volts") for volts in (0.0120, other)]
        asked = question_of(own, reading(0.22), beside=drops[:1], beside_other=drops[1:])
        assert asked.idle_drops_agree is agree
    assert not question_of(own, reading(0.22)).idle_drops_agree


@pytest.mark.parametrize("other", [{"job": "another"}, {"circuit": LIFTED}, {"leads": REVERSED}])
def test_sides_read_in_different_ways_are_not_held_against_each_other(other: dict[str, str]) -> None:
    assert not question_of(subject(), reading(), other=reading(**other)).mirror_alike  # type: ignore[arg-type]


def test_an_overload_keeps_its_sign() -> None:
    assert value_of(reading(None)) is Overload.POSITIVE
    assert value_of(None) is None
    assert subject().expectation() is None
    assert subject("4k7 5%").expectation() == Expectation.parse("4k7 5%")


@pytest.mark.parametrize(
    ("text", "value", "other", "held"),
    [
        ("4k7 5%", 4650.0, None, False),
        ("4k7 5%", 2000.0, None, False),
        ("4k7 5%", 1500.0, None, True),
        ("4k7 5%", 1500.0, 1480.0, False),
        ("4k7 5%", 1500.0, 15_000.0, True),
        ("4k7 5%", 1500.0, Overload.POSITIVE, True),
        ("4k7 5%", 15_000.0, None, True),
        ("4k7 5%", None, None, False),
        ("4k7 5%", Overload.POSITIVE, None, True),
        ("4k7 5%", Overload.POSITIVE, Overload.POSITIVE, False),
        ("> 1 M", Overload.POSITIVE, None, False),
        ("OL", Overload.POSITIVE, None, False),
        ("OL", 0.6, None, True),
        ("0 V +/-20 mV", 0.05, None, False),
        ("0 V +/-20 mV", 0.07, None, True),
    ],
)
def test_far_off_and_not_explained_by_the_other_side_wants_a_look(
    text: str, value: float | Overload | None, other: float | Overload | None, held: bool
) -> None:
    assert wants_a_look(value, Expectation.parse(text), other) is held


def test_without_an_expectation_nothing_is_far_off() -> None:
    assert not wants_a_look(1.0, None)


def test_what_the_leads_read_alone_wants_a_look_though_both_sides_read_so() -> None:
    wanted = Expectation.parse("100n 10%", Kind.FILM)
    assert wants_a_look(4e-12, wanted, 4e-12)
    assert not wants_a_look(25e-9, wanted, 25e-9)


@pytest.mark.parametrize(
    ("function", "text", "value", "said"),
    [
        (Function.OHMS, "4k7 5%", 12.0, "12 Ω where 4k7 5% is wanted"),
        (
            Function.OHMS,
            "4k7 5%",
            None,
            "OL where 4k7 5% is wanted: it is open, or the probes are in the air",
        ),
        (
            Function.CAPACITANCE,
            "220u 20%",
            4e-12,
            "4 pF is what leads have alone: the probes seem to be in the air",
        ),
        (
            Function.VOLTS_DC,
            "38 V 10%",
            3e-4,
            "0.3 mV where 38 V 10% is wanted: no volts there, or the probes are in the air",
        ),
        (Function.VOLTS_DC, "38 V 10%", 4.0, "4 V where 38 V 10% is wanted"),
    ],
)
def test_why_a_reading_wants_a_look_is_said_in_the_words_of_the_bench(
    function: Function, text: str, value: float | None, said: str
) -> None:
    found = replace(reading(value), function=function, unit=function.unit)
    assert look_at(found, text, Expectation.parse(text, unit=function.unit)) == said


def test_a_junction_that_reads_ol_may_be_turned_round() -> None:
    found = replace(reading(None), function=Function.DIODE, unit="V")
    said = look_at(found, "0.5..0.7 V", Expectation.parse("0.5..0.7 V"))
    assert said == "OL where 0.5..0.7 V is wanted: it is open, turned round, or the probes are in the air"


def test_only_a_reading_at_rest_near_the_first_bears_it_out() -> None:
    assert agrees_again(reading(12.0), reading(12.9))
    assert not agrees_again(reading(12.0), reading(14.0))
    assert not agrees_again(reading(12.0), replace(reading(12.0), settled=False))
    assert not agrees_again(reading(12.0), replace(reading(12.0), function=Function.DIODE))
    assert not agrees_again(reading(12.0), reading(None))
    assert agrees_again(reading(None), reading(None))
    assert not agrees_again(reading(None), replace(reading(None), negative=True))
