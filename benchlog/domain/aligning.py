"""Two runs on one time base: by their starts, or stage by stage; and which trace of one belongs to which of the other.

Times are plan seconds since each run's own start. No clock and no I/O.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from benchlog.domain.plan_trace import TracePlan

Reached = Sequence[tuple[float, str]]
"""When each stage was reached, and its name, in time."""


class By(StrEnum):
    """What two runs are laid on each other by."""

    STAGE = "stage"
    START = "start"


@dataclass(frozen=True, slots=True)
class Piece:
    """From one time of the other run to another (not included), and how much later it stands in this one."""

    from_t: float
    to_t: float
    shift: float


def pieces(own: Reached, other: Reached, by: By) -> tuple[Piece, ...]:
    """The other run in pieces on the time of this one, in this one's order.

    By stage each stay begins where this run's stay of that name began, the second stay at a stage where the second
    began, and ends where this run went on: no piece lies over another. What came before the first stage lies before it.
    A stay that this run has not, or not yet, is left out. Without a stage in common nothing is left.
    """
    if by is By.START:
        return (Piece(-math.inf, math.inf, 0.0),)
    begins, mine = _stays(own), _numbered(own)
    found = []
    for i, (t, key) in enumerate(_numbered(other)):
        at = begins.get(key)
        if at is None:
            continue
        own_t, own_end = own[at][0], own[at + 1][0] if at + 1 < len(own) else math.inf
        end = other[i + 1][0] if i + 1 < len(other) else math.inf
        shift = own_t - t
        from_t = -math.inf if i == 0 and key == mine[0][1] else t
        found.append(Piece(from_t, min(end, own_end - shift), shift))
    return tuple(sorted(found, key=lambda piece: piece.to_t + piece.shift))


def _numbered(reached: Reached) -> list[tuple[float, tuple[str, int]]]:
    """Each stay with its name and which stay at that stage it is."""
    seen: dict[str, int] = {}
    found = []
    for t, name in reached:
        seen[name] = seen.get(name, -1) + 1
        found.append((t, (name, seen[name])))
    return found


def _stays(reached: Reached) -> dict[tuple[str, int], int]:
    return {key: i for i, (_, key) in enumerate(_numbered(reached))}


def matched(
    own: Iterable[TracePlan], other: Sequence[TracePlan], *, sides_swapped: bool = False
) -> dict[str, str]:
    """For each trace of this run the one of the other that is held against it, by name; without one it is missing.

    The same name in the same role; else, and first where the sides are swapped, the same role on the other side.
    """
    found: dict[str, str] = {}
    for trace in own:
        fits = [
            one
            for one in other
            if (one.role, one.sign, one.measures) == (trace.role, trace.sign, trace.measures)
        ]
        across = [one.name for one in fits if {one.side, trace.side} == {"left", "right"}]
        same = [one.name for one in fits if one.name == trace.name and one.side == trace.side]
        order = (*across, *(() if trace.side else same)) if sides_swapped else (*same, *across)
        if order:
            found[trace.name] = order[0]
    return found
