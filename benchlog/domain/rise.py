"""A rise within a window: by how much a trace has come up from where it stood there.

It asks less than a runaway: not whether the rise bends, only how far it has come while nobody turned anything.
"""

from collections.abc import Sequence

LEAST = 4
"""Middles in a window below which nothing is said."""


def _middle(a: float, b: float, c: float) -> float:
    """The median of three; much quicker than that of any number, and this one runs at every reading."""
    return max(min(a, b), min(max(a, b), c))


def risen(values: Sequence[float], before: int = 0) -> tuple[float, float] | None:
    """From what and to what readings have risen, oldest first; None where they are too few.

    It is reckoned from the lowest, but from no less than was read before that: a joint that opens and closes lets
    a lamp dip and come back, and what comes back has not risen.

    Args:
        values: the readings, any unit.
        before: how many of the first came before the window, and are not looked at for the lowest.
    """
    # Of three readings in a row: one odd reading is no rise.
    middles = list(map(_middle, values, values[1:], values[2:]))
    window = middles[before:]
    if len(window) < LEAST:
        return None
    lowest = before + window.index(min(window))
    return max(middles[: lowest + 1]), middles[-1]
