"""Taking turns: what is compared runs in the same minutes, and none of it always first."""

from collections.abc import Callable
from typing import TypeVar

Found = TypeVar("Found")


def in_turns(rounds: int, *turns: Callable[[int], Found]) -> list[list[Found]]:
    """Play every turn once a round, in the opposite order each other round; what each found, round by round.

    A turn gets the number of its round.
    """
    found: list[list[Found]] = [[] for _ in turns]
    for n in range(rounds):
        pairs = list(zip(found, turns, strict=True))
        for kept, turn in pairs if n % 2 else reversed(pairs):
            kept.append(turn(n))
    return found
