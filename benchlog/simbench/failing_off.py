"""An off-switch that fails when it is needed: it could be proven before, and from a certain moment on it cannot."""

from collections.abc import Callable, Iterable

from benchlog.simbench.hand import Hand
from benchlog.simbench.handheld import Handheld
from benchlog.simbench.linemeter import LineMeter
from benchlog.simbench.relay import Relay
from benchlog.simbench.session import Instrument
from benchlog.simbench.supply import Supply
from benchlog.simbench.truth import OffTruth


class FailingOff:
    """What the truth says of this bench's off-switches, put to them once its moment has come."""

    def __init__(
        self,
        truth: OffTruth | None,
        things: Iterable[Instrument | Handheld | LineMeter | Relay],
        hand: Hand,
        tell: Callable[..., None],
    ) -> None:
        self._truth = truth
        self._things = tuple(things)
        self._hand = hand
        self._tell = tell
        self._fails = False

    def play(self, truth: OffTruth | None) -> None:
        """Let every off-switch work again, until the moment of another truth."""
        self._truth = truth
        self._fails = False
        self._put("")

    def look(self, level: float) -> None:
        """Let them fail if the source has come to where they do."""
        if self._truth is None or self._fails or level < self._truth.level:
            return
        self._fails = True
        self._put(self._truth.how)
        self._tell("off fails", how=self._truth.how)

    def _put(self, how: str) -> None:
        self._hand.deaf = how == "deaf"
        for thing in self._things:
            if isinstance(thing, Relay):
                thing.weld(how == "welded")
            elif isinstance(thing, Instrument) and isinstance(thing.device, Supply):
                thing.device.off_fails = how
                thing.device.vanish = thing.close
