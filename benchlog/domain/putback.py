"""What must be put back before a unit goes home: its kinds, how each is said, and what it means under power."""

from collections.abc import Iterable
from enum import StrEnum


class OpenKind(StrEnum):
    """What can stand on the open list; the code word is kept."""

    LIFTED_LEG = "lifted leg"
    LINK = "link"
    SAFETY_RESISTOR = "safety resistor"
    BORROWED_FUSE = "borrowed fuse"
    REMOVED = "removed part"


OF_A_PART = frozenset({OpenKind.LIFTED_LEG, OpenKind.REMOVED})
"""Kinds that say all by the part's name, which is not measured in circuit meanwhile; the others want words."""

_UNDER_POWER = {
    OpenKind.LIFTED_LEG: "what it belongs to stands open under power",
    OpenKind.LINK: "what it bridges does nothing",
    OpenKind.SAFETY_RESISTOR: "it takes its share of the rail",
    OpenKind.BORROWED_FUSE: "see that it is no larger than the unit's own",
    OpenKind.REMOVED: "its place stands open under power",
}
"""What each means for whoever switches on (common practice, no source)."""


def kind_of(word: str) -> OpenKind | None:
    """The kind a word stands for; None for one that is none of ours."""
    return next((kind for kind in OpenKind if kind.value == word), None)


def line_of(kind: OpenKind, designator: str = "", text: str = "") -> str:
    """An entry as it is kept and shown: `R106: one leg lifted`, `link across F1`."""
    said = " ".join(text.split())
    if kind is OpenKind.LIFTED_LEG:
        return f"{designator}: one leg lifted{f', {said}' if said else ''}"
    if kind is OpenKind.REMOVED:
        return f"{designator}: taken out{f', {said}' if said else ''}"
    where = said or (f"at {designator}" if designator else "")
    return f"{kind.value} {where}".strip()


def count_open(count: int) -> str:
    """How many are open, as the step column says it; empty where none is."""
    return f"{count} to put back" if count else ""


def before_power(entries: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """A sentence for each open entry (kind, line) before power is put on: what it is, and what that means."""
    said = []
    for word, text in entries:
        kind = kind_of(word)
        means = f": {_UNDER_POWER[kind]}" if kind is not None else ""
        said.append(f"Still open, {text}{means}.")
    return tuple(said)
