"""What the far end saw: the simulated bench's own account, read while it grows or after its end."""

import json
from pathlib import Path
from typing import Any

from helpers.until import until

Sight = dict[str, Any]
"""One thing that was seen: `saw`, `t` in monotonic nanoseconds, and what belongs to it."""


class Witness:
    """The lines of a witness file."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._read = 0
        self._sights: list[Sight] = []

    @property
    def sights(self) -> list[Sight]:
        """Everything seen so far, in the order it was told."""
        with self._path.open("rb") as file:
            file.seek(self._read)
            whole, newline, _ = file.read().rpartition(b"\n")
        self._read += len(whole) + len(newline)
        self._sights += [json.loads(line) for line in whole.splitlines()]
        return self._sights

    def saw(self, what: str, *, after: int = 0, **about: Any) -> list[Sight]:
        """What was seen of one kind with these properties, later than `after`."""
        return [
            sight
            for sight in self.sights
            if sight["saw"] == what and sight["t"] > after and about.items() <= sight.items()
        ]

    def sees(self, what: str, *, after: int = 0, hang: float = 60.0, **about: Any) -> Sight:
        """The first of one kind, waited for."""
        return until(lambda: self.saw(what, after=after, **about), f"{what} {about}", hang)[0]

    def replies_of(self, job: str, question: str = "READ?") -> list[Sight]:
        """What an instrument on one connection answered to one question, in order.

        What is asked first is answered first, so questions and answers pair up; an answer that an
        instrument fell silent over leaves its question, and every later one, without a pair.
        """
        asked: list[str] = []
        answered: list[Sight] = []
        for sight in self.sights:
            if sight.get("job") != job:
                continue
            if sight["saw"] == "command" and sight["text"].endswith("?"):
                asked.append(sight["text"])
            elif sight["saw"] == "reply" and asked.pop(0) == question:
                answered.append(sight)
        return answered

    def lines_of(self, job: str) -> list[Sight]:
        """What a free-running meter wrote by itself."""
        return self.saw("reply", job=job)

    def first_command(self, start: str, *, after: int) -> Sight:
        """The first command that begins so."""
        return next(sight for sight in self.saw("command", after=after) if sight["text"].startswith(start))

    def goes_off(self, *, after: int, hang: float = 60.0) -> Sight:
        """The unit is seen to go off, waited for."""

        def found() -> list[Sight]:
            return self.saw("mains", on=False, after=after) or self.saw("power", on=False, after=after)

        return until(found, "off at the far end", hang)[0]

    def is_off(self) -> bool:
        """Whether the unit was off when last seen."""
        moves = [sight for sight in self.sights if sight["saw"] in ("mains", "power")]
        return not moves or not moves[-1]["on"]
