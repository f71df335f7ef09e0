"""A simulated bench inside the test's own process: its loop in a thread, its witness in a list."""

import json
import re
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any, cast

from helpers.until import until

from benchlog.simbench import truth
from benchlog.simbench.bench import Bench
from benchlog.simbench.loop import Loop

HANG = 30.0


class Line:
    """A near end on a TCP address: lines out, lines in."""

    def __init__(self, host: str, port: int) -> None:
        self._sock = socket.create_connection((host, port), timeout=HANG)
        self._file = self._sock.makefile("rwb", buffering=0)

    def say(self, text: str) -> None:
        """Send a line."""
        self._file.write(text.encode("ascii") + b"\n")

    def hear(self) -> str:
        """The next line."""
        return self._file.readline().decode("ascii").rstrip("\r\n")

    def ask(self, text: str) -> str:
        """Send a line and give the next one."""
        self.say(text)
        return self.hear()

    def silent_for(self, seconds: float) -> bool:
        """Whether nothing comes for that long."""
        self._sock.settimeout(seconds)
        try:
            return not self._file.readline()
        except TimeoutError:
            return True
        finally:
            self._sock.settimeout(HANG)

    def close(self) -> None:
        """Hang up."""
        self._file.close()
        self._sock.close()


class LiveBench:
    """The bench with its near ends; `seen` is what the witness was told."""

    def __init__(
        self,
        example: str,
        fault: str,
        speed: float,
        instruments: tuple[truth.InstrumentTruth, ...] = (),
        **options: Any,
    ) -> None:
        """`instruments` stand on it in place of the example's."""
        self.seen: list[dict[str, Any]] = []
        self.loop = Loop()
        true = truth.load(example, fault)
        if instruments:
            true = replace(true, instruments=instruments)
        self.bench = Bench(self.loop, true, self, speed=speed, **options)
        self._lines: dict[str, Line] = {}
        self._thread = threading.Thread(target=self.loop.run, name="bench")
        self._thread.start()

    def tell(self, saw: str, *, t: int | None = None, **about: Any) -> None:
        """Be the witness."""
        self.seen.append({"saw": saw, "t": time.monotonic_ns() if t is None else t, **about})

    def saw(self, what: str, **about: Any) -> list[dict[str, Any]]:
        """What was seen of one kind, with these properties."""
        return [one for one in list(self.seen) if one["saw"] == what and about.items() <= one.items()]

    def wait_for(self, what: str, **about: Any) -> dict[str, Any]:
        """The first of one kind, waited for."""
        return until(lambda: self.saw(what, **about), f"{what} {about}")[0]

    def line(self, job: str) -> Line:
        """A connection to an instrument, kept."""
        if job not in self._lines:
            self._lines[job] = self.another_line(job)
        return self._lines[job]

    def another_line(self, job: str) -> Line:
        """A connection of one's own to an instrument."""
        found = re.fullmatch(r"(?:TCPIP::|socket://|tcp://)([\d.]+):+(\d+)(?:::SOCKET)?", self.address(job))
        assert found is not None
        return Line(found[1], int(found[2]))

    def address(self, job: str) -> str:
        """Where an instrument is."""
        return self.bench.control.address if job == "control" else self.bench.addresses[job]

    def ask(self, job: str, text: str) -> str:
        """A question and its answer."""
        return self.line(job).ask(text)

    def read(self, job: str) -> float:
        """One reading."""
        return float(self.ask(job, "READ?"))

    def read_until(self, job: str, low: float, high: float) -> float:
        """The first reading between these limits."""

        def fits() -> list[float]:
            value = self.read(job)
            return [value] if low <= value <= high else []

        return until(fits, f"{job} between {low} and {high}")[0]

    def control(self, do: str, **request: Any) -> dict[str, Any]:
        """A request at the control port and its answer."""
        answer = self.line("control").ask(json.dumps({"do": do, **request}))
        return cast(dict[str, Any], json.loads(answer))

    def close(self) -> None:
        """Hang up everywhere and end the bench."""
        for line in self._lines.values():
            line.close()
        self.loop.stop()
        self._thread.join(HANG)
        assert not self._thread.is_alive()
        self.bench.close()


@contextmanager
def live_bench(
    example: str = "amplifier", fault: str = "healthy", speed: float = 20.0, **options: Any
) -> Iterator[LiveBench]:
    """A bench for the length of a test."""
    bench = LiveBench(example, fault, speed, **options)
    try:
        yield bench
    finally:
        bench.close()
