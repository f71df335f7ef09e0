"""What the columns of a list of parts hold: told by their headings, else by what stands in them.

Headings may take two rows (one above several, as merged cells come out), and carry units: `R (kΩ)`, `Tol. [%]`.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from benchlog.domain.designator import fold
from benchlog.domain.partline import kind_called, told_by
from benchlog.domain.quantity import meanings, normal, suffix
from benchlog.errors import BadInput
from benchlog.sheetfile import Grid, Row


class Column(StrEnum):
    """What a column can hold; the words are those on screen."""

    PART = "part"
    BOARD = "board"
    KIND = "kind"
    SHOULD_READ = "should read"
    VALUE = "value"
    TOLERANCE = "tolerance"
    LOW = "lowest"
    HIGH = "highest"
    MARKING = "marking"
    RATING = "rating"
    COUNT = "how many"
    NOTE = "note"
    LEFT_OUT = "left out"


SEVERAL = frozenset({Column.VALUE, Column.NOTE, Column.RATING, Column.LEFT_OUT})
"""What may stand in several columns: R, C and L beside each other, two notes."""

_WORDS: dict[Column, str] = {
    Column.PART: "part parts ref refs refdes reference references designator designators name position pos component"
    " components bauteil bauteile bezeichner referenz repère repere onderdeel id",
    Column.BOARD: "board boards pcb module assembly platine print carte printplaat",
    Column.KIND: "kind type category class art typ",
    Column.SHOULD_READ: "expected expectation target soll sollwert spec",
    Column.VALUE: "value values nominal nom wert nennwert valeur waarde r c l resistance capacitance inductance"
    " v vf vbe volts ohms widerstand kapazität",
    Column.TOLERANCE: "tolerance tolerances tol toleranz tolérance tolerantie ± +/- +-",
    Column.LOW: "low lowest min minimum lower least from von",
    Column.HIGH: "high highest max maximum upper most to bis",
    Column.MARKING: "marking marked printed aufdruck",
    Column.RATING: "rating rated wv watt watts power voltage working ub spannung leistung",
    Column.COUNT: "qty quantity count anzahl menge stück qté aantal pcs pieces",
    Column.NOTE: "note notes remark remarks comment comments description bemerkung bemerkungen beschreibung info",
    Column.LEFT_OUT: "number no nr price cost supplier maker manufacturer order footprint package x y rotation layer"
    " stock hersteller preis item row line total mpn measured reading readings actual gemessen messwert istwert ist"
    " esr leakage tan dcr leckstrom",
}
_PHRASES = {
    "should read": Column.SHOULD_READ,
    "how many": Column.COUNT,
    "no off": Column.COUNT,
    **dict.fromkeys(("ref no", "ref nr", "reference no", "pos nr", "symbol no", "circuit no"), Column.PART),
}
_RANK = (
    Column.LEFT_OUT, Column.LOW, Column.HIGH, Column.TOLERANCE, Column.COUNT, Column.PART, Column.BOARD,
    Column.RATING, Column.SHOULD_READ, Column.MARKING, Column.VALUE, Column.KIND, Column.NOTE,
)  # fmt: skip
"""Of several words in one heading the first of these counts: `max value` is a limit, `part number` no part.

