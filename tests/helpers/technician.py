"""The simulated technician takes parts hands-free: lands, hears what is told, and lands again where he slipped."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from helpers.live_bench import HANG, LiveBench

WAIT = 0.7
"""Real seconds after which tips that got nothing are lifted and put on again, as a person would."""


@dataclass(slots=True)
class Landing:
    """What came of one part: where the tips landed, one after the other, and whether the first was a slip."""

    meant: str
    on: list[str] = field(default_factory=list)
    slipped: bool = False


def take_part(
    far: LiveBench,
    part: str,
    *,
    taken: Callable[[], bool],
    held: Callable[[], bool],
    reads_air: Callable[[], bool],
    key: Callable[[], None],
    side: str = "",
    slips: float = 0.0,
    bounces: float = 0.0,
) -> Landing:
    """Put the tips on a part until it is taken; a slip is mended as soon as something says so.

    `reads_air` says whether what the tips are on reads as the air does; then a key is pressed where it is the part.
    """
    landing = Landing(part)
    until = time.monotonic() + HANG
    while not taken():
        assert time.monotonic() < until, f"{part} was never taken: {landing}"
        was_held = held()
        slip = slips if not landing.on else 0.0
        there = far.control("hands", part=part, side=side, slips=slip, bounces=bounces)
        assert there["ok"], there
        landing.on.append(there["on"])
        landing.slipped = landing.slipped or there["slipped"]
        if reads_air():
            if there["on"] == part:
                key()
                _wait(lambda: taken() or held())
                if held():
                    key()
                _wait(taken)
            continue
        _wait(taken if was_held else lambda: taken() or held())
    return landing


def _wait(there: Callable[[], bool]) -> None:
    until = time.monotonic() + WAIT
    while not there() and time.monotonic() < until:
        time.sleep(0.002)
