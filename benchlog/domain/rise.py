"""A rise within a window: by how much a trace has come up from the lowest it read there.

It asks less than a runaway: not whether the rise bends, only how far it has come while nobody turned anything.
"""

from collections.abc import Sequence
from statistics import median

STANDS_FOR = 3
"""Readings in a row whose median is looked at: one odd reading is no rise."""


def risen(values: Sequence[float]) -> tuple[float, float] | None:
    """From what and to what the readings of a window have risen, oldest first; None where they are too few."""
    middles = [median(values[at : at + STANDS_FOR]) for at in range(len(values) - STANDS_FOR + 1)]
    return (min(middles), middles[-1]) if len(middles) > STANDS_FOR else None
