"""A far end with no model in it, for measuring: `python -m benchlog.simbench.bare --meters 6 --delay 0.002`.

Meters that answer READ? after a fixed real delay, and a supply and a relay line to cut. On a control
command, or at every so-manyeth reply, one meter reads beyond its limit until a cut arrives; the
witness then tells when the violating reply left and when the cut came.

First line of output: {"meters": [address...], "supply": address, "relay": address, "control": address}.
Then {"saw": "cut", "t": ns, "by": "supply" | "relay", "meter": i, "first": ns, "last": ns, "replies": n, ...}
for each, where `first`, `second` and `last` are the times the violating replies left, 0 for none (meter -1: none did).
With --touches the first meter is in a technician's hands: air and a contact take turns, and {"saw": "settled",
"t": ns} tells when the reply left by which a contact had come to rest. The control port takes
{"do": "violate", "meter": i}, {"do": "calm"}, {"do": "count"}, and {"do": "hang up", "meter": i}: the supply drops
all its connections, taking new ones at once, and that meter violates from then on.
"""

import argparse
import json
import re
import signal
import sys
import time
from collections.abc import Callable
from typing import Any

from benchlog.simbench.control import Answer, Control
from benchlog.simbench.loop import Loop
from benchlog.simbench.relay import Relay
from benchlog.simbench.serial_end import open_serial
from benchlog.simbench.wire import Listener, TcpWire
from benchlog.simbench.witness import Witness

NORMAL, VIOLATING = b"+1.00000000E+00\n", b"+9.00000000E+00\n"
IN_AIR = b"+9.90000000E+37\n"
AIR, CONTACT = 6, 8
"""Replies of each, by turns."""
SETTLED_BY = 4
"""The reply of a contact by which it has come to rest: the first never counts, then three agree."""
NO_ERROR = b'+0,"No error"\n'
METER_ANSWERS = {b"*IDN?": b"BENCHLOG-SIM,BARE METER,0,1\n", b"SYST:ERR?": NO_ERROR, b"*OPC?": b"1\n"}
SUPPLY_ANSWERS = {b"*IDN?": b"BENCHLOG-SIM,BARE SUPPLY,0,1\n", b"SYST:ERR?": NO_ERROR, b"*OPC?": b"1\n"}
_SET = re.compile(rb"(VOLT|CURR|VOLT:PROT) (\S+),\(@(\d)\)")
_ASK = re.compile(rb"(MEAS:)?(VOLT|CURR|VOLT:PROT)\? \(@(\d)\)")
_OUTP = re.compile(rb"OUTP(\?| ON,| OFF,) ?\(@([\d,]+)\)")

Make = Callable[[Callable[[bytes], None], Callable[[], None]], TcpWire]


class Violation:
    """Which meter is beyond its limit just now, and since when; told to the witness when a cut comes."""

    def __init__(self, every: int, tell: Callable[..., None]) -> None:
        self._every = every
        self._tell = tell
        self._calm_replies = 0
        self.replies = 0
        self.cuts = 0
        self.meter = -1
        self._first = 0
        self._second = 0
        self._last = 0
        self._count = 0

    def answers(self, meter: int) -> bytes:
        """What that meter reads this time."""
        self.replies += 1
        if self.meter < 0 < self._every:
            self._calm_replies += 1
            if self._calm_replies >= self._every:
                self.begin(meter)
        return VIOLATING if meter == self.meter else NORMAL

    def left(self, t: int) -> None:
        """A violating reply has left at `t`."""
        self._first = self._first or t
        self._last = t
        self._count += 1
        if self._count == 2:
            self._second = t

    def begin(self, meter: int) -> None:
        """Let a meter read beyond its limit from its next reply on."""
        self.meter, self._first, self._second, self._last, self._count = meter, 0, 0, 0, 0

    def calm(self) -> None:
        """Let all read normally again."""
        self.meter = -1
        self._calm_replies = 0

    def cut(self, t: int, by: str, **about: Any) -> None:
        """A cut has come at `t`."""
        self.cuts += 1
        times = {"first": self._first, "second": self._second, "last": self._last}
        self._tell("cut", t=t, by=by, meter=self.meter, **times, replies=self._count, **about)
        self.calm()


class Touches:
    """Tips that go on a part and off it again, by turns of so many replies."""

    def __init__(self, tell: Callable[..., None]) -> None:
        self._tell = tell
        self._reply = 0

    def answers(self) -> bytes:
        """What they read this time."""
        self._reply = self._reply % (AIR + CONTACT) + 1
        return IN_AIR if self._reply <= AIR else NORMAL

    def left(self, t: int) -> None:
        """That reply has left at `t`."""
        if self._reply == AIR + SETTLED_BY:
            self._tell("settled", t=t)


