"""The far end without a model, `benchlog.simbench.bare`: what it saw leave and what it saw come."""

import contextlib
import json
import socket
import threading
import time
from dataclasses import dataclass
from typing import Any

from measure.processes import HANG, Running, command

DECIDING = 2
"""No limit trips on one reading alone."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A cut as it came over the wire, with the violating replies that had left by then (monotonic ns).

    `first` and `second` are 0 where there was none; `silent_since` is a relay line's last byte.
    """

    t: int
    by: str
    meter: int
    first: int
    second: int
    replies: int
    silent_since: int

    @property
    def decided_ms(self) -> float:
        """Milliseconds from the reply that decided to a supply's cut; RuntimeError where it was not the second.

        A recorder asks again only after it has judged and cut, so that more replies mean that it was not
        armed yet, or that others ask the same meter.
        """
        if self.replies != DECIDING:
            raise RuntimeError(f"cut after {self.replies} violating replies")
        return (self.t - self.second) / 1e6


class FarEnd(Running):
    """Meters that answer after a delay, a supply, a relay line, and a port to have one violate."""

    def __init__(self, meters: int = 6, delay: float = 0.002, *, touches: bool = False) -> None:
        more = ("--touches",) if touches else ()
        argv = command("benchlog.simbench.bare", "--meters", meters, "--delay", delay, *more)
        super().__init__(argv, heeds_eof=False)
        said = self.hear()
        self.meters: list[str] = said["meters"]
        self.supply: str = said["supply"]
        self.relay: str = said["relay"]
        host, _, port = said["control"].removeprefix("tcp://").rpartition(":")
        self._control = socket.create_connection((host, int(port)), timeout=HANG)
        self._answers = self._control.makefile("rb")
        self._asking = threading.Lock()

    def close(self) -> None:
        """End it."""
        self._answers.close()
        self._control.close()
        super().close()

    def violate(self, meter: int) -> None:
        """Have a meter read beyond its limit from its next reply on, until a cut comes."""
        self._ask(do="violate", meter=meter)

    def hang_up(self, meter: int) -> None:
        """Have the supply drop all its connections, and that meter violate from then on."""
        self._ask(do="hang up", meter=meter)

    def replies(self) -> int:
        """How many readings it has given in all."""
        return int(self._ask(do="count")["replies"])

    def cut(self, meter: int | None = None, seconds: float = HANG) -> Cut:
        """The next cut, or the next one that answers a violation of that meter."""
        until = time.monotonic() + seconds
        while True:
            said = self.hear(max(until - time.monotonic(), 0.001))
            if meter is None or said["meter"] == meter:
                return Cut(
                    t=said["t"],
                    by=said["by"],
                    meter=said["meter"],
                    first=said["first"],
                    second=said["second"],
                    replies=said["replies"],
                    silent_since=said.get("silent_since", 0),
                )

    def settled(self, seconds: float = 1.0) -> list[int]:
        """When each contact so far had come to rest (monotonic ns), with `touches`; waits until no more is told."""
        found: list[int] = []
        with contextlib.suppress(TimeoutError):
            while True:
                said = self.hear(seconds)
                if said["saw"] == "settled":
                    found.append(int(said["t"]))
        return found

    def _ask(self, **request: Any) -> dict[str, Any]:
        with self._asking:
            self._control.sendall(json.dumps(request).encode() + b"\n")
            answer: dict[str, Any] = json.loads(self._answers.readline())
        if not answer["ok"]:
            raise RuntimeError(answer["why"])
        return answer
