"""A sheet of parts as parts: every row that can be one, every row that cannot with its reason, what is no part at all.

Pure: what a file holds comes as a `Grid`, how it is laid out as a `Layout`; what stands in the library already is told.
"""

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace

from benchlog.domain.designator import fold, several
from benchlog.domain.expectation import Origin
from benchlog.domain.kind import CAPACITORS, RESISTORS, Kind
from benchlog.domain.marking import decode
from benchlog.domain.partline import LARGE, kind_called, read_parts, told_by
from benchlog.domain.quantity import NUMBER, decimals, normal, quoted
from benchlog.domain.sheetheads import Column, Layout, looks_like_parts
from benchlog.domain.unit import PartEntry
from benchlog.errors import BadInput, Fault
from benchlog.sheetfile import Grid, Row

_NOTHING = frozenset({"", "-", "--", "?", "n/a", "na", "none", "nil", "x", "tbd", "."})
_NOT_THERE = frozenset({"dnp", "dnf", "not fitted", "not populated", "omitted", "unused"})
_TOTALS = (
    "total",
    "sum",
    "subtotal",
    "grand total",
    "summe",
    "gesamt",
    "count",
    "totals",
    "end of list",
    "total parts",
)
_ERROR = re.compile(r"#[A-Z/0]+[!?]?")
_BARE = re.compile(rf"[+-]?\s*{NUMBER}")
_NUMBERS = re.compile(r"[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+")
_COMMA = re.compile(r"(?<![0-9,])(?<![0-9]\.)([0-9]*),([0-9]+)(?![0-9,]|\.[0-9])")
_MARKED = RESISTORS | CAPACITORS | {Kind.INDUCTOR}


@dataclass(frozen=True, slots=True)
class Found:
    """A part that a row names, and the board it says; empty where it says none."""

    number: int
    board: str
    entry: PartEntry


@dataclass(frozen=True, slots=True)
class Faulty:
    """A row that cannot be taken in: its number, what stands in it, what is wrong and what to do."""

    number: int
    text: str
    problem: str
    fix: str = ""


@dataclass(frozen=True, slots=True)
class Beside:
    """A row that is no part: its number, what stands in it, and what it was taken for."""

    number: int
    text: str
    why: str


@dataclass(frozen=True, slots=True)
class PartSheet:
    """A sheet as it was understood.

    Attributes:
        grid, layout: what was read, and how.
        parts: what would be taken in.
        faulty: rows that would stay out.
        beside: rows that are no parts.
        lacking: why nothing can be read at all; empty where it can.
        said: what was taken for granted, a phrase each.
    """

    grid: Grid
    layout: Layout
    parts: tuple[Found, ...] = ()
    faulty: tuple[Faulty, ...] = ()
    beside: tuple[Beside, ...] = ()
    lacking: str = ""
    said: tuple[str, ...] = ()

    @property
    def boards(self) -> tuple[str, ...]:
        """The boards that are named, in their order; an empty text for parts without one."""
        return tuple(dict.fromkeys(one.board for one in self.parts))

    def faults(self) -> tuple[Fault, ...]:
        """Every faulty row as it is told to a person."""
        counts, name = self.grid.counts, self.grid.name
        if self.lacking:
            return (Fault(name, self.lacking, "choose the column that names them"),)
        return tuple(Fault(f"{name}: {counts} {one.number}", one.problem, one.fix) for one in self.faulty)


Known = Mapping[str, Collection[str]]
"""Designators that each board of the unit has already, folded, by the board's name folded."""


