"""The probes of the parts meter: on a part, or in the air."""

import math
import random
from collections.abc import Callable, Mapping, Sequence

from benchlog.simbench.truth import PartTruth

LEADS = 0.12
"""Ohms of two leads and their contacts."""
AIR_FARADS = 6e-12
TEST_AMPS = 1e-3
COMPLIANCE = 2.5
"""Volts at which a meter's diode test gives up."""
HIGHEST_OHMS = 100e6
CHATTER = 0.2
"""Plan seconds in which tips bite through the flux: nothing sensible is read."""

Break = tuple[float, float]
"""Plan seconds since the touch from which and until which the tips have lost it."""


class Probes:
    """Where the tips are, and what a meter at their other end sees of it; times are plan seconds."""

    def __init__(
        self, parts: Mapping[str, PartTruth], now: Callable[[], float], chance: random.Random
    ) -> None:
        self._parts = parts
        self._now = now
        self._chance = chance
        self._on: PartTruth | None = None
        self._reversed = False
        self._since = 0.0
        self._breaks: Sequence[Break] = ()

    @property
    def designator(self) -> str:
        """The part they are on; empty in the air."""
        return self._on.designator if self._on is not None else ""

    @property
    def turned_round(self) -> bool:
        """Whether the leads are the other way round."""
        return self._on is not None and self._reversed

    def knows(self, designator: str) -> bool:
        """Whether there is such a part; case and blanks do not count."""
        return self._find(designator) is not None

    def lift(self) -> None:
        """Take them off."""
        self._on = None

    def touch(self, designator: str, side: str = "", breaks: Sequence[Break] = ()) -> None:
        """Put them on a part; side `reverse` swaps the leads, and in `breaks` they lose it for a moment."""
        self._on = self._find(designator)
        self._reversed = side == "reverse"
        self._since = self._now()
        self._breaks = breaks

    def look(self, function: str) -> float:
        """What the meter would settle to, seen now: infinity beyond range, nan where it means nothing."""
        part = self._on
        if part is None:
            return _AIR.get(function, 0.0)
        held = self._now() - self._since
        if any(begins <= held < ends for begins, ends in self._breaks):
            return _AIR.get(function, 0.0)
        if held < CHATTER:
            return self._chance.choice((_AIR.get(function, 0.0), math.inf))
        true = _SEEN.get(function, _nothing)(part, self._reversed)
        if math.isinf(true) or math.isnan(true):
            return true
        return true * (1.0 - part.creep * math.exp(-(held - CHATTER) / part.settle))

    def esr(self) -> float:
        """Ohms in series with the capacitance under the tips."""
        return self._on.esr if self._on is not None else 0.0

    def _find(self, designator: str) -> PartTruth | None:
        wanted = designator.replace(" ", "").casefold()
        return next(
            (part for name, part in self._parts.items() if name.replace(" ", "").casefold() == wanted), None
        )


_AIR = {
    "RES": math.inf,
    "FRES": math.inf,
    "DIOD": math.inf,
    "CAP": AIR_FARADS,
    "TEMP": math.nan,
}
"""What open leads read; anything else reads nothing."""


def _ohms(part: PartTruth, leads: float) -> float:
    """Resistance between the tips; a capacitor or a junction reads open."""
    if part.ohms < 0.0 or part.ohms > HIGHEST_OHMS:
        return math.inf
    return part.ohms + leads


def _diode(part: PartTruth, swapped: bool) -> float:
    """Volts at the test current, through the junction or through the resistance."""
    if part.forward >= 0.0 and (not swapped or part.forward < 0.05):
        return part.forward
    if part.forward < 0.0 <= part.ohms and part.ohms * TEST_AMPS < COMPLIANCE:
        return part.ohms * TEST_AMPS
    return math.inf


def _farads(part: PartTruth, _swapped: bool) -> float:
    """Capacitance; a resistance across the tips defeats the meter."""
    if part.farads >= 0.0:
        return part.farads
    return math.inf if part.ohms >= 0.0 or part.forward >= 0.0 else AIR_FARADS


def _nothing(_part: PartTruth, _swapped: bool) -> float:
    return 0.0


_SEEN: Mapping[str, Callable[[PartTruth, bool], float]] = {
    "RES": lambda part, _: _ohms(part, LEADS),
    "FRES": lambda part, _: _ohms(part, 0.0),
    "DIOD": _diode,
    "CAP": _farads,
    "TEMP": lambda _part, _swapped: math.nan,
}
