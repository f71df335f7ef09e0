"""One instrument tried by itself: what it says it is and what it reads, with every line as it went over the wire."""

import time
from pathlib import Path
from typing import Any

from benchlog.domain.reading import Outcome, Reading
from benchlog.errors import BadInput, Gone, LinkError, TimedOut
from benchlog.instruments import bench as benches
from benchlog.instruments.address import Address
from benchlog.instruments.decode import as_text
from benchlog.instruments.link import Link, open_link
from benchlog.instruments.opening import open_meter, open_supply
from benchlog.instruments.profile import Profile, Wire, find_profile
from benchlog.instruments.stream_meter import StreamMeter
from benchlog.instruments.supply_meter import SupplyMeter
from benchlog.instruments.unreadable import why
from benchlog.recorder.messages import Try

PATIENCE = 8.0
"""Longest wait for the wire and the first answer, and again for the reading, in s."""
SLICE = 0.1
MOST_LINES = 60
"""So many lines are told; a meter that writes without end has said enough by then."""

Entry = benches.MeterEntry | benches.SupplyEntry


class Overheard:
    """A wire that writes down what passes: `lines` are (seconds, who, text)."""

    def __init__(self, link: Link, end: bytes) -> None:
        self.lines: list[tuple[float, str, str]] = []
        self._link = link
        self._end = end
        self._rest = b""
        self._began = time.monotonic()

    def send(self, data: bytes) -> None:
        """Send, and write down that it was asked."""
        self._note("asked", data)
        self._link.send(data)

    def receive(self, wait: float) -> bytes:
        """Receive, and write down each whole line."""
        return self._heard(self._link.receive(wait))

    def drain(self, quiet: float) -> bytes:
        """Throw away what an earlier conversation left; its end is written down."""
        return self._heard(self._link.drain(quiet))

    def wake(self) -> None:
        """End a wait."""
        self._link.wake()

    def close(self) -> None:
        """Close, and write down a line that never ended."""
        self._note("answered", self._rest)
        self._rest = b""
        self._link.close()

    def _heard(self, data: bytes) -> bytes:
        *whole, self._rest = (self._rest + data).split(self._end)
        for line in whole:
            self._note("answered", line)
        return data

    def _note(self, who: str, data: bytes) -> None:
        if data and len(self.lines) < MOST_LINES:
            self.lines.append((time.monotonic() - self._began, who, as_text(data)))


def try_one(request: Try) -> dict[str, Any]:
    """Try one instrument of a bench; `BadInput` where the bench cannot be understood or has no such job."""
    folders = [Path(folder) for folder in request.profiles]
    bench = benches.parse(request.text, request.place, folders)
    entries: dict[str, Entry] = {entry.job: entry for entry in bench.meter}
    entries |= {entry.job: entry for entry in bench.supply}
    if request.job not in entries:
        raise BadInput("try", f"the bench has no {request.job!r}", f"it has {', '.join(entries)}")
    entry = entries[request.job]
    trial = _Trial(entry, find_profile(entry.profile, folders))
    trial.run()
    read = [(one.channel, one.function.value, one.outcome.value, one.value) for one in trial.readings]
    return {
        "lines": trial.lines,
        "read": read,
        "identity": trial.identity,
        "wrong": trial.wrong,
        "unreadable": trial.unreadable(),
    }


class _Trial:
    """One attempt, from opening to closing."""

    def __init__(self, entry: Entry, profile: Profile) -> None:
        self.lines: list[tuple[float, str, str]] = []
        self.readings: list[Reading] = []
        self.identity = ""
        self.wrong = ""
        self._entry = entry
        self._profile = profile

    def run(self) -> None:
        """Open, ask, listen, close; what goes wrong on the wire is kept as a sentence."""
        try:
            if isinstance(self._entry, benches.MeterEntry):
                self._listen(open_meter(self._entry, self._profile, 1.0, PATIENCE, self._open))
            else:
                self._listen(open_supply(self._entry, self._profile, 1.0, PATIENCE, self._open))
        except Gone as error:
            # Nobody opens it again here.
            fix = "look at its cable and its power, then try it again"
            again = "opened anew" in error.fix
            self.wrong = str(Gone(error.place, error.problem, fix if again else error.fix))
        except LinkError as error:
            self.wrong = str(error)
        if not self.wrong and self.readings and all(one.outcome is Outcome.MISSING for one in self.readings):
            self.wrong = str(_nothing_came(self._entry.job, self.readings[0].raw))

    def unreadable(self) -> str:
        """The first reading that cannot be read, with what its profile lacks; empty where there is none."""
        faults = (why(one, self._profile, self._entry.profile) for one in self.readings)
        return next((str(fault) for fault in faults if fault is not None), "")

    def _open(self, address: Address, wire: Wire, place: str, patience: float | None) -> Link:
        overheard = Overheard(open_link(address, wire, place, patience), wire.reply_end.encode("ascii"))
        self.lines = overheard.lines
        return overheard

    def _listen(self, instrument: Any) -> None:
        """Hear a meter's first reading, a supply's first of each output; one that walks says only what it is."""
        try:
            self.identity = instrument.identity
            wanted = 3 * len(self._profile.outputs) if isinstance(instrument, SupplyMeter) else 1
            if isinstance(instrument, StreamMeter):
                instrument.resume()
            elif isinstance(self._entry, benches.MeterEntry) and self._entry.function is None:
                wanted = 0
            until = time.monotonic() + PATIENCE
            while len(self.readings) < wanted and time.monotonic() < until:
                self.readings += instrument.step(SLICE)
        finally:
            instrument.close()


def _nothing_came(job: str, half: str) -> TimedOut:
    """It opened, and never gave a reading."""
    if half:
        problem = f'answered "{half}" without the line end that its profile expects'
        return TimedOut(job, problem, "look at reply_end in [link] of its profile")
    return TimedOut(job, "opened, but no reading came", "check that it is switched on, and its profile")
