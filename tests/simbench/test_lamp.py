"""The filament: the law it settles to, its flash, and how it looks."""

import pytest

from benchlog.simbench.lamp import Filament


def settled(watts: float, rated: float, volts: float) -> Filament:
    lamp = Filament(watts, rated)
    for _ in range(4000):
        lamp.step(0.001, volts)
    return lamp


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75, 1.0])
@pytest.mark.parametrize(("watts", "rated"), [(100.0, 230.0), (60.0, 120.0)])
def test_current_follows_the_power_law(watts: float, rated: float, share: float) -> None:
    lamp = settled(watts, rated, share * rated)
    assert share * rated / lamp.ohms == pytest.approx(watts / rated * share**0.55, rel=1e-3)


def test_cold_filament_is_a_fifteenth_of_the_hot_one() -> None:
    assert Filament(100.0, 230.0).ohms == pytest.approx(529.0 / 15.0)


def test_it_takes_its_time_to_warm() -> None:
    lamp = Filament(100.0, 230.0)
    lamp.step(0.001, 230.0)
    after_a_moment = lamp.ohms
    for _ in range(100):
        lamp.step(0.001, 230.0)
    assert 35.0 < after_a_moment < lamp.ohms < 700.0


@pytest.mark.parametrize(
    ("volts", "glow"), [(10.0, "dark"), (60.0, "glow"), (150.0, "half"), (225.0, "full")]
)
def test_how_it_looks(volts: float, glow: str) -> None:
    assert settled(100.0, 230.0, volts).glow == glow
