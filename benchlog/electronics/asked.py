"""What the process that foretells is asked, and what it answers: one JSON object a line, either way.

Light, so that the end which asks loads none of scipy. Times are seconds counted back from the last reading or on
from it, values SI. A question that cannot be read is answered by nothing.
"""

import json
from dataclasses import dataclass
from enum import StrEnum

from benchlog.domain.plan_trace import Role

SETTLE, DISCHARGE, REFORM = "settle", "discharge", "reform"
READY = "ready"
"""The line it says once it has loaded."""


class Progress(StrEnum):
    """How a re-forming goes."""

    REACHED = "low enough"
    FALLING = "falling"
    PLATEAU = "not improving"
    RISING = "rising: stop"
    UNKNOWN = "too little seen"


@dataclass(frozen=True, slots=True)
class Question:
    """What is to be foretold of one trace.

    Attributes:
        key: whose question it is; the answer carries it.
        kind: `settle` by the rule of its role, `discharge` to 5 V and 1 V, `reform` to the current that is low enough.
        t, y: readings in time, s.
        low, high: the extremes of what each of them is the mean of; empty where each is one reading.
        digit: the last digit of a reading.
        role: of the trace, where it is one.
        since: from when on it counts as left alone, in the seconds of `t`.
        ohms: of the resistor that a drop is across.
        target: amps through it that count as low enough.
    """

    key: str
    kind: str
    t: tuple[float, ...]
    y: tuple[float, ...]
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()
    digit: float = 0.0
    role: Role | None = None
    since: float = 0.0
    ohms: float = 0.0
    target: float = 0.0

    def line(self) -> str:
        """As it is sent."""
        return json.dumps({name: getattr(self, name) for name in self.__slots__})

    @classmethod
    def of(cls, line: str) -> "Question":
        """From a line; ValueError where it is none."""
        body = json.loads(line)
        try:
            role = None if body["role"] is None else Role(body["role"])
            rows = {name: tuple(map(float, body[name])) for name in ("t", "y", "low", "high")}
            digit, since = float(body["digit"]), float(body["since"])
            ohms, target = float(body["ohms"]), float(body["target"])
            return cls(
                str(body["key"]),
                str(body["kind"]),
                **rows,
                digit=digit,
                role=role,
                since=since,
                ohms=ohms,
                target=target,
            )
        except (KeyError, TypeError) as error:
            raise ValueError(f"no question: {error}") from error


@dataclass(frozen=True, slots=True)
class Answer:
    """What was foretold; numbers only where it was, else `why` not, or that it stands still or has settled.

    Attributes:
        value: final value, with the lowest and highest it may be.
        after: seconds from the last reading until it is there, at the soonest and the latest.
        to_five, to_one: seconds until it is under 5 V and 1 V.
        why: the end of a sentence; empty where there is a forecast or nothing to foretell.
        steady: it stands still as far as it was seen.
        settled: it has settled by the rule of its role.
        seen: seconds that were looked at, or for which it has stood still.
        progress: of a re-forming, whose `value` is a current and whose `after` counts until that is the target.
        amps, target: of a re-forming, as last read and as counts as low enough.
    """

    key: str
    kind: str
    value: tuple[float, float, float] | None = None
    after: tuple[float, float, float] | None = None
    to_five: tuple[float, float, float] | None = None
    to_one: tuple[float, float, float] | None = None
    why: str = ""
    steady: bool = False
    settled: bool = False
    seen: float = 0.0
    progress: Progress | None = None
    amps: float = 0.0
    target: float = 0.0

    @property
    def foretells(self) -> bool:
        """Whether it carries a number."""
        return self.value is not None or self.to_one is not None

    def line(self) -> str:
        """As it is sent."""
        return json.dumps({name: getattr(self, name) for name in self.__slots__})

    @classmethod
    def of(cls, line: str) -> "Answer":
        """From a line; ValueError where it is none."""
        body = json.loads(line)
        try:
            for name in ("value", "after", "to_five", "to_one"):
                body[name] = None if body[name] is None else _three(body[name])
            body["progress"] = None if body["progress"] is None else Progress(body["progress"])
            return cls(**body)
        except (KeyError, TypeError) as error:
            raise ValueError(f"no answer: {error}") from error


def _three(numbers: list[float]) -> tuple[float, float, float]:
    best, low, high = map(float, numbers)
    return best, low, high
