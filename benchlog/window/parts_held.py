"""Readings of parts that are not stored: asked of a meter, held for a second look, and the round they go into."""

from dataclasses import dataclass

from benchlog.domain.unit import PartReading, Round, Visit
from benchlog.window.parts_book import Row


@dataclass(slots=True)
class Pass:
    """The round readings go into; the library's thread begins one where there is none."""

    round: Round | None = None


@dataclass(frozen=True, slots=True)
class Held:
    """A reading that is shown and not stored: so far off that it is confirmed first (rule 33), or not kept yet."""

    row: Row
    reading: PartReading
    visit: Visit
    into: Pass
    assumed: str = ""


@dataclass(slots=True)
class Asked:
    """A reading that was asked of a meter; `unwanted` once the person took it back before it came.

    `confirms` is the held reading that it is to bear out, where it was asked for that.
    """

    row: Row
    job: str
    visit: Visit
    reverse: bool
    confirms: Held | None = None
    unwanted: bool = False
