"""The order in which parts are taken: as they are listed, as a person counts, or each with its other side."""

from collections.abc import Callable, Iterable
from enum import StrEnum
from typing import TypeVar

from benchlog.domain.designator import fold

T = TypeVar("T")


class Order(StrEnum):
    """In which order a round goes; the words are those on screen.

    `NATURAL` is board after board with R2 before R10, `LISTED` as the list or sheet has them, `PAIRS` each part
    followed by its other side, so that both are held against each other while they are in mind.
    """

    NATURAL = "by number"
    LISTED = "as listed"
    PAIRS = "in pairs"


def in_pairs(
    items: Iterable[T], designator: Callable[[T], str], other_side: Callable[[T], str | None]
) -> list[T]:
    """The items in their order, each followed at once by its other side where that is among them.

    `designator` names an item, `other_side` the same on the other side. Where two have one designator, both keep
    their places, and the first is the other side.
    """
    given = list(items)
    first: dict[str, int] = {}
    for at, item in enumerate(given):
        first.setdefault(fold(designator(item)), at)
    order: dict[int, None] = {}
    for at, item in enumerate(given):
        other = other_side(item)
        order[at] = None
        if other and fold(other) in first:
            order[first[fold(other)]] = None
    return [given[at] for at in order]