class Meter:
    """One trivial meter; its identity and its setting up cost nothing, a reading the delay."""

    def __init__(
        self, loop: Loop, number: int, delay: float, violation: Violation, touches: Touches | None = None
    ) -> None:
        self._touches = touches
        self._loop = loop
        self._number = number
        self._delay = delay
        self._violation = violation
        self._listener = Listener(loop, self._meet)
        self.address = f"TCPIP::127.0.0.1::{self._listener.port}::SOCKET"

    def _meet(self, make: Make) -> None:
        buffer = b""

        def heard(data: bytes) -> None:
            nonlocal buffer
            *lines, buffer = (buffer + data).split(b"\n")
            for line in lines:
                if line != b"READ?":
                    answer = METER_ANSWERS.get(line)
                    if answer is not None:
                        wire.send(answer)
                elif self._delay > 0.0:
                    self._loop.at(time.monotonic() + self._delay, read)
                else:
                    read()

        def read() -> None:
            if self._touches is not None:
                answer = self._touches.answers()
                self._touches.left(wire.send(answer))
                return
            answer = self._violation.answers(self._number)
            t = wire.send(answer)
            if answer is VIOLATING:
                self._violation.left(t)

        wire = make(heard, lambda: None)


class Supply:
    """A supply that remembers what it was set to, and notes each moment its outputs are switched off."""

    def __init__(self, loop: Loop, violation: Violation) -> None:
        self._violation = violation
        self._settings: dict[tuple[bytes, bytes], bytes] = {}
        self._on: set[bytes] = set()
        self._wires: list[TcpWire] = []
        self._listener = Listener(loop, self._meet)
        self.address = f"TCPIP::127.0.0.1::{self._listener.port}::SOCKET"

    def _meet(self, make: Make) -> None:
        buffer = b""

        def heard(data: bytes) -> None:
            nonlocal buffer
            t = time.monotonic_ns()
            *lines, buffer = (buffer + data).split(b"\n")
            for line in lines:
                answer = self._answer(line.strip(), t)
                if answer:
                    wire.send(answer)

        wire = make(heard, lambda: self._wires.remove(wire))
        self._wires.append(wire)

    def hang_up(self) -> None:
        """Drop every connection; what comes back is taken."""
        for wire in list(self._wires):
            wire.close()

    def _answer(self, line: bytes, t: int) -> bytes:
        """Carry a line out; what it answers, empty for none."""
        outputs = _OUTP.fullmatch(line)
        if outputs:
            return self._switch(outputs[1].strip(b" ,"), outputs[2].split(b","), t)
        setting = _SET.fullmatch(line)
        if setting:
            self._settings[setting[1], setting[3]] = b"%+.8E" % float(setting[2])
            return b""
        asked = _ASK.fullmatch(line)
        if asked:
            value = self._settings.get((asked[2], asked[3]), b"+0.00000000E+00")
            if asked[1] and (asked[2] == b"CURR" or asked[3] not in self._on):
                value = b"+0.00000000E+00"
            return value + b"\n"
        if line.startswith(b"STAT:QUES"):
            return b"0\n"
        return SUPPLY_ANSWERS.get(line, b"")

    def _switch(self, what: bytes, outputs: list[bytes], t: int) -> bytes:
        if what == b"?":
            return b",".join(b"1" if output in self._on else b"0" for output in outputs) + b"\n"
        if what == b"ON":
            self._on.update(outputs)
        else:
            self._on.difference_update(outputs)
            self._violation.cut(t, "supply")
        return b""


def main() -> int:
    """Open everything, say where it is, answer until told to end."""
    parser = argparse.ArgumentParser(prog="python -m benchlog.simbench.bare", allow_abbrev=False)
    parser.add_argument("--meters", type=int, default=6, help="how many")
    parser.add_argument(
        "--delay", type=float, default=0.002, help="real seconds from READ? to its reply; 0: none"
    )
    parser.add_argument(
        "--every", type=int, default=0, help="violate at every so-manyeth reply; 0: on command alone"
    )
    parser.add_argument("--touches", action="store_true", help="the first meter is in a technician's hands")
    args = parser.parse_args()
    loop = Loop()
    witness = Witness(sys.stdout.fileno())
    violation = Violation(args.every, witness.tell)
    touches = Touches(witness.tell) if args.touches else None
    meters = [
        Meter(loop, number, args.delay, violation, touches if number == 0 else None)
        for number in range(args.meters)
    ]
    supply = Supply(loop, violation)

    def told(saw: str, **about: Any) -> None:
        if saw == "relay" and not about["closed"]:
            violation.cut(time.monotonic_ns(), "relay", silent_since=about["last"])

    relay = Relay(loop, "relay", lambda _: None, told)
    line = open_serial(loop, relay.heard)

    def violate(request: dict[str, Any], answer: Answer) -> None:
        violation.begin(int(request["meter"]))
        answer({})

    def hang_up(request: dict[str, Any], answer: Answer) -> None:
        supply.hang_up()
        violate(request, answer)

    def calm(_request: dict[str, Any], answer: Answer) -> None:
        violation.calm()
        answer({})

    def count(_request: dict[str, Any], answer: Answer) -> None:
        answer({"replies": violation.replies, "cuts": violation.cuts})

    control = Control(loop, {"violate": violate, "calm": calm, "count": count, "hang up": hang_up})
    first = {"meters": [meter.address for meter in meters], "supply": supply.address, "relay": line.address}
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda _number, _frame: loop.stop())
    print(json.dumps({**first, "control": control.address}), flush=True)
    loop.run()
    witness.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
