"""On which terms a benchmark runs: how much of everything, and where its files lie."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Terms:
    """What was asked for on the command line; `folder` is a row's own and goes away afterwards."""

    folder: Path
    quick: bool = False
    long: bool = False

    def many(self, full: int, quick: int) -> int:
        """How many of something."""
        return quick if self.quick else full