What was measured once is no value to judge by, nor a limit on its ESR one on its capacitance: they are left out.
"""
_OF_WORD = {word: column for column in reversed(_RANK) for word in _WORDS[column].split()}
_BRACKETED = re.compile(r"(.*?)\s*[(\[{]\s*(?:in\s+)?([^)\]}]*?)\s*[)\]}]\s*(.*)")
_BEHIND = re.compile(r"(.*?)\s*(?:/|,|:|\bin\b|\s)\s*(\S+)")
_DESIGNATOR = re.compile(r"[A-Za-z]{1,4}[0-9]{1,5}(?:[A-Za-z]{1,2})?(?:[\s,;&.-].*)?")
_VOLTS = ("v", "volts", "vdc")
_LOOKED_AT, _SAMPLE, _SHARE = 40, 60, 0.6


@dataclass(frozen=True, slots=True)
class Heading:
    """One column: its heading as written, what it holds, and the unit its bare numbers are in (`kΩ`, `%`)."""

    text: str
    column: Column = Column.LEFT_OUT
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Layout:
    """How a sheet is laid out.

    Attributes:
        headings: of each column, from the left.
        body: where in the grid's rows the parts begin.
        heads: how many rows above that are headings.
        lines: whether it has no columns: each row is a line such as `R12 4k7 5%`.
    """

    headings: tuple[Heading, ...]
    body: int = 0
    heads: int = 0
    lines: bool = False

    def at(self, column: Column) -> int | None:
        """Which column holds that; None where none does."""
        return next((at for at, one in enumerate(self.headings) if one.column is column), None)

    def with_column(self, at: int, column: Column) -> "Layout":
        """The same with one column holding something else; what only one can hold leaves the other."""
        made = [
            replace(one, column=Column.LEFT_OUT) if one.column is column and column not in SEVERAL else one
            for one in self.headings
        ]
        made[at] = replace(made[at], column=column)
        return replace(self, headings=tuple(made))


def guess(grid: Grid) -> Layout:
    """How a sheet is most likely laid out."""
    if grid.width < 2:
        return Layout((Heading(""),), lines=True)
    best, score = Layout(()), 0
    for at, row in enumerate(grid.rows[:_LOOKED_AT]):
        for rows in (grid.rows[at : at + 1], grid.rows[at : at + 2]):
            if len(rows) == 2 and not _may_be_heads(rows[1]):
                continue
            found = Layout(_headings(rows, grid.width), at + len(rows), len(rows))
            points = _points(found) if not row.blank else 0
            if points > score:
                best, score = found, points
    if not best.headings or best.at(Column.PART) is None:
        return _by_content(grid, best)
    return _settle(grid, best)


def looks_like_parts(text: str) -> bool:
    """Whether a cell reads like a designator, or several."""
    return _DESIGNATOR.fullmatch(text) is not None


def heading_of(text: str) -> Heading:
    """What a heading says; what it does not say is left out."""
    words, unit = _unit(normal(text))
    column = _column(words)
    if column is None and unit:
        column = Column.TOLERANCE if unit == "%" else Column.VALUE
    if column is Column.VALUE and unit == "%":
        column = Column.TOLERANCE
    return Heading(text, column or Column.LEFT_OUT, unit)


def _column(words: str) -> Column | None:
    pieces = [one for one in re.split(r"[\s/_.:,-]+", words) if one]
    if " ".join(pieces) in _PHRASES:
        return _PHRASES[" ".join(pieces)]
    found = {_OF_WORD[one] for one in (*pieces, words.strip(".: ")) if one in _OF_WORD}
    return next((one for one in _RANK if one in found), None)


def _unit(text: str) -> tuple[str, str]:
    """A heading's words in small letters, and its unit."""
    found = _BRACKETED.fullmatch(text)
    if found and _is_unit(found[2]):
        return fold(f"{found[1]} {found[3]}"), found[2]
    behind = _BEHIND.fullmatch(text)
    # A letter alone may be a word: R, C, V are values.
    if behind and behind[1] and _is_unit(behind[2]):
        return fold(behind[1]), behind[2]
    if (_is_unit(text) and len(text) > 1) or text == "%":
        return "", text
    return fold(text), ""


def _is_unit(text: str) -> bool:
    known = suffix(text)
    return text == "%" or (bool(text) and known is not None and (bool(known[1]) or known[0] != 0))


def _may_be_heads(row: Row) -> bool:
    """Whether a row below headings may belong to them: words and units, no part and no number."""
    return not row.blank and not any(looks_like_parts(cell) or cell[:1].isdigit() for cell in row.cells)


def _headings(rows: Sequence[Row], width: int) -> tuple[Heading, ...]:
    """The headings of one row or two; what stands above several goes on to the right."""
    lower = [*rows[-1].cells, *[""] * (width - len(rows[-1].cells))]
    if len(rows) == 1:
        return tuple(heading_of(text) for text in lower)
    found, above = [], ""
    # A row with one cell alone is a title, and stands above nothing.
    several = sum(map(bool, rows[0].cells)) > 1
    for at, text in enumerate(lower):
        own = rows[0].cells[at] if several and at < len(rows[0].cells) else ""
        above = own or (above if text else "")
        found.append(_both(above, text))
    return tuple(found)


def _both(above: str, below: str) -> Heading:
    """One heading of two: what the lower says counts before what the upper does, a unit from either."""
    lower, upper = heading_of(below), heading_of(above)
    only_unit = not _column(_unit(normal(below))[0])
    column = upper.column if only_unit and above and upper.column is not Column.LEFT_OUT else lower.column
    unit = lower.unit or upper.unit
    if column is Column.TOLERANCE and unit != "%":
        unit = lower.unit
    return Heading(" ".join(one for one in (above, below) if one), column, unit)


