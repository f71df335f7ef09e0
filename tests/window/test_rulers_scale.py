"""Several measures on one scale: places by hand, equal ratios where they lie far apart."""

import pytest

from benchlog.domain.expectation import Expectation
from benchlog.domain.kind import Kind
from benchlog.domain.quantity import Overload
from benchlog.window.rulers_scale import scale_of


def should(text: str, unit: str = "ohm") -> Expectation:
    return Expectation.parse(text, Kind.RESISTOR, unit=unit)


def test_near_measures_lie_on_an_even_scale() -> None:
    scale = scale_of([should("90..110"), should("95..105")], 100.0)
    # From 90 to 110 with an eighth-and-a-bit (0.12 of 20) of room: 87.6 to 112.4.
    assert scale.bands[0].low == pytest.approx((90 - 87.6) / 24.8)
    assert scale.bands[1].high == pytest.approx((105 - 87.6) / 24.8)
    assert scale.value == pytest.approx(0.5)
    assert [text for _, text in scale.ticks] == ["90", "95", "100", "105", "110"]
    assert scale.unit == "Ω"


def test_far_measures_lie_on_a_scale_of_equal_ratios_so_that_the_narrow_one_is_seen() -> None:
    scale = scale_of([should("4k7 5%"), should("470R 5%")], 460.0)
    first, second = scale.bands
    assert first.high - first.low == pytest.approx(second.high - second.low)
    assert first.low > second.high
    assert scale.value is not None
    assert second.low < scale.value < second.high
    assert all(0.0 <= at <= 1.0 for at, _ in scale.ticks)
    assert "1 k" in [text for _, text in scale.ticks]


def test_an_overload_has_a_field_of_its_own() -> None:
    scale = scale_of([should("4k7 5%"), should("OL")], Overload.POSITIVE)
    assert scale.over is not None
    assert scale.bands[0].high <= scale.over
    assert scale.bands[1].low == scale.over
    assert scale.value is not None
    assert scale.value > scale.over


def test_one_limit_alone_reaches_to_the_end_and_nothing_is_an_empty_scale() -> None:
    scale = scale_of([should("> 1 k")], 4700.0)
    assert scale.bands[0].high == 1.0
    assert scale_of([], None).bands == ()
    assert scale_of([should("OL")], None).value is None


def test_below_zero_the_scale_goes_below_zero() -> None:
    scale = scale_of([should("-40..-36 V", "V")], -38.0)
    assert scale.bands[0].low < scale.bands[0].high
    assert scale.value == pytest.approx(0.5)


@pytest.mark.parametrize("text", ["0 V +/-20 mV", "0..5 V", "12 V 10%"])
def test_every_scale_has_numbers(text: str) -> None:
    scale = scale_of([should(text, "V")], None)
    assert len(scale.ticks) >= 2
    assert sorted(scale.ticks) == list(scale.ticks)
