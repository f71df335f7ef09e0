"""The rectifier's mean current against the same integral done numerically."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.simbench.rectifier import average


def integral(peak: float, volts: float, ohms: float, steps: int = 4000) -> float:
    """Mean over half a wave of what a diode lets through."""
    width = math.pi / steps
    angles = ((step + 0.5) * width - math.pi / 2 for step in range(steps))
    return sum(max(0.0, peak * math.cos(angle) - volts) for angle in angles) * width / (math.pi * ohms)


@given(peak=st.floats(1.0, 60.0), share=st.floats(0.0, 0.99), ohms=st.floats(0.1, 10.0))
def test_mean_current_is_the_integral(peak: float, share: float, ohms: float) -> None:
    amps, _, _ = average(peak, share * peak, ohms)
    assert amps == pytest.approx(integral(peak, share * peak, ohms), rel=2e-3, abs=1e-4 * peak / ohms)


@given(peak=st.floats(1.0, 60.0), share=st.floats(0.05, 0.95))
def test_slopes_are_those_of_the_current(peak: float, share: float) -> None:
    volts, small = share * peak, 1e-5
    _, over_peak, over_volts = average(peak, volts, 0.5)
    by_peak = (average(peak + small, volts, 0.5)[0] - average(peak - small, volts, 0.5)[0]) / (2 * small)
    by_volts = (average(peak, volts + small, 0.5)[0] - average(peak, volts - small, 0.5)[0]) / (2 * small)
    assert over_peak == pytest.approx(by_peak, rel=1e-3, abs=1e-3)
    assert over_volts == pytest.approx(by_volts, rel=1e-3, abs=1e-3)


@pytest.mark.parametrize(("peak", "volts"), [(10.0, 10.0), (10.0, 30.0), (-0.7, 0.0), (0.0, 0.0)])
def test_nothing_flows_where_the_reservoir_stands_higher(peak: float, volts: float) -> None:
    assert average(peak, volts, 0.5) == (0.0, 0.0, 0.0)
