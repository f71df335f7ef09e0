"""The lamp as an instrument, and the idle current from a drop: what may be said, and what is refused."""

import math

import pytest

from benchlog.electronics.idle import current, ohms_to_use, oliver
from benchlog.electronics.lamp import Lamp, fitted, healthy, in_series, left_for_unit, looks, means
from benchlog.electronics.tungsten import kelvin
from benchlog.errors import BadInput


def test_what_is_left_for_the_unit_is_a_range() -> None:
    low, high = left_for_unit(230.0, 23.0)
    assert (low, high) == pytest.approx((207.0, math.sqrt(230.0**2 - 23.0**2)))
    assert left_for_unit(230.0, 230.0) == (0.0, 0.0)
    assert left_for_unit(230.0, 0.0) == (230.0, 230.0)
    # A meter may read a little more across the lamp than on the mains.
    assert left_for_unit(230.0, 231.0) == (0.0, 0.0)


def test_a_healthy_figure_is_that_of_the_lamp_nearest_below() -> None:
    assert healthy(100.0, 230.0) == pytest.approx(23.0, abs=1.0)
    assert healthy(73.0, 230.0) == healthy(60.0, 230.0)
    assert healthy(25.0, 230.0) is None


def test_a_lamp_across_more_of_a_load_takes_more() -> None:
    lamp = Lamp(100.0, 230.0)
    across = [in_series(lamp, 230.0, lambda u, ohms=ohms: u / ohms) for ohms in (3000.0, 800.0, 50.0)]  # type: ignore[misc]
    assert across == sorted(across)
    assert lamp.current(-1.0) == 0.0
    assert lamp.kelvin(0.0) == 300.0
    assert kelvin(0.5) == 300.0


def test_the_exponent_follows_the_lamp_that_was_measured() -> None:
    volts = (20.0, 60.0, 120.0, 230.0)
    own, error = fitted(volts, [0.4 * (one / 230.0) ** 0.48 for one in volts])
    assert own == pytest.approx(0.48)
    assert error == pytest.approx(0.0, abs=1e-9)
    assert Lamp(100.0, 230.0, own).current(115.0) > Lamp(100.0, 230.0).current(115.0)


@pytest.mark.parametrize("amps", [(0.1, 0.2), (0.1, 0.2, 0.0), (0.1, 0.2, 0.3, 0.4)])
def test_points_that_make_no_curve_are_refused(amps: tuple[float, ...]) -> None:
    with pytest.raises(BadInput, match="give three or more"):
        fitted((10.0, 20.0, 30.0), amps)
    with pytest.raises(BadInput):
        fitted((10.0, 10.0, 10.0), (0.1, 0.2, 0.3))


def test_what_bright_means_in_words() -> None:
    assert [looks(share) for share in (0.05, 0.12, 0.3, 0.55, 0.8, 1.0)] == [
        "dark",
        "a glow that can just be seen",
        "a glow",
        "half bright",
        "bright",
        "full",
    ]
    assert means(0.99).startswith("as good as a short")
    assert "far too much" in means(0.7)
    assert "more than a small idle" in means(0.3)
    # Dark is no proof that all is well.
    assert means(0.05).endswith("or it draws nothing at all")


@pytest.mark.parametrize(
    ("how", "ohms"),
    [
        ({}, 0.22),
        ({"four_wire": True}, 0.231),
        ({"nulled_ago": 600.0, "resolution": 0.001}, 0.231),
        ({"nulled_ago": 600.0, "resolution": 0.01}, 0.22),
        ({"nulled_ago": 600.0}, 0.22),
        ({"nulled_ago": 4000.0, "resolution": 0.001}, 0.22),
    ],
)
def test_which_resistor_an_idle_current_is_worked_out_with(how: dict[str, float], ohms: float) -> None:
    used, why = ohms_to_use(0.22, 0.231, **how)  # type: ignore[arg-type]
    assert used == ohms
    assert why.startswith("the sheet's") is (ohms == 0.22)
    assert ohms_to_use(0.22, None) == (0.22, "the sheet's: the resistor was not read")


def test_resistors_that_cannot_be_are_refused() -> None:
    with pytest.raises(BadInput):
        current(0.01, 0.0)
    with pytest.raises(BadInput):
        current(0.01, 0.22, tolerance=1.0)
    with pytest.raises(BadInput):
        oliver(0.0)


def test_a_negative_drop_keeps_its_ends_in_order() -> None:
    found = current(-0.0125, 0.22, tolerance=0.05)
    assert found.low < found.amps < found.high < 0.0
