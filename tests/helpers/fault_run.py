"""One faulty instrument read as the recorder reads it, and what came of it, held against its witness."""

import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from helpers.faulty import DEADLINE, QUIET, Faulty
from helpers.faulty_wires import Wire as FarWire
from helpers.faulty_wires import faulty_wire

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.instruments.address import Address, SerialAddress, UsbSerialAddress
from benchlog.instruments.bench import MeterEntry
from benchlog.instruments.link import Link, open_link
from benchlog.instruments.link_serial import SerialLink
from benchlog.instruments.meter import Meter
from benchlog.instruments.opening import open_meter
from benchlog.instruments.profile import Wire, find_profile
from benchlog.instruments.reappearing import Reappearing
from benchlog.instruments.stream_meter import StreamMeter
from benchlog.recorder.poll import Poller

LIMIT = 120.0
"""No run takes so long, however busy the machine, unless something hangs."""
GOOD_AT_END = 2
"""Readings that must come as they should after the last fault."""
EARLY = 0.5
"""A wait that gives nothing before this share of its time has passed is a turn of a loop that spins."""

SCPI = find_profile("scpi-multimeter")
HASTY = replace(SCPI, link=replace(SCPI.link, deadline=DEADLINE, quiet=QUIET, connect=5.0, longest_line=256))


class Watched:
    """A wire whose waits are counted: `early` are those that gave nothing too soon."""

    def __init__(self, link: Link, told: "FaultRun") -> None:
        self._link = link
        self._told = told
        self.send, self.wake, self.close, self.drain = link.send, link.wake, link.close, link.drain

    def receive(self, wait: float) -> bytes:
        """Receive, and note whether it came back with nothing before its time."""
        begun = time.monotonic()
        data = self._link.receive(wait)
        if not data and wait > 0.0 and time.monotonic() - begun < EARLY * wait:
            self._told.early += 1
        return data


@dataclass
class FaultRun:
    """What came of it. `wrong` are values stored under another question than their own."""

    mind: Faulty
    readings: list[Reading] = field(default_factory=list)
    wrong: list[tuple[float, int]] = field(default_factory=list)
    states: list[tuple[str, str]] = field(default_factory=list)
    opened: int = 0
    early: int = 0
    hung: bool = False

    @property
    def good(self) -> list[float]:
        """The values stored."""
        return [one.value for one in self.readings if one.outcome is Outcome.OK and one.value is not None]

    @property
    def told(self) -> list[str]:
        """What was said of faults: outcomes that are no value, and how the wire was lost."""
        outcomes = [one.outcome.value for one in self.readings if one.outcome is not Outcome.OK]
        return outcomes + [text for state, text in self.states if state != "open"]

    def faults(self) -> list[str]:
        """What must never be, each as a sentence; none where all is well."""
        found = [f"stored {value:g} for reading {asked}" for value, asked in self.wrong]
        if self.hung:
            found.append(f"hung after {self.mind.dealt}; states {self.states[-3:]}")
        if sorted(set(self.good)) != self.good:
            found.append(f"stored one value twice, or out of order: {self.good}")
        answered = sum(one.outcome is not Outcome.LATE for one in self.readings)
        if not self.hung and self.mind.asked > answered + self.opened:
            found.append(f"was asked {self.mind.asked} times, and {answered} outcomes are told")
        if self.early > GOOD_AT_END:
            found.append(f"span: {self.early} waits ended early")
        return found


def run_faults(kind: str, plan: Sequence[str]) -> FaultRun:
    """Read an instrument that does these faults one after the other, until it reads well again."""
    mind = Faulty(list(plan))
    run = FaultRun(mind)
    with faulty_wire(kind, mind) as far:
        well = threading.Event()
        since = [0]

        def on_reading(_job: str, reading: Reading) -> None:
            run.readings.append(reading)
            if reading.outcome is not Outcome.OK or reading.value is None:
                since[0] = 0
                return
            # Nothing is asked before this returns, so the last question is the one it answers.
            if reading.value != mind.asked:
                run.wrong.append((reading.value, mind.asked))
            since[0] = 0 if mind.plan else since[0] + 1
            if since[0] > GOOD_AT_END:
                well.set()

        poller = _poller(far, run, on_reading)
        run.hung = not well.wait(LIMIT)
        poller.stop(LIMIT)
    return run


def _poller(far: FarWire, run: FaultRun, on_reading: object) -> Poller[Meter | StreamMeter]:
    entry = MeterEntry(job="meter", profile="-", address=far.address, function=Function.VOLTS_DC)

    def wire(address: Address, settings: Wire, place: str, patience: float | None) -> Link:
        run.opened += 1
        if isinstance(address, SerialAddress | UsbSerialAddress):
            return Watched(SerialLink.open(address, settings.serial, place, far.ports), run)
        return Watched(open_link(address, settings, place, patience), run)

    return Poller(
        "meter",
        lambda: open_meter(entry, HASTY, wire=wire),
        on_reading,  # type: ignore[arg-type]
        lambda _job, state, text: run.states.append((state, text)),
        returned=Reappearing(entry.parsed_address, far.ports),
    )
