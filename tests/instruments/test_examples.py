"""Every instrument of the shipped benches answers to its shipped profile, over real wires."""

import json
import time

import pytest
from helpers.live_bench import LiveBench, live_bench

from benchlog import resources
from benchlog.domain.reading import Function, Reading
from benchlog.instruments.bench import Bench, parse
from benchlog.instruments.meter import Instrument, Meter
from benchlog.instruments.opening import open_meter, open_supply
from benchlog.instruments.profile import find_profile
from benchlog.instruments.stream_meter import StreamMeter

EXAMPLES = ("amplifier", "by-hand", "lamp-ladder", "board")


def bench_of(example: str, far: LiveBench) -> Bench:
    text = resources.path("examples", example, "bench.toml").read_text(encoding="utf-8")
    for job, address in far.bench.addresses.items():
        text = text.replace(json.dumps(f"simulated:{job}"), json.dumps(address))
    return parse(text, "bench.toml")


def first_of(instrument: Instrument, count: int = 1) -> list[Reading]:
    """The first readings; a generous number of slices long. A slice may bring several of one that writes."""
    found: list[Reading] = []
    end = time.monotonic() + 30.0
    while len(found) < count and time.monotonic() < end:
        found += instrument.step(0.1)
    instrument.close()
    return found[:count]


@pytest.mark.parametrize("example", EXAMPLES)
def test_every_meter_of_an_example_is_read(example: str) -> None:
    with live_bench(example) as far:
        for entry in bench_of(example, far).meter:
            meter = open_meter(entry, find_profile(entry.profile), 20.0)
            if entry.function is None:
                meter.configure(Function.OHMS)
                meter.resume()
            reading = first_of(meter)[0]
            assert reading.function == (entry.function or Function.OHMS), entry.job
            assert isinstance(meter, Meter | StreamMeter)
            assert reading.raw, entry.job


def test_the_supply_of_the_board_is_set_switched_and_read() -> None:
    with live_bench("board") as far:
        (entry,) = bench_of("board", far).supply
        supply = open_supply(entry, find_profile(entry.profile), 20.0)
        for output in supply.control.outputs:
            assert supply.control.set_limit(output, 0.2) == pytest.approx(0.2)
            assert supply.control.set_protection(output, 20.0) == pytest.approx(20.0)
            assert supply.control.set_volts(output, 15.0) == pytest.approx(15.0)
        supply.control.on()
        supply.control.send_off()
        assert supply.control.all_off()
        readings = first_of(supply, 6)
        assert {reading.channel for reading in readings} == {"1", "2"}
        assert all(reading.good for reading in readings)
