"""How long the source rests at a stage: as its plan says, or short below the stage a trip had ended."""

from benchlog.domain.reentry import Reentry
from benchlog.domain.trace import SECOND


class Dwell:
    """The dwell of the stage where a run stands; times are plan nanoseconds, dwells plan seconds."""

    def __init__(self) -> None:
        self.back: Reentry | None = None
        """The way back up after a trip; None where every dwell is the plan's."""
        self._since: int | None = None
        self._so_far = 0

    def begin(self) -> None:
        """Another stage is being set."""
        self._since = None
        self._so_far = 0

    def count(self, t: int, *, resting: bool) -> None:
        """It counts only while the source rests where it should."""
        if resting and self._since is not None:
            self._so_far += t - self._since
        self._since = t if resting else None

    def of(self, index: int, planned: float) -> float:
        """Seconds the source must rest at that stage."""
        return planned if self.back is None else self.back.dwell(index, planned)

    def left(self, index: int, planned: float) -> float:
        """Seconds that remain of it at the present stage."""
        return max(self.of(index, planned) - self._so_far / SECOND, 0.0)