def _points(layout: Layout) -> int:
    """How much a row of headings tells: kinds of column, then units; one row rather than two."""
    known = {one.column for one in layout.headings if one.column is not Column.LEFT_OUT}
    if len(known) < 2:
        return 0
    units = sum(bool(one.unit) for one in layout.headings)
    several = sum(one.column is not Column.LEFT_OUT for one in layout.headings)
    return 100 * len(known) + 10 * several + 3 * units + 400 * (Column.PART in known) - layout.heads


def _settle(grid: Grid, layout: Layout) -> Layout:
    """Headings against what stands below them: only one column names the parts, a type may be a kind or a note."""
    rows = [row for row in grid.rows[layout.body : layout.body + _SAMPLE] if not row.blank]
    named = [at for at, one in enumerate(layout.headings) if one.column is Column.PART]
    headings = list(layout.headings)
    if len(named) > 1:
        best = max(named, key=lambda at: _share(rows, at, looks_like_parts))
        for at in named:
            if at != best:
                headings[at] = replace(headings[at], column=Column.NOTE)
    for at, one in enumerate(headings):
        share = _share(rows, at, _is_kind)
        if one.column is Column.KIND and not share:
            headings[at] = replace(one, column=Column.NOTE)
        elif one.column is Column.NOTE and share >= _SHARE and layout.at(Column.KIND) is None:
            headings[at] = replace(one, column=Column.KIND)
    values = [at for at, one in enumerate(headings) if one.column is Column.VALUE]
    for at in values:
        in_volts = heading_of(headings[at].text).unit.endswith("V") or fold(headings[at].text) in _VOLTS
        beside = [row for row in rows if any(_cell(row, other) for other in values if other != at)]
        if in_volts and any(_cell(row, at) for row in beside):
            headings[at] = replace(headings[at], column=Column.RATING)
    seen: set[Column] = set()
    for at, one in enumerate(headings):
        if one.column in seen and one.column not in SEVERAL:
            headings[at] = replace(one, column=Column.LEFT_OUT)
        seen.add(one.column)
    return replace(layout, headings=tuple(headings))


def _cell(row: Row, at: int) -> str:
    return row.cells[at] if at < len(row.cells) else ""


def _by_content(grid: Grid, known: Layout) -> Layout:
    """A sheet whose headings name no parts: the column that reads like designators does; values beside it."""
    rows = [row for row in grid.rows[known.body : known.body + _SAMPLE] if not row.blank]
    headings = list(known.headings) or [Heading("")] * grid.width
    parts = max(range(grid.width), key=lambda at: _share(rows, at, looks_like_parts))
    if _share(rows, parts, looks_like_parts) < _SHARE:
        return replace(known, headings=tuple(headings))
    if not known.headings and not looks_like_parts(_cell(rows[0], parts)):
        # Headings in words that are not known here.
        headings = [Heading(_cell(rows[0], at)) for at in range(grid.width)]
        body = grid.rows.index(rows[0]) + 1
        return _by_content(grid, Layout(tuple(headings), body, 1))
    headings[parts] = replace(headings[parts], column=Column.PART)
    told = any(one.column is not Column.LEFT_OUT for one in known.headings)
    tests = ((Column.TOLERANCE, _is_share), (Column.KIND, _is_kind), (Column.VALUE, _is_value))
    for at, one in enumerate(headings):
        if told or at == parts:
            continue
        taken = {other.column for other in headings}
        fitting = [
            column for column, test in tests if column not in taken and _share(rows, at, test) >= _SHARE
        ]
        if fitting or _share(rows, at, str.__len__):
            headings[at] = replace(one, column=fitting[0] if fitting else Column.NOTE)
    return replace(known, headings=tuple(headings))


def _share(rows: Sequence[Row], at: int, test: Callable[[str], object]) -> float:
    """The share of cells of a column, of those that hold something, that pass a test."""
    cells = [cell for row in rows if (cell := _cell(row, at))]
    return sum(bool(test(cell)) for cell in cells) / len(cells) if cells else 0.0


def _is_kind(text: str) -> bool:
    return any(kind_called(one) is not None for one in (text, *text.split()))


def _is_share(text: str) -> bool:
    return "%" in text


def _is_value(text: str) -> bool:
    try:
        meanings(text.split(maxsplit=1)[0])
    except BadInput:
        return False
    return not looks_like_parts(text) or told_by(text) is None
