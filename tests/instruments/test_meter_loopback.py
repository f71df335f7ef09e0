"""An asked meter over loopback: nothing missing, a dead peer noticed in the slice it dies in, no spin."""

import itertools
import threading
import time
from collections.abc import Iterator

import pytest
from helpers.far_end import FarEnd, far_end, multimeter

from benchlog.domain.reading import Function, Reading
from benchlog.errors import Gone, LinkError
from benchlog.instruments.bench import MeterEntry
from benchlog.instruments.meter import Meter
from benchlog.instruments.opening import open_meter
from benchlog.instruments.profile import find_profile

SCPI = find_profile("scpi-multimeter")
VOLTS = Function.VOLTS_DC


def read(meter: Meter, count: int = 1, slices: int = 2000, wait: float = 0.1) -> list[Reading]:
    """The next readings, at most so many slices long."""
    found: list[Reading] = []
    for _ in range(slices):
        found += meter.step(wait)
        if len(found) >= count:
            break
    return found


@pytest.fixture
def far() -> Iterator[FarEnd]:
    with far_end(multimeter()) as made:
        yield made


def opened(far: FarEnd, function: Function | None = VOLTS, interval: float | None = None) -> Meter:
    profile = "scpi-multimeter"
    entry = MeterEntry(job="lamp", profile=profile, address=far.address, function=function, interval=interval)
    made = open_meter(entry, SCPI)
    assert isinstance(made, Meter)
    return made


def until_gone(meter: Meter) -> LinkError:
    with pytest.raises(LinkError) as caught:
        read(meter, 10_000, wait=10.0)
    return caught.value


def test_readings_over_a_real_wire_agree_with_what_was_said(far: FarEnd) -> None:
    count = 0

    def count_up(line: str) -> bytes | None:
        nonlocal count
        if line != "READ?":
            return multimeter()(line)
        count += 1
        return b"%d\n" % count

    far.answer = count_up
    meter = opened(far)
    readings = read(meter, 2000, slices=100_000)
    meter.close()
    assert [reading.value for reading in readings] == [float(n) for n in range(1, 2001)]
    assert all(a.at <= b.at for a, b in itertools.pairwise(readings))


@pytest.mark.parametrize("reset", [False, True])
def test_a_dead_peer_ends_the_slice_it_dies_in(far: FarEnd, reset: bool) -> None:
    meter = opened(far, interval=3600.0)
    read(meter)
    threading.Timer(0.02, far.hang_up, kwargs={"reset": reset}).start()
    spent = time.process_time()
    assert isinstance(until_gone(meter), Gone)
    assert time.process_time() - spent < 5.0, "it span"
    meter.close()


def test_a_wake_ends_a_slice_of_a_real_wire(far: FarEnd) -> None:
    meter = opened(far, None)
    threading.Timer(0.02, meter.wake).start()
    begun = time.monotonic()
    assert meter.step(30.0) == []
    assert time.monotonic() - begun < 30.0
    meter.close()
