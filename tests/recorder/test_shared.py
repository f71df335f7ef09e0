"""A supply that takes one connection: the cut goes out at once on the wire that is read, and is read back on it."""

import threading
from collections.abc import Iterator
from dataclasses import replace

import pytest
from helpers.far_end import FarEnd, far_end
from helpers.stand_ins import UNKNOWN, says
from helpers.until import until

from benchlog.domain.offproof import CutOutcome
from benchlog.domain.reading import Reading
from benchlog.errors import Gone, TimedOut
from benchlog.instruments.bench import SupplyEntry
from benchlog.instruments.opening import open_supply
from benchlog.instruments.profile import find_profile
from benchlog.instruments.supply_meter import SupplyMeter
from benchlog.recorder.off_supply import SupplySwitch
from benchlog.recorder.poll import Poller
from benchlog.recorder.shared import SharedControl

OFF = "OUTP OFF,(@1,2)"
SUPPLY = find_profile("scpi-supply")
SINGLE = replace(SUPPLY, link=replace(SUPPLY.link, connections=1, deadline=30.0))


class One:
    """A supply of one connection: on until told otherwise; `holds` an answer back until the cut came."""

    def __init__(self) -> None:
        self.on = True
        self.holds = threading.Event()
        self.held = threading.Event()
        self.cut = threading.Event()
        self.read: list[Reading] = []
        self.far: FarEnd | None = None

    def answer(self, line: str) -> bytes | None:
        if line == OFF:
            self.on = False
            self.cut.set()
        if "?" not in line:
            return None
        if line == "*IDN?":
            return b"M,S,0,1\n"
        if line == "OUTP? (@1,2)":
            return b"1,1\n" if self.on else b"0,0\n"
        if line.startswith("OUTP?"):
            return b"1\n" if self.on else b"0\n"
        if line.startswith("MEAS:VOLT"):
            return b"20.0\n" if self.on else b"0.0\n"
        return b"0\n"


@pytest.fixture
def one() -> One:
    return One()


@pytest.fixture
def far(one: One) -> Iterator[FarEnd]:
    with far_end(one.answer) as made:
        yield made


@pytest.fixture
def poller(far: FarEnd, one: One) -> Iterator[Poller[SupplyMeter]]:
    entry = SupplyEntry(job="lab supply", profile="-", address=far.address, interval=0.0)
    made = Poller(
        "lab supply",
        lambda: open_supply(entry, SINGLE, patience=1.0),
        lambda _job, reading: one.read.append(reading),
        lambda *_: None,
    )
    until(lambda: made.state == "open", "the supply")
    yield made
    made.stop()


def switch_on(poller: Poller[SupplyMeter]) -> SupplySwitch:
    return SupplySwitch("lab supply", lambda: SharedControl(poller, 60.0), lambda *_: None, ("1", "2"))


def test_it_is_cut_and_read_back_on_the_one_connection(
    poller: Poller[SupplyMeter], far: FarEnd, one: One
) -> None:
    switch = switch_on(poller)
    switch.keep()
    until(lambda: len(one.read) > 6, "a round of readings")
    switch.fire()
    until(lambda: switch.confirm(says(UNKNOWN)).outcome is CutOutcome.VERIFIED, "the off read back")
    assert far.connections == 1
    read = len(one.read)
    until(lambda: len(one.read) > read + 6, "reading goes on")
    assert OFF in far.heard
    switch.close()


def test_the_cut_does_not_wait_for_an_open_question(
    poller: Poller[SupplyMeter], far: FarEnd, one: One
) -> None:
    switch = switch_on(poller)
    asked = threading.Event()

    def silent(line: str) -> bytes | None:
        if "?" in line:
            asked.set()
            return None
        return one.answer(line)

    far.answer = silent
    assert asked.wait(30.0), "a question that nobody answers, with a deadline of half a minute"
    switch.fire()
    assert one.cut.wait(25.0), "the cut came before that question's time was over"
    switch.close()


def test_a_wire_that_is_gone_is_said_and_the_cut_sent_when_it_is_back(
    poller: Poller[SupplyMeter], far: FarEnd, one: One
) -> None:
    switch = switch_on(poller)
    far.answer = lambda _: None
    far.hang_up()
    until(lambda: poller.instrument is None, "the loss")
    with pytest.raises(Gone):
        SharedControl(poller, 60.0).send_off()
    switch.fire()
    assert one.on
    far.answer = one.answer
    until(lambda: switch.confirm(says(UNKNOWN)).outcome is CutOutcome.VERIFIED, "the off read back")
    assert not one.on
    switch.close()


def test_a_question_is_given_up_in_its_own_time(poller: Poller[SupplyMeter], far: FarEnd) -> None:
    far.answer = lambda _: None
    with pytest.raises(TimedOut, match=r"within 0\.05 s"):
        SharedControl(poller, 0.05).all_off()
    far.hang_up()
