"""A technician's two hands at the probes: they go from part to part, bite, bounce, and now and then slip.

What they do comes from their own dice alone, so that it is the same again with the same seed.
"""

import random
from collections.abc import Callable, Sequence
from typing import Any

from benchlog.simbench.loop import Loop, Timer
from benchlog.simbench.multimeter import FUNCTIONS, Multimeter
from benchlog.simbench.probes import CHATTER, Break, Probes

LIFTS = (0.4, 0.9)
"""Plan seconds between two parts, the tips in the air."""
MOST_BREAKS = 3
BREAK = (0.03, 0.12)
"""Plan seconds for which tips that bounce lose a part."""
STEADY = (0.05, 0.3)
"""Plan seconds between two such moments."""

There = Callable[[dict[str, Any]], None]


class Technician:
    """The hands; `parts` are the designators in the order of the board, `meter` the one the probes belong to."""

    def __init__(
        self,
        loop: Loop,
        probes: Probes,
        parts: Sequence[str],
        *,
        speed: float,
        chance: random.Random,
        tell: Callable[..., None],
        meter: Multimeter | None,
    ) -> None:
        self._loop = loop
        self._probes = probes
        self._parts = parts
        self._speed = speed
        self._chance = chance
        self._tell = tell
        self._meter = meter
        self._on_the_way: Timer | None = None

    def go(
        self, part: str, side: str = "", *, slips: float = 0.0, bounces: float = 0.0, there: There
    ) -> None:
        """Lift, and land on a part a moment later: with chance `slips` on its neighbour, with `bounces` badly.

        `there` is told once the tips have bitten: `on` what, whether they `slipped`, how often they will `bounce`.
        Without a part they stay in the air.
        """
        if part and not self._probes.knows(part):
            raise ValueError(f"there is no {part} on this unit")
        if self._on_the_way is not None:
            self._on_the_way.cancel()
        self._probes.lift()
        self._tell("hands", part="")
        if not part:
            there({"on": ""})
            return
        lands = self._neighbour(part) if self._chance.random() < slips else part
        breaks = self._breaks() if self._chance.random() < bounces else ()

        def land() -> None:
            self._on_the_way = None
            self._probes.touch(lands, side, breaks)
            self._tell("hands", part=lands, meant=part, breaks=len(breaks))
            told = {"on": lands, "slipped": lands != part, "bounces": len(breaks)}
            self._loop.after(CHATTER / self._speed, lambda: there(told))

        self._on_the_way = self._loop.after(self._chance.uniform(*LIFTS) / self._speed, land)

    def leave_on(self, function: str) -> None:
        """Turn the meter's dial by hand, and leave it there: whoever asks it for readings is not told."""
        if self._meter is None:
            raise ValueError("there is no meter with a dial at these probes")
        if function not in FUNCTIONS:
            raise ValueError(f"its dial has: {', '.join(FUNCTIONS)}")
        self._meter.function = function
        self._tell("dial left", function=function)

    def _neighbour(self, part: str) -> str:
        """The part before or behind it."""
        at = next(at for at, name in enumerate(self._parts) if _same(name, part))
        return self._parts[(at + self._chance.choice((-1, 1))) % len(self._parts)]

    def _breaks(self) -> tuple[Break, ...]:
        at, found = CHATTER, []
        for _ in range(self._chance.randint(1, MOST_BREAKS)):
            begins = at + self._chance.uniform(*STEADY)
            at = begins + self._chance.uniform(*BREAK)
            found.append((begins, at))
        return tuple(found)


def _same(one: str, other: str) -> bool:
    return one.replace(" ", "").casefold() == other.replace(" ", "").casefold()