@dataclass(slots=True)
class _Reader:
    """Reads row after row; what one row says of the next is kept here."""

    grid: Grid
    layout: Layout
    known: Known
    board: str
    tolerance: str
    comma: bool = False
    seen: dict[tuple[str, str], int] = field(default_factory=dict)

    def row(self, row: Row) -> Iterator[Found | Faulty | Beside]:
        """What a row holds: parts, or why there are none."""
        text = " ".join(cell for cell in row.cells if cell)
        why = self._beside(row, text)
        if why:
            yield Beside(row.number, text, why)
            return
        try:
            for board, entry in self._parts(row):
                self._once(row, board, entry)
                yield Found(row.number, board, entry)
        except BadInput as error:
            fault = error.faults[0]
            problem = f"{fault.place} {fault.problem}" if fault.place else fault.problem
            yield Faulty(row.number, text, problem, fault.fix)

    @property
    def _named_width(self) -> int:
        """So many columns have a heading; all, where the sheet has none."""
        named = [at for at, one in enumerate(self.layout.headings) if one.text]
        return named[-1] + 1 if self.layout.heads and named else len(self.layout.headings)

    # --- what is no part -----------------------------------------------------------------------------

    def _beside(self, row: Row, text: str) -> str:
        """What a row is, where it is no part."""
        if self._is_heading(row):
            return "headings again"
        first = fold(next((cell for cell in row.cells if cell), "")).rstrip(":.")
        if first in _TOTALS or first.startswith(("total ", "sum ")):
            return "a total"
        if self.layout.lines:
            return "a note" if text.startswith(("#", "//")) else ""
        named = self.cell(row, Column.PART)
        others = [cell for at, cell in enumerate(row.cells) if cell and at != self.layout.at(Column.PART)]
        if not others and not looks_like_parts(named):
            return "a note"
        if not named:
            used = [cell for at, cell in enumerate(row.cells) if cell and self._uses(at)]
            # A sentence, wherever it stands; a value without a part is a slip.
            if not used or (len(others) == 1 and len(others[0].split()) > 2):
                return "a note"
            if all(self._is_total(at) for at, cell in enumerate(row.cells) if cell):
                return "a total"
        if any(fold(cell) in _NOT_THERE for cell in row.cells):
            return "not fitted"
        return ""

    def _is_heading(self, row: Row) -> bool:
        """Whether it is a row of the headings once more, as at the top of a printed page."""
        heads = self.grid.rows[self.layout.body - self.layout.heads : self.layout.body]
        return any(list(map(fold, row.cells)) == list(map(fold, one.cells)) for one in heads)

    def _is_total(self, at: int) -> bool:
        column = self.layout.headings[at].column if at < len(self.layout.headings) else Column.LEFT_OUT
        return column in (Column.COUNT, Column.LEFT_OUT)

    def _uses(self, at: int) -> bool:
        """Whether a column tells something of a part."""
        column = self.layout.headings[at].column if at < len(self.layout.headings) else Column.LEFT_OUT
        return column not in (Column.LEFT_OUT, Column.NOTE, Column.BOARD)

    # --- parts ---------------------------------------------------------------------------------------

    def _parts(self, row: Row) -> list[tuple[str, PartEntry]]:
        """The parts of a row with their boards; `BadInput` for what is wrong with it."""
        self._check_cells(row)
        if self.layout.lines:
            return [(self.board, one.entry) for one in read_parts(row.cells[0])]
        named = self.cell(row, Column.PART)
        if not named:
            raise BadInput("", "names no part", "write its designator, or take the row out")
        names = several(named)
        self._check_count(row, names)
        board = self.cell(row, Column.BOARD) or self.board
        return [(board, self._entry(row, name)) for name in names]

    def _check_cells(self, row: Row) -> None:
        for at in range(self._named_width, len(row.cells)):
            heading = self.layout.headings[at]
            if row.cells[at] and self.grid.counts == "line" and heading.column is Column.LEFT_OUT:
                raise BadInput(
                    "", f"has {len(row.cells)} cells where the headings have {self._named_width}",
                    "put a cell that holds the sign between cells in quotes",
                )  # fmt: skip
        for cell in row.cells:
            if cell.startswith("="):
                raise BadInput(
                    quoted(cell), "is a formula without its result", "save the sheet where it was made"
                )
            if _ERROR.fullmatch(cell) and cell != "#":
                raise BadInput(quoted(cell), "is an error of the sheet", "mend its formula")

    def _check_count(self, row: Row, names: tuple[str, ...]) -> None:
        said = self.cell(row, Column.COUNT)
        if said.isdigit() and int(said) != len(names):
            raise BadInput(
                "", f"says {said} and names {len(names)}: {names[0]}{' ...' if len(names) > 1 else ''}",
                "mend one of them",
            )  # fmt: skip

    def _once(self, row: Row, board: str, entry: PartEntry) -> None:
        """Refuse a part that stands here or on its board already."""
        place = (fold(board), fold(entry.designator))
        if place in self.seen:
            raise BadInput(
                entry.designator,
                f"stands in {self.grid.counts} {self.seen[place]} already",
                "name each part once",
            )
        self.seen[place] = row.number
        if place[1] in self.known.get(place[0], ()):
            raise BadInput(entry.designator, "is on the list already", "take the row out")

    def _entry(self, row: Row, name: str) -> PartEntry:
        at, value = self._value(row)
        value = self._number(value, self.layout.headings[at].unit if at is not None else "")
        kind, more = self._kind(row, name, value)
        marking = self.cell(row, Column.MARKING)
        if not marking and kind in _MARKED:
            marking = " ".join(filter(None, (value, self._rated(row))))
        notes = [more, *(cell for _, cell in self._cells(row, Column.NOTE))]
        entry = PartEntry(
            designator=name,
            kind=kind,
            marking=marking,
            should_read=self._should_read(row, value, kind),
            from_=Origin.SHEET,
            note="; ".join(filter(None, notes)),
        )
        _ = entry.expectation  # BadInput where it cannot be read
        if value and kind in _MARKED and value not in entry.should_read:
            _ = decode(value, kind)  # limits beside it do not make a date or a word a value
        return entry

    def _value(self, row: Row) -> tuple[int | None, str]:
        """The value and its column; of several columns the one that is filled."""
        found = self._cells(row, Column.VALUE)
        if len(found) > 1:
            both = " and ".join(f"{self.layout.headings[at].text} {cell}" for at, cell in found[:2])
            raise BadInput("", f"has two values: {both}", "leave one of them")
        return found[0] if found else (None, "")

    def _kind(self, row: Row, name: str, value: str) -> tuple[Kind, str]:
        """What kind of part it is, and what its column says besides."""
        said, told = self.cell(row, Column.KIND), told_by(name)
        kind = kind_called(said)
        if kind is None:
            words = [kind_called(word.strip(",;.")) for word in said.split()]
            found = [one for one in words if one is not None and (told is None or one.unit == told.unit)]
            plain = (Kind.RESISTOR, Kind.CAPACITOR)
            kind = next((one for one in found if one not in plain), found[0] if found else told)
        if kind is Kind.TRANSISTOR and told is Kind.TRANSISTOR_JUNCTION:
            kind = told  # A row of its own for one junction of it: Q201 be.
        if kind is None:
            problem = "is no kind of part that is known" if said else "does not tell what kind of part it is"
            raise BadInput(
                quoted(said or name), problem, "write resistor, film, electrolytic, transistor or the like"
            )
        return _larger(kind, value), said if kind_called(said) is None else ""

    def _should_read(self, row: Row, value: str, kind: Kind) -> str:
        """What it should read, as a person would write it in one text; empty where the row does not say."""
        said = self._number(self.cell(row, Column.SHOULD_READ), self._unit(Column.SHOULD_READ))
        low, high = (
            self._number(self.cell(row, one), self._unit(one) or self._unit(Column.SHOULD_READ))
            for one in (Column.LOW, Column.HIGH)
        )
        if low and high:
            self._check_ends(low, high)
            return f"{low}..{high}"
        if low or high:
            return f"> {low}" if low else f"< {high}"
        tolerance = self._tolerance(row)
        text = said or value
        if not text or _says_limits(text, kind):
            return text
        return f"{text} {tolerance}" if tolerance else f"{text} {self.tolerance}".strip()

    def _check_ends(self, low: str, high: str) -> None:
        one, other = decimals(_digits(low)), decimals(_digits(high))
        tails = [text[len(_digits(text)) :].strip() for text in (low, high)]
        if len(one) == len(other) == 1 and tails[0] == tails[1] and float(one[0]) > float(other[0]):
            raise BadInput("", f"has its lowest {low} above its highest {high}", "change them over")

    def _tolerance(self, row: Row) -> str:
        text = normal(self.cell(row, Column.TOLERANCE))
        unit = self._unit(Column.TOLERANCE)
        if not text:
            return ""
        text = self._point(text)
        bare = text.removeprefix("+/-").strip()
        if _BARE.fullmatch(bare):
            if not unit and "." in bare and _value_of(bare) < 1:
                share = f"{100 * _value_of(bare):g}"
                raise BadInput(quoted(text), f"may be {bare} % or {share} %", "write the sign behind it")
            return f"{bare}%" if unit in ("", "%") else f"+/-{bare}{unit}"
        if not ("%" in text or text[:1] in "+-" or len(text) == 1):
            raise BadInput(quoted(text), "is no tolerance", "write it as in 5%, +20/-10% or J")
        return text

    def _rated(self, row: Row) -> str:
        """Its rating as it is printed behind a value: `63V`; a bare number needs the heading's unit."""
        found = self._cells(row, Column.RATING)
        if not found:
            return ""
        at, text = found[0]
        heading = self.layout.headings[at]
        unit = heading.unit or (
            "V" if {"v", "wv", "voltage", "volts"} & set(fold(heading.text).split()) else ""
        )
        return self._number(text, unit)

    # --- cells ---------------------------------------------------------------------------------------

    def cell(self, row: Row, column: Column) -> str:
        """What stands in the first column that holds that; empty where nothing does."""
        found = self._cells(row, column)
        return found[0][1] if found else ""

    def _cells(self, row: Row, column: Column) -> list[tuple[int, str]]:
        return [
            (at, cell)
            for at, (one, cell) in enumerate(zip(self.layout.headings, row.cells, strict=False))
            if one.column is column and fold(cell) not in _NOTHING
        ]

    def _unit(self, column: Column) -> str:
        at = self.layout.at(column)
        return self.layout.headings[at].unit if at is not None else ""

    def _number(self, text: str, unit: str) -> str:
        """A cell with its decimal sign as a point, and the heading's unit behind a bare number."""
        text = self._point(normal(text))
        return f"{text}{unit}" if unit and _BARE.fullmatch(text) else text

    def _point(self, text: str) -> str:
        return _COMMA.sub(r"\1.\2", text) if self.comma else text


