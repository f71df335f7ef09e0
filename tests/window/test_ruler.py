"""The tolerance ruler: where band, reading, error, other side and OL lie, and that it draws in every case."""

import math
from itertools import pairwise

import pytest
from PySide6.QtGui import QImage
from pytestqt.qtbot import QtBot

from benchlog.domain.expectation import Expectation
from benchlog.domain.kind import Kind
from benchlog.domain.quantity import Overload
from benchlog.window.look import Look
from benchlog.window.ruler import Ruler
from benchlog.window.ruler_scale import OPEN_FROM, Ruled, described, scale_of
from benchlog.window.shapes import Shape

R33 = Expectation.parse("R33 5%")
ABOVE = Expectation.parse("> 1 M")
BELOW = Expectation(None, -math.inf, 40.0, "degC", text="max 40 degC")
CLOSED = Expectation.parse("OL")
NEAR_ZERO = Expectation.parse("0 V +/-20 mV")

CASES = [
    Ruled(R33, 0.341, 0.335, 0.008, 0.002, Kind.EMITTER_RESISTOR, "ohm"),
    Ruled(R33, None, None, None, None, Kind.EMITTER_RESISTOR, "ohm"),
    Ruled(R33, 0.01, 7.0, 0.008, None, None, "ohm"),
    Ruled(R33, Overload.POSITIVE, Overload.NEGATIVE, None, None, None, "ohm"),
    Ruled(ABOVE, Overload.POSITIVE, 2.2e6, None, 1e4, None, "ohm"),
    Ruled(ABOVE, 5e8, None, None, None, None, "ohm"),
    Ruled(BELOW, 30.0, 45.0, None, 1.0, None, "degC"),
    Ruled(CLOSED, Overload.POSITIVE, 0.6, None, None, Kind.DIODE, "V"),
    Ruled(NEAR_ZERO, -0.004, 0.01, None, None, None, "V"),
    Ruled(Expectation.parse("0..0.5", unit="ohm"), 0.04, 0.1, None, None, None, "ohm"),
    Ruled(
        Expectation.parse("100u +50/-20%", Kind.ELECTROLYTIC), 93e-6, None, 1e-6, None, Kind.ELECTROLYTIC, "F"
    ),
    Ruled(None, 47.0, 46.0, None, None, None, "ohm"),
    Ruled(None, 0.0, None, None, None, None, "V"),
    Ruled(),
]


def test_the_band_lies_around_its_nominal_and_the_reading_where_it_belongs() -> None:
    scale = scale_of(Ruled(R33, 0.341, 0.335, 0.008, None, Kind.EMITTER_RESISTOR, "ohm"))
    assert scale.band is not None
    assert scale.nominal == pytest.approx(sum(scale.band) / 2)
    assert scale.pointer is not None
    assert scale.other is not None
    assert scale.error is not None
    assert scale.nominal is not None
    assert scale.nominal < scale.other.at < scale.pointer.at < scale.band[1]
    assert scale.error[0] < scale.pointer.at < scale.error[1]
    # The meter's error reaches past the limit: one look tells why nobody can tell.
    assert scale.error[1] > scale.band[1]


def test_where_a_part_may_stay_though_it_drifted_is_a_zone_outside_the_band() -> None:
    scale = scale_of(Ruled(R33, kind=Kind.EMITTER_RESISTOR, unit="ohm"))
    assert scale.band is not None
    low, high = scale.drifted
    assert low[1] == pytest.approx(scale.band[0])
    assert high[0] == pytest.approx(scale.band[1])
    assert not scale_of(Ruled(R33, unit="ohm")).drifted


def test_hand_over_limits_are_drawn_in_from_both_sides() -> None:
    scale = scale_of(Ruled(R33, 0.33, guard=0.003, unit="ohm"))
    assert scale.band is not None
    low, high = scale.guards
    assert low[0] == pytest.approx(scale.band[0])
    assert high[1] == pytest.approx(scale.band[1])
    assert low[1] < high[0]


