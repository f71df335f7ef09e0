"""What a line typed on the Parts page means: a part to go to, a reading of one, or parts to be added. No Qt.

`R107` goes there, `R107 4.68` or `R107 = 4.68` goes there with a reading, `R33` against R33 is a reading as
well and then asked, `OL` is a reading of the part at hand, `C5 esr` has the ESR of a listed part measured too, and
what names no part yet makes one, or several: `R301-R348 4k7 5%`.
"""

from dataclasses import dataclass, replace

from benchlog.domain.asking import wants_a_look
from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.lcr import LcrState, said_of_lcr
from benchlog.domain.measures import LEAKAGE
from benchlog.domain.partline import Split, TypedPart, read_parts, split_line
from benchlog.domain.severaltyped import BETWEEN, TypedValue, read_several
from benchlog.domain.typed import TypedReading
from benchlog.errors import BadInput
from benchlog.window.parts_book import Book, Row
from benchlog.window.parts_entry import Meant, understand, understand_several


@dataclass(frozen=True, slots=True)
class Said:
    """What a line asks for: `at` is the row to go to, `reading` one of it, `parts` new ones.

    `measure` is one more to be measured at the part of row `at`, and `should_read` what that should read; the
    reading is then of it.
    """

    at: int | None = None
    reading: TypedReading | None = None
    parts: tuple[TypedPart, ...] = ()
    measure: str = ""
    should_read: str = ""
    values: tuple[TypedValue, ...] = ()
    """Where several values came in one go, all of them; `reading` is the first."""
    lcr: LcrState | None = None
    """How the LCR meter stands from here on, where the line says so."""


def interpret(text: str, book: Book, at: int, lcr: LcrState | None = None) -> Said:
    """What a line means with row `at` at hand; `BadInput` with the choices where it must be asked.

    `lcr` is how the LCR meter stands; what a line says of it behind a reading, or alone, holds from here on.
    """
    before = lcr or LcrState()
    head, equals, read = text.partition("=")
    state, rest = said_of_lcr(read if equals else text, before)
    if state == before:
        return _interpret(text, book, at)
    if not equals and not rest and state != before:
        return Said(lcr=state)
    if not equals and not _is_reading_of(rest, book, at):
        return _interpret(text, book, at)
    return replace(_interpret(f"{head}={rest}" if equals else rest, book, at), lcr=state)


def _is_reading_of(text: str, book: Book, at: int) -> bool:
    """Whether a line without what it says of the meter is a reading, and no part with what it should read."""
    try:
        said = _interpret(text, book, at) if text else Said()
    except BadInput:
        return False
    return said.reading is not None and not said.parts and not said.measure


def _interpret(text: str, book: Book, at: int) -> Said:
    clean = " ".join(text.split())
    here = book.rows[at] if at < len(book.rows) else None
    own = _as_reading(clean, here)
    named = book.named(clean, at)
    if named is not None:
        reading = own.reading if own is not None else None
        if reading is not None and here is not None and not wants_a_look(reading.value, here.expectation):
            raise BadInput(
                f'"{clean}"',
                f"is a part and also a reading of {here.designator}",
                f"write {clean} = and its reading, or the reading in digits",
            )
        return Said(at=named)
    if own is not None:
        return Said(at=at, reading=own.reading, values=own.values)
    pieces = split_line(clean)
    known = book.named(pieces.called, at)
    if known is None and pieces.measure:
        known = book.named(pieces.designator, at)
        if known is not None:
            return _more(book.rows[known], pieces)
    if known is None:
        return Said(parts=_new(clean))
    typed = pieces.reading if pieces.reading is not None else pieces.rest
    row = book.rows[known]
    found = _understood(typed, row)
    if found.reading is None or (pieces.reading is not None and pieces.rest):
        raise BadInput(
            pieces.called,
            "is on the list already" if found.reading is not None else found.problem.rstrip("."),
            f"write {pieces.called} = and what it read",
        )
    return Said(at=known, reading=found.reading, values=found.values)


def _more(row: Row, pieces: Split) -> Said:
    """One more measure of a part that is listed: what it should read, and behind the = what it read."""
    part = row.line.part
    measure = part.measure(pieces.measure)
    said = measure.expected(part.kind, pieces.rest) if pieces.rest else None
    if pieces.reading is None:
        return Said(at=row.at, measure=measure.word, should_read=pieces.rest)

    def expected(word: str) -> Expectation | None:
        return said if said is not None and word == measure.word else row.expects(word)

    values = read_several(pieces.reading.split(BETWEEN), part, measure.word, expected)
    return Said(row.at, values[0].reading, measure=measure.word, should_read=pieces.rest, values=values)


def _new(text: str) -> tuple[TypedPart, ...]:
    """Parts that are typed at the bench: a value is read off the part itself, limits off a sheet."""
    return tuple(
        replace(part, entry=replace(part.entry, from_=Origin.MARKING)) if part.entry.marking else part
        for part in read_parts(text)
    )


def _as_reading(text: str, row: Row | None) -> Meant | None:
    """The line as a reading of the part at hand; None where it is none."""
    found = _understood(text, row) if row is not None else Meant()
    return found if found.reading is not None else None


def _understood(text: str, row: Row) -> Meant:
    """A text as one value of a row's measure, or as several in one go."""
    if BETWEEN in text or row.measure.word == LEAKAGE:
        return understand_several(text.split(BETWEEN), row)
    return understand(text, row.expectation, row.measure.unit)
