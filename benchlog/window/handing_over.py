"""What is asked before a unit goes home: what is not put back, and what its parts still want. No Qt."""

from pathlib import Path

from benchlog.domain.matters import Matter
from benchlog.domain.unit import Unit, Visit
from benchlog.store import query_unit
from benchlog.window.parts_book import Book
from benchlog.window.parts_compared import Which, compare, subjects_of, summed_up

_ASKED = (Matter.OUT, Matter.DIFFERS, Matter.UNPROVEN, Matter.NO_LATER)
"""What is worth asking about; a part nobody ever measured is not."""


def reasons_to_wait(folder: Path, unit: Unit, visit: Visit) -> tuple[str, ...]:
    """A sentence for each reason to look once more; empty where nothing speaks against it."""
    said = []
    waiting = query_unit.still_open(folder, unit.id)
    if waiting:
        things = "1 thing" if len(waiting) == 1 else f"{len(waiting)} things"
        listed = "\n".join(f"•  {item.text}" for item in waiting)
        said.append(f"Open list:\n{listed}\n{things} not put back yet. Look at each before it goes.")
    book = Book.read(folder, unit, visit, None)
    subjects = subjects_of((row.at, row.line, row.other) for row in book.rows)
    counts = compare(folder, subjects, visit, Which.THIS_VISIT).counts
    asked = {matter: counts[matter] for matter in _ASKED if counts.get(matter)}
    if asked:
        said.append(f"Of its parts: {summed_up(asked)}")
    return tuple(said)