@pytest.mark.parametrize(
    ("value", "beyond"), [(0.01, -1), (7.0, 1), (Overload.POSITIVE, 1), (Overload.NEGATIVE, -1)]
)
def test_what_is_far_outside_is_parked_at_the_edge_and_says_which_way_it_went(
    value: float | Overload, beyond: int
) -> None:
    scale = scale_of(Ruled(R33, value, error=0.1, unit="ohm"))
    assert scale.pointer is not None
    assert scale.pointer.beyond == beyond
    assert scale.error is None
    assert scale.band == scale_of(Ruled(R33, unit="ohm")).band


def test_what_should_be_open_has_a_field_for_it_and_no_numbers() -> None:
    scale = scale_of(Ruled(CLOSED, Overload.POSITIVE, 0.6))
    assert scale.band == scale.over == (OPEN_FROM, 1.0)
    assert not scale.ticks
    assert scale.pointer is not None
    assert OPEN_FROM < scale.pointer.at < 1.0
    assert scale.other is not None
    assert scale.other.beyond == -1
    assert scale_of(Ruled(CLOSED)).pointer is None


def test_a_limit_to_one_side_reaches_as_far_as_over_range() -> None:
    scale = scale_of(Ruled(ABOVE, Overload.POSITIVE, unit="ohm"))
    assert scale.band is not None
    assert scale.over is not None
    assert scale.band[1] == scale.over[1]
    assert scale.pointer is not None
    assert scale.over[0] < scale.pointer.at < scale.over[1]
    below = scale_of(Ruled(BELOW, 30.0, unit="degC"))
    assert below.band is not None
    assert below.band[0] == 0.0


def test_numbers_are_round_and_in_one_prefix() -> None:
    scale = scale_of(Ruled(Expectation.parse("4k7 5%"), unit="ohm"))
    assert scale.unit == "kΩ"
    assert [tick.text for tick in scale.ticks] == ["4.4", "4.6", "4.8", "5.0"]
    assert [tick.text for tick in scale_of(Ruled(NEAR_ZERO, unit="V")).ticks] == [
        "-40",
        "-20",
        "0",
        "20",
        "40",
    ]


def test_without_an_expectation_the_other_side_is_all_there_is() -> None:
    scale = scale_of(Ruled(None, 47.0, 46.0, unit="ohm"))
    assert scale.band is None
    assert scale.pointer is not None
    assert scale.other is not None
    assert scale.other.at < scale.pointer.at
    assert scale_of(Ruled()).ticks == ()


@pytest.mark.parametrize("ruled", CASES)
def test_everything_lies_on_the_ruler(ruled: Ruled) -> None:
    scale = scale_of(ruled)
    zones = [*scale.drifted, *scale.guards, *(one for one in (scale.band, scale.error, scale.over) if one)]
    assert all(0.0 <= low < high <= 1.0 for low, high in zones)
    pointers = [one.at for one in (scale.pointer, scale.other) if one is not None]
    assert all(0.0 <= at <= 1.0 for at in (*pointers, *(tick.at for tick in scale.ticks)))
    assert all(one.at < other.at for one, other in pairwise(scale.ticks))
    assert not math.isnan(sum(pointers))


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_it_draws_itself_wide_and_narrow(qtbot: QtBot, look: Look, theme: str) -> None:
    look.set_theme(theme)
    ruler = Ruler(look)
    qtbot.addWidget(ruler)
    for width in (240, 480):
        ruler.resize(width, 90)
        for ruled in CASES:
            ruler.show_ruled(ruled, Shape.DOUBT)
            image: QImage = ruler.grab().toImage()
            colours = {image.pixel(x, y) for x in range(0, width, 2) for y in range(0, 90, 2)}
            assert len(colours) > 1
    look.set_theme("light")


def test_those_who_cannot_see_it_hear_what_it_says(qtbot: QtBot, look: Look) -> None:
    ruler = Ruler(look)
    qtbot.addWidget(ruler)
    ruler.show_ruled(CASES[0], Shape.DOUBT)
    said = "should read 0.33 Ω ±5 %, reads 0.341 Ω, the other side 0.335 Ω, the meter can be off by 0.008 Ω"
    assert ruler.accessibleName() == f"ruler: {said}"
    assert described(Ruled(R33)) == "should read 0.33 Ω ±5 %, not read yet"
    assert described(Ruled(value=Overload.NEGATIVE)) == "reads -OL"
