"""What a part should read, from elsewhere: what is proposed, and how far it lies from what holds."""

import math

import pytest

from benchlog.domain.elsewhere import (
    OnSheet,
    Source,
    against,
    agree,
    around,
    carried_over,
    of_marking,
    proposals,
)
from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.kind import Kind
from benchlog.domain.measures import measure_of
from benchlog.domain.quantity import Overload
from benchlog.domain.unit import Part

OHMS = measure_of(Kind.RESISTOR, "")
SHEET = OnSheet("e1", "4k7 5%", Origin.SHEET, holds=True)


def should(text: str, unit: str = "ohm") -> Expectation:
    """What is written."""
    return Expectation.parse(text, Kind.RESISTOR, unit=unit)


def test_a_reading_gets_the_width_of_part_against_part_or_the_marked_one_where_that_is_wider() -> None:
    """Rule 26: 5 %, 0.1 ohm at least."""
    narrow = around(4682.37, "ohm", None, Origin.MIRROR)
    assert narrow is not None
    assert (narrow.text, narrow.low, narrow.high) == ("4.682 kΩ ±5 %", 4447.9, 4916.1)
    wide = around(8.9e-6, "F", (-0.2, 0.5), Origin.MIRROR)
    assert wide is not None
    assert (wide.low, wide.high) == pytest.approx((7.12e-6, 13.35e-6))
    small = around(0.22, "ohm", None, Origin.MIRROR)
    assert small is not None
    assert (small.low, small.high) == pytest.approx((0.12, 0.32))
    nothing = around(0.01, "ohm", None, Origin.MIRROR)
    assert nothing is not None
    assert nothing.low == 0.0


def test_what_is_proposed_can_be_read_back() -> None:
    for value, unit in ((4682.37, "ohm"), (0.22, "ohm"), (0.0, "ohm"), (-38.91, "V"), (98e-9, "F")):
        made = around(value, unit, None, Origin.EARLIER_VISIT)
        assert made is not None
        again = Expectation.parse(made.text, None, Origin.EARLIER_VISIT, unit)
        assert (again.low, again.high) == pytest.approx((made.low, made.high))


def test_of_nothing_and_of_zero_volts_nothing_is_proposed() -> None:
    assert around(None, "ohm", None, Origin.MIRROR) is None
    assert around(0.0, "V", None, Origin.MIRROR) is None


def test_an_overload_elsewhere_proposes_an_overload() -> None:
    made = around(Overload.POSITIVE, "ohm", None, Origin.MIRROR)
    assert made is not None
    assert made.open
    assert made.text == "OL"


def test_a_marking_is_read_and_borrows_a_tolerance_where_it_tells_none() -> None:
    own = of_marking("4K7J", Kind.RESISTOR, "ohm", None)
    assert own is not None
    assert own.shown == "4.7 kΩ ±5 %"
    borrowed = of_marking("100u 63V", Kind.ELECTROLYTIC, "F", (-0.2, 0.5))
    assert borrowed is not None
    assert borrowed.shown == "100 µF +50/-20 %"
    assert of_marking("100u 63V", Kind.ELECTROLYTIC, "F", None) is None
    assert of_marking("", Kind.RESISTOR, "ohm", (-0.05, 0.05)) is None
    assert of_marking("blue one", Kind.RESISTOR, "ohm", (-0.05, 0.05)) is None


def test_everything_known_is_proposed_with_where_it_comes_from_what_holds_first() -> None:
    found = proposals(
        Kind.RESISTOR,
        OHMS,
        (OnSheet("e0", "2k2 5%", Origin.SHEET, misprint="the errata"), SHEET),
        "4k7 5%",
        (
            Source(Origin.MIRROR, "R206", 4690.0),
            Source(Origin.EARLIER_VISIT, "visit 0001, as left", 4702.0),
            Source(Origin.EARLIER_UNIT, "the other amplifier", None),
        ),
    )
    assert [(one.origin.value, one.whose, one.holds, one.misprint) for one in found] == [
        ("sheet", "the sheet", True, ""),
        ("sheet", "the sheet", False, "the errata"),
        ("marking", "its marking, 4k7 5%", False, ""),
        ("mirror", "R206", False, ""),
        ("earlier visit", "visit 0001, as left", False, ""),
    ]


def test_what_is_written_down_from_one_place_is_not_proposed_from_there_again() -> None:
    held = OnSheet("e1", "4k7 5%", Origin.MARKING, holds=True)
    found = proposals(Kind.RESISTOR, OHMS, (held,), "4k7 5%", ())
    assert [one.id for one in found] == ["e1"]


def test_what_cannot_be_read_any_more_or_is_about_something_else_is_left_out() -> None:
    rows = (OnSheet("e1", "?", Origin.SHEET, holds=True), OnSheet("e2", "12..15 mV", Origin.SHEET))
    assert proposals(Kind.RESISTOR, OHMS, rows, "", ()) == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("4k6 5%", "agrees"),
        ("5k6 5%", "19 % more"),
        ("3k3 5%", "30 % less"),
        ("47k 5%", "10 times as much: a slipped point or prefix?"),
        ("470R 5%", "a tenth of it: a slipped point or prefix?"),
        ("12k 5%", "2.6 times as much"),
        ("OL", "OL against a figure"),
        ("> 1 k", "agrees"),
    ],
)
def test_how_far_apart_is_said_in_words(text: str, said: str) -> None:
    assert against(should(text), should("4k7 5%")) == said
    assert agree(should(text), should("4k7 5%")) is (said == "agrees")


def test_sides_of_zero_are_apart_by_sign() -> None:
    assert against(should("-38..-36 V", "V"), should("36..38 V", "V")) == "apart by sign"
    assert against(should("0 V +/-20 mV", "V"), should("36..38 V", "V")) == "apart"


def test_a_new_item_keeps_what_speaks_of_its_place_and_not_the_old_ones_marking() -> None:
    """Rule 38: else the old capacitor judges the new one."""
    part = Part("p", "b", "R106", Kind.RESISTOR)
    sheet, marking = ("4k7 5%", Origin.SHEET, ""), ("4k7 5%", Origin.MARKING, "")
    earlier = ("4.6 kΩ ±5 %", Origin.EARLIER_VISIT, "")
    assert carried_over(part, [sheet, marking, earlier], "5k1 1%") == (sheet,)
    assert carried_over(part, [marking], "5k1 1%") == (("5k1 1%", Origin.MARKING, ""),)
    assert carried_over(part, [marking], "5k1") == (("5.1 kΩ ±5 %", Origin.MARKING, ""),)
    assert carried_over(part, [earlier], "blue one") == ()


def test_the_middle_of_limits_is_what_is_compared() -> None:
    low = Expectation(None, 0.55, 0.7, "V")
    assert agree(low, Expectation(None, 0.6, math.inf, "V"))