def read_sheet(
    grid: Grid, layout: Layout, known: Known | None = None, *, board: str = "", tolerance: str = ""
) -> PartSheet:
    """Read every row of a sheet.

    Args:
        grid, layout: what stands there, and what its columns hold.
        known: what each board has already.
        board: where parts go of which no board is said.
        tolerance: how far a value may be off of which nothing is said; empty where such a row is a fault.
    """
    made = PartSheet(grid, layout)
    if not layout.lines and layout.at(Column.PART) is None:
        return replace(made, lacking="no column names the parts")
    body = [row for row in grid.rows[layout.body :] if not row.blank]
    comma = _decimal_comma(body, layout)
    reader = _Reader(grid, layout, known or {}, board, tolerance, comma)
    above = grid.rows[: max(0, layout.body - layout.heads)]
    beside = [
        Beside(row.number, " ".join(filter(None, row.cells)), "above the headings")
        for row in above
        if not row.blank
    ]
    parts: list[Found] = []
    faulty: list[Faulty] = []
    for row in body:
        made_of = list(reader.row(row))
        wrong = [one for one in made_of if isinstance(one, Faulty)]
        faulty += wrong
        beside += [one for one in made_of if isinstance(one, Beside)]
        if not wrong:
            parts += [one for one in made_of if isinstance(one, Found)]
    said = (*grid.said, *(["a comma is the decimal sign"] if comma else []))
    return replace(made, parts=tuple(parts), faulty=tuple(faulty), beside=tuple(beside), said=said)


