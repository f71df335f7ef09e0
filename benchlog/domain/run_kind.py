"""What a run is for: it says which cold checks are usual, how quiet it is, and whether anything feeds the unit."""

from enum import StrEnum


class RunKind(StrEnum):
    """The kinds of run that a plan can be for."""

    POWER_UP = "power-up"
    BOARD = "board"
    ADJUST = "adjust"
    WARM_UP = "warm-up"
    SOAK = "soak"
    DISCHARGE = "discharge"
    REFORM = "reform"

    @property
    def goes_on(self) -> bool:
        """Whether it goes on for so long that somebody may want to leave."""
        return self in (RunKind.WARM_UP, RunKind.SOAK, RunKind.REFORM)

    @property
    def feeds(self) -> bool:
        """Whether anything is switched on in it: a discharge follows what is left, unplugged."""
        return self is not RunKind.DISCHARGE

    @property
    def patience(self) -> float:
        """Seconds without a reading that a critical meter may take at least: a soak lasts longer than any adapter."""
        return 30.0 if self is RunKind.SOAK else 0.0

    @property
    def quiet(self) -> bool:
        """Whether it goes on for hours, so that only what wants a look is heard."""
        return self in (RunKind.SOAK, RunKind.REFORM)
