"""A VISA session in a process of its own, over HiSLIP and VXI-11: no hang, no late answer, no zombie."""

import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest
from helpers.far_hislip import FarHislip, answering, far_hislip
from helpers.far_vxi11 import far_vxi11
from helpers.faulty import DEADLINE, QUIET, Faulty

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.errors import Gone, LinkError, Refused, TimedOut
from benchlog.instruments import link_apart
from benchlog.instruments.bench import MeterEntry
from benchlog.instruments.link_apart import VisaLink
from benchlog.instruments.meter import Meter
from benchlog.instruments.opening import open_meter
from benchlog.instruments.profile import find_profile
from benchlog.instruments.stream_meter import StreamMeter

HANG = 60.0
SCPI = find_profile("scpi-multimeter")
HASTY = replace(SCPI, link=replace(SCPI.link, deadline=DEADLINE, quiet=QUIET, connect=HANG))


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """A busy machine may take long to start a process."""
    monkeypatch.setattr(link_apart, "START_SECONDS", HANG)
    monkeypatch.setattr(link_apart, "CLOSE_SECONDS", HANG)


@pytest.fixture
def far() -> Iterator[FarHislip]:
    with far_hislip(answering({"*IDN?": b"MAKER,METER,0,1\n", "READ?": b"+1.5\r\n", "Q?": b"7"})) as made:
        yield made


def open_at(address: str, patience: float = HANG) -> VisaLink:
    return VisaLink.open(address, "\n", "lamp", patience)


def received(link: VisaLink) -> bytes:
    until = time.monotonic() + HANG
    while time.monotonic() < until:
        if data := link.receive(1.0):
            return data
    return b""


def test_a_session_asks_waits_wakes_and_ends(far: FarHislip) -> None:
    link = open_at(far.address)
    link.send(b"CONF:VOLT:DC\n")
    link.send(b"READ?\n")
    assert received(link) == b"+1.5\n"
    assert far.heard == ["CONF:VOLT:DC", "READ?"]
    assert link.receive(0.0) == link.drain(0.01) == b""
    threading.Timer(0.02, link.wake).start()
    begun = time.monotonic()
    assert link.receive(HANG) == b""
    assert time.monotonic() - begun < HANG
    link.send(b"READ?\n")
    assert received(link) == b"+1.5\n"
    far.hang_up()
    if sys.platform != "linux":
        link.send(b"READ?\n")
    with pytest.raises(Gone) as caught:
        received(link)
    assert caught.value.place == "lamp"
    with pytest.raises(Gone):
        link.receive(HANG)
    link.close()
    link.close()
    assert link._process.poll() is not None
    with pytest.raises(Gone):
        link.send(b"x")


def test_a_process_that_dies_is_gone_at_once(far: FarHislip) -> None:
    link = open_at(far.address)
    link._process.kill()
    with pytest.raises(Gone, match="the process that holds its VISA session ended"):
        link.receive(HANG)
    link.close()


def test_an_instrument_that_accepts_and_is_silent_does_not_hold_up_the_opening() -> None:
    with (
        far_hislip(answering({}), silent=True) as far,
        pytest.raises(TimedOut, match=r"did not open within 0\.3 s"),
    ):
        open_at(far.address, 0.3)


def test_nobody_there_and_no_library_are_refused_in_one_sentence(far: FarHislip) -> None:
    far.close()
    with pytest.raises(Refused, match="no such instrument answers"):
        open_at(far.address)


def test_a_process_that_does_not_start_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(link_apart, "COMMAND", ("/nowhere/python",))
    with pytest.raises(Refused, match="could not be started"):
        open_at("GPIB0::7::INSTR")
    monkeypatch.setattr(link_apart, "COMMAND", (sys.executable, "-c", ""))
    with pytest.raises(Refused, match="did not start"):
        open_at("GPIB0::7::INSTR")


def test_a_process_that_does_not_end_is_killed() -> None:
    process = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(1000)"])
    link_apart._end(process, 0.0)
    assert process.returncode


def read(meter: Meter | StreamMeter, count: int) -> list[Reading]:
    found: list[Reading] = []
    until = time.monotonic() + HANG
    while time.monotonic() < until and sum(one.outcome is Outcome.OK for one in found) < count:
        found += meter.step(0.1)
    return found


@pytest.mark.parametrize("kind", [far_hislip, far_vxi11])
def test_no_answer_is_stored_under_another_question(kind: Callable[..., Any]) -> None:
    mind = Faulty(["late", "garbage", "drip"])
    with kind(mind.play) as far:
        entry = MeterEntry(job="lamp", profile="-", address=far.address, function=Function.VOLTS_DC)
        meter: Meter | StreamMeter | None = None
        while mind.plan or not mind.asked:
            try:
                meter = meter or open_meter(entry, HASTY)
                found = read(meter, 1)
            except LinkError:
                if meter is not None:
                    meter.close()
                    meter = None
                continue
            good = [one.value for one in found if one.outcome is Outcome.OK]
            assert good == [float(mind.asked)], "an answer to another question"
        if meter is not None:
            meter.close()
