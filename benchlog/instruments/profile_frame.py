"""How a display on a wire is laid out: the grammar of a profile's `[reply.frame]` table.

Such a meter sends its display itself, segment by segment, in frames of a fixed length. Each byte has
two halves of four bits: one counts the frame's bytes from 1, the other carries four cells. Which cell
is which segment, and which segments make which character, is the profile's to say.
"""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from benchlog.textfile import key

SEGMENTS = "abcdefg"
"""From the top clockwise, the middle last."""

_CELL = re.compile(r"([1-9][0-9]?)\.([0-3])")
_Found = Iterator[tuple[str, str, str]]


def cell_at(cell: str) -> tuple[int, int]:
    """The byte of a cell, from 0, and its bit; (-1, 0) where it is none."""
    found = _CELL.fullmatch(cell)
    return (int(found[1]) - 1, int(found[2])) if found else (-1, 0)


@dataclass(frozen=True, slots=True)
class Digit:
    """One seven-segment digit."""

    segments: tuple[str, ...] = key("the cells of its segments a to g, as in 3.0 for the third byte's lowest")
    point: str = key("the cell of the decimal point in front of it", default="")

    def faults(self) -> _Found:
        """Seven segments, no more."""
        if len(self.segments) != len(SEGMENTS):
            yield "segments", f"names {len(self.segments)} cells", "name seven, for a b c d e f g"


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame: where its digits and marks stand, and what their segments mean."""

    length: int = key("bytes of a frame", low=2, high=15)
    index: str = key(
        "which half of each byte counts the bytes, from 1", default="high", choices=("high", "low")
    )
    digit: tuple[Digit, ...] = key("its digits, the leftmost first")
    minus: str = key("the cell of the minus sign", default="")
    shapes: dict[str, tuple[str, ...]] = key(
        "characters, and the segments lit for each, one or more ways of writing it"
    )
    marks: dict[str, str] = key(
        "cells of units and annunciators, each with its word, in the order in which units name them"
    )
    idle: tuple[str, ...] = key("cells that may be lit and mean nothing", default=())

    def faults(self) -> _Found:
        """Each cell exists and means one thing; each shape is one character."""
        if not self.digit:
            yield "digit", "is missing", "add a table [[reply.frame.digit]] for each digit"
        for where, cell in self._cells():
            byte, _ = cell_at(cell)
            if not 0 <= byte < self.length:
                fix = f"write byte and bit, from 1.0 to {self.length}.3"
                yield where, f'"{cell}" is no cell of this frame', fix
        for cell, times in Counter(cell for _, cell in self._cells()).items():
            if times > 1:
                yield "", f'uses the cell "{cell}" {times} times', "give each cell one meaning"
        for cell, word in self.marks.items():
            if not word or not word.isascii() or any(c.isspace() for c in word):
                yield f'marks."{cell}"', f'"{word}" is not one ASCII word', 'as in "12.0" = "V"'
        yield from self._shape_faults()

    def _shape_faults(self) -> _Found:
        lit: dict[frozenset[str], str] = {}
        for shape, ways in self.shapes.items():
            where = f'shapes."{shape}"'
            if len(shape) != 1 or not (shape.isascii() and shape.isprintable()) or shape in ".+<":
                yield where, "is not one character of a display", 'as in "7" = ["abc"]'
            for way in ways:
                if not set(way) <= set(SEGMENTS):
                    yield where, f'"{way}" is not made of segments', "segments are a b c d e f g"
                elif lit.setdefault(frozenset(way), shape) != shape:
                    other = lit[frozenset(way)]
                    yield where, f'looks like "{other}"', "give each character segments of its own"
        missing = [digit for digit in "0123456789" if not self.shapes.get(digit)]
        if missing:
            yield "shapes", f"does not say how {', '.join(missing)} is written", "list all ten digits"

    def _cells(self) -> Iterator[tuple[str, str]]:
        """Every cell with the key that names it."""
        for n, digit in enumerate(self.digit, 1):
            yield from ((f"digit[{n}].segments", cell) for cell in digit.segments)
            if digit.point:
                yield f"digit[{n}].point", digit.point
        if self.minus:
            yield "minus", self.minus
        yield from (("marks", cell) for cell in self.marks)
        yield from (("idle", cell) for cell in self.idle)
