"""The kinds of meters no example has yet, on a simulated bench's real wires."""

import time
from collections.abc import Iterator

import pytest
from helpers.live_bench import LiveBench, live_bench

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.instruments.bench import MeterEntry
from benchlog.instruments.opening import open_meter
from benchlog.instruments.profile import find_profile
from benchlog.simbench.amplifier import Amplifier
from benchlog.simbench.truth import InstrumentTruth

KINDS = (
    InstrumentTruth("lines", "line-meter", "wall"),
    InstrumentTruth("segments", "segments", "plus rail"),
    InstrumentTruth("lcr", "lcr"),
)


@pytest.fixture
def bench() -> Iterator[LiveBench]:
    with live_bench("by-hand", instruments=KINDS, sockets=True) as made:
        assert isinstance(made.bench.model, Amplifier)
        yield made


def read(bench: LiveBench, job: str, profile: str, function: Function) -> Reading:
    """The first reading that carries a number."""
    entry = MeterEntry(job=job, profile=profile, address=bench.address(job), function=function)
    meter = open_meter(entry, find_profile(profile))
    try:
        end = time.monotonic() + 30.0
        while time.monotonic() < end:
            for reading in meter.step(0.1):
                if reading.outcome is Outcome.OK:
                    return reading
    finally:
        meter.close()
    raise AssertionError(f"{job} gave no reading")


def test_a_meter_that_is_asked_by_a_line(bench: LiveBench) -> None:
    reading = read(bench, "lines", "ascii-line-meter", Function.VOLTS_DC)
    assert (reading.function, reading.resolution) == (Function.VOLTS_DC, 0.001)
    assert bench.saw("command", job="lines", text="READ")
    assert bench.wait_for("reply", job="lines", text=reading.raw)


def test_a_meter_that_sends_its_segments(bench: LiveBench) -> None:
    reading = read(bench, "segments", "segment-handheld", Function.VOLTS_DC)
    assert reading.function is Function.VOLTS_DC
    assert bench.wait_for("reply", job="segments", text=reading.raw)


def test_an_lcr_meter_on_a_part(bench: LiveBench) -> None:
    part = next(one for one in bench.bench.truth.parts.values() if one.farads > 0)
    bench.control("probe", part=part.designator)
    found = [read(bench, "lcr", "scpi-lcr-meter", Function.CAPACITANCE) for _ in range(3)]
    assert any(one.value == pytest.approx(part.farads, rel=0.1) for one in found)
    assert all(dict(one.beside)["frequency"] == 1000.0 for one in found)
