"""A meter that misbehaves as it is told, on any wire, and witnesses what it was asked.

Its n-th reading is the number n: a reading that is stored under another question than its own shows.
"""

import itertools
import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

IDENTITY = b"FAR END,FAULTY,0,1\n"
NO_ERROR = b'+0,"No error"\n'

DEADLINE = 0.25
"""What its profile allows for an answer, in s."""
QUIET = 0.02

HEALTHY_FIRST = 2
"""So many readings are told as they should be before the first fault."""


@dataclass(frozen=True, slots=True)
class Step:
    """One thing it does: after so many seconds, these bytes, then perhaps the end of the wire."""

    after: float = 0.0
    data: bytes = b""
    act: str = ""


Fault = Callable[[bytes], Iterable[Step]]
"""From the answer that is due to what is done in its place."""


def _drip(seconds: float) -> Fault:
    return lambda reply: [Step(seconds, reply[n : n + 1]) for n in range(len(reply))]


# Twice means in one go: a second answer that comes when the next question is out already cannot be told
# from that question's own, by anybody, on a wire whose answers carry no number.
FAULTS: dict[str, Fault] = {
    "late": lambda reply: [Step(1.5 * DEADLINE, reply)],
    "half": lambda reply: [Step(0, reply[:4])],
    "half, rest late": lambda reply: [Step(0, reply[:4]), Step(1.5 * DEADLINE, reply[4:])],
    "garbage": lambda _: [Step(0, b"&!?=,,;\n")],
    "noise": lambda _: [Step(0, bytes(range(128, 256)) + b"\x00\n")],
    "noise before": lambda reply: [Step(0, b"\xff\xfe\x80" + reply)],
    "echo": lambda reply: [Step(0, b"READ?\n"), Step(0, reply)],
    "double": lambda reply: [Step(0, reply + reply)],
    "silence": lambda _: [],
    "close": lambda _: [Step(0, b"", "close")],
    "reset": lambda _: [Step(0, b"", "reset")],
    "half, close": lambda reply: [Step(0, reply[:4], "close")],
    "answer, close": lambda reply: [Step(0, reply, "close")],
    "drip": _drip(DEADLINE / 50),
    "slow drip": _drip(DEADLINE / 5),
    "huge line": lambda _: [Step(0, b"1" * 20_000 + b"\n")],
    "line without end": lambda _: [Step(0, b"1" * 20_000)],
    "unplug, replug": lambda _: [Step(0, b"", "unplug")],
}


@dataclass
class Faulty:
    """The instrument's mind: what it does at each question, `plan` being the faults to come by name.

    An empty name in the plan is a question answered as it should be.
    `asked` is how many readings it was asked for; `dealt` the faults done, each with the question it met.
    """

    plan: list[str]
    asked: int = 0
    identified: int = 0
    dealt: list[tuple[str, str]] = field(default_factory=list)
    ended: threading.Event = field(default_factory=threading.Event)

    def steps(self, line: str) -> Iterator[Step]:
        """What it does at a line."""
        reply = self._reply(line)
        if not reply:
            return iter(())
        if self.asked > HEALTHY_FIRST and self.plan:
            name = self.plan.pop(0)
            if not name:
                return iter((Step(0, reply),))
            self.dealt.append((name, line))
            return iter(FAULTS[name](reply))
        return iter((Step(0, reply),))

    def _reply(self, line: str) -> bytes:
        if line == "*IDN?":
            self.identified += 1
            return IDENTITY
        if line == "SYST:ERR?":
            return NO_ERROR
        if line == "READ?":
            self.asked += 1
            return f"{self.asked:+.8E}\n".encode()
        return b""

    def play(self, line: str, send: Callable[[bytes], None]) -> str:
        """Do it; gives how the wire ends, empty where it does not."""
        for step in self.steps(line):
            if step.after and self.ended.wait(step.after):
                return "close"
            if step.data:
                send(step.data)
            if step.act:
                return step.act
        return ""


def plans(kind: str) -> list[tuple[str, ...]]:
    """Each fault alone on that kind of wire, and each followed by each, the second at whatever is asked next."""
    # pyserial hands a serial server's bytes on one by one, so there nothing comes in one go.
    names = [name for name in FAULTS if not (kind == "rfc2217" and name == "double")]
    return [*((name,) for name in names), *itertools.product(names, names)]
