"""What a line typed on the Parts page means: a part to go to, a reading of one, or parts to be added. No Qt.

`R107` goes there, `R107 4.68` or `R107 = 4.68` goes there with a reading, `R33` against R33 is a reading as
well and then asked, `OL` is a reading of the part at hand, and what names no part yet makes one,
or several: `R301-R348 4k7 5%`.
"""

from dataclasses import dataclass, replace

from benchlog.domain.asking import wants_a_look
from benchlog.domain.expectation import Origin
from benchlog.domain.partline import TypedPart, read_parts, split_line
from benchlog.domain.typed import TypedReading
from benchlog.errors import BadInput
from benchlog.window.parts_book import Book, Row
from benchlog.window.parts_entry import understand


@dataclass(frozen=True, slots=True)
class Said:
    """What a line asks for: `at` is the row to go to, `reading` one of it, `parts` new ones."""

    at: int | None = None
    reading: TypedReading | None = None
    parts: tuple[TypedPart, ...] = ()


def interpret(text: str, book: Book, at: int) -> Said:
    """What a line means with row `at` at hand; `BadInput` with the choices where it must be asked."""
    clean = " ".join(text.split())
    here = book.rows[at] if at < len(book.rows) else None
    own = _as_reading(clean, here)
    named = book.named(clean, at)
    if named is not None:
        if own is not None and here is not None and not wants_a_look(own.value, here.expectation):
            raise BadInput(
                f'"{clean}"',
                f"is a part and also a reading of {here.designator}",
                f"write {clean} = and its reading, or the reading in digits",
            )
        return Said(at=named)
    if own is not None:
        return Said(at=at, reading=own)
    pieces = split_line(clean)
    known = book.named(pieces.designator, at)
    if known is None:
        return Said(parts=_new(clean))
    typed = pieces.reading if pieces.reading is not None else pieces.rest
    row = book.rows[known]
    found = understand(typed, row.expectation, row.line.part.measured_with.unit)
    if found.reading is None or (pieces.reading is not None and pieces.rest):
        raise BadInput(
            pieces.designator,
            "is on the list already" if found.reading is not None else found.problem.rstrip("."),
            f"write {pieces.designator} = and what it read",
        )
    return Said(at=known, reading=found.reading)


def _new(text: str) -> tuple[TypedPart, ...]:
    """Parts that are typed at the bench: a value is read off the part itself, limits off a sheet."""
    return tuple(
        replace(part, entry=replace(part.entry, from_=Origin.MARKING)) if part.entry.marking else part
        for part in read_parts(text)
    )


def _as_reading(text: str, row: Row | None) -> TypedReading | None:
    """The line as a reading of the part at hand; None where it is none."""
    if row is None:
        return None
    return understand(text, row.expectation, row.line.part.measured_with.unit).reading