def _decimal_comma(rows: list[Row], layout: Layout) -> bool:
    """Whether commas are decimal signs all through the sheet: some can be nothing else, and none is another."""
    used = {at for at, one in enumerate(layout.headings) if one.column not in _NO_NUMBERS}
    sure = False
    for row in rows:
        for number in (
            found
            for at, cell in enumerate(row.cells)
            if at in used and "," in cell
            for found in _NUMBERS.findall(cell)
        ):
            whole, comma, rest = number.partition(",")
            if comma and ("." in number or "," in rest):
                return False
            sure = sure or (bool(comma) and (len(rest) != 3 or whole in ("", "0")))
    return sure


_NO_NUMBERS = frozenset(
    {Column.PART, Column.BOARD, Column.KIND, Column.MARKING, Column.NOTE, Column.COUNT, Column.LEFT_OUT}
)


def _larger(kind: Kind, value: str) -> Kind:
    """An electrolytic where a capacitor is so large that it can hardly be anything else, as in a typed line."""
    if kind is not Kind.CAPACITOR or not value:
        return kind
    try:
        found = decode(value, kind).value
    except BadInput:
        return kind
    return Kind.ELECTROLYTIC if found is not None and found >= LARGE else kind


def _says_limits(text: str, kind: Kind) -> bool:
    """Whether a text says how far it may be off, or is wrong otherwise."""
    try:
        _ = PartEntry(designator="", kind=kind, should_read=text).expectation
    except BadInput as error:
        return "does not say how far" not in error.problem
    return True


def _value_of(number: str) -> float:
    (one,) = decimals(number.lstrip("+-")) or ("0",)
    return float(one)


def _digits(text: str) -> str:
    found = re.match(rf"[+-]?\s*{NUMBER}", text)
    return found[0] if found else ""
