"""A sheet of cells from a file or a pasted text: comma, semicolon, tab or bar between cells, or a workbook.

Cells are texts as a person would read them; nothing in them is ever worked out. A workbook is read in a
process of its own (`workbook.py`): it is packed, and unpacks to whatever its sender likes.
"""

import codecs
import csv
import json
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchlog.errors import BadInput

LARGEST_FILE = 16 << 20
"""No list of parts is longer than this, in bytes."""
MOST_ROWS, MOST_CELLS, LONGEST_CELL = 20_000, 400_000, 2_000
"""No list of parts has more rows or cells, or more characters in one of them."""
WORKBOOK_SECONDS = 60.0
"""So long a workbook may take to be read, on a busy machine."""

BETWEEN = ("\t", ";", ",", "|")
"""What may stand between cells; where two would do, the first of them."""
_LOOKED_AT = 200
_PACKED, _OLD_OR_LOCKED = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
_UTF_16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_NAMES = {"\t": "tabs", ";": "semicolons", ",": "commas", "|": "bars"}


@dataclass(frozen=True, slots=True)
class Row:
    """The cells of a row, without blanks around them; `number` is that of its line or row, from 1."""

    number: int
    cells: tuple[str, ...]

    @property
    def blank(self) -> bool:
        """Whether nothing stands in it."""
        return not any(self.cells)


@dataclass(frozen=True, slots=True)
class Grid:
    """A sheet as it stands in its file.

    Attributes:
        name: of the file, as it is shown.
        counts: what its rows are called: `line` of a text, `row` of a workbook.
        rows: in their order, blank ones too.
        said: how it was read, a phrase each.
        sheet, sheets: which sheet of a workbook this is, and all there are.
    """

    name: str
    counts: str
    rows: tuple[Row, ...]
    said: tuple[str, ...] = ()
    sheet: str = ""
    sheets: tuple[str, ...] = ()

    @property
    def width(self) -> int:
        """The cells of its longest row."""
        return max((len(row.cells) for row in self.rows), default=0)


def read(path: Path, sheet: str = "") -> Grid:
    """The sheet in a file; of a workbook the one called `sheet`, else its first with something in it.

    Raises `BadInput` in one sentence where it cannot be read.
    """
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise BadInput(
                path.name, f"is longer than {LARGEST_FILE >> 20} MiB", "give a list of parts alone"
            )
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise BadInput(path.name, f"cannot be read ({reason})", "name another file") from None
    return _apart(path, sheet) if data.startswith(_PACKED) else from_bytes(data, path.name)


def from_bytes(data: bytes, name: str) -> Grid:
    """The sheet in the bytes of a text file."""
    if data.startswith(_OLD_OR_LOCKED):
        raise BadInput(name, "is a workbook of the old kind, or a locked one", "save it as .xlsx or as CSV")
    text, said = _decoded(data, name)
    return from_text(text, name, said)


def from_text(text: str, name: str = "pasted", said: tuple[str, ...] = ()) -> Grid:
    """The sheet in a text; `BadInput` where it is none."""
    if "\0" in text:
        raise BadInput(name, "is not text", "give CSV, TSV or a workbook (.xlsx)")
    # Only what ends a line in a text file: a form feed or a line separator inside a cell is a blank.
    lines = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").rstrip("\n").split("\n")
    if len(lines) > MOST_ROWS:
        raise BadInput(name, f"has more than {MOST_ROWS} lines", "give a list of parts alone")
    told = lines[0].casefold() if lines else ""
    if told.startswith("sep=") and len(told) == 5:
        between, skipped = told[4], 1
    else:
        between, skipped = _between(lines), 0
    rows = _rows(lines, between, skipped, name)
    if between and not skipped:
        said = (*said, f"{_NAMES[between]} between cells")
    return checked(Grid(name, "line", rows, said))


def checked(grid: Grid) -> Grid:
    """The grid itself; `BadInput` where there is nothing in it, or more than a list of parts has."""
    if all(row.blank for row in grid.rows):
        raise BadInput(grid.name, "has nothing in it", "give a list of parts")
    if len(grid.rows) > MOST_ROWS or sum(len(row.cells) for row in grid.rows) > MOST_CELLS:
        raise BadInput(
            grid.name, f"has more than {MOST_ROWS} rows or {MOST_CELLS} cells", "give a list of parts alone"
        )
    return grid


def is_table(text: str) -> bool:
    """Whether a pasted text is more than one line, or has cells: it cannot go into a field for one line."""
    return "\t" in text or "\n" in text.strip()


def _decoded(data: bytes, name: str) -> tuple[str, tuple[str, ...]]:
    """Bytes as text, and what was taken for granted."""
    if data.startswith(_UTF_16):
        try:
            return data.decode("utf-16"), ()
        except UnicodeDecodeError:
            raise BadInput(name, "is not text", "save it as UTF-8") from None
    try:
        return data.decode("utf-8-sig"), ()
    except UnicodeDecodeError:
        # What spreadsheets write where nobody tells them otherwise.
        return data.decode("cp1252", errors="replace"), ("read as Windows text, not UTF-8",)


def _between(lines: list[str]) -> str:
    """What stands between the cells: what cuts most lines alike; empty where nothing does."""
    looked_at = [line for line in lines[:_LOOKED_AT] if line.strip()]
    best, most = "", 0
    for sign in BETWEEN:
        widths = [len(cells) for cells in _cut(looked_at, sign)]
        alike = max((widths.count(width) for width in set(widths) if width > 1), default=0)
        if 2 * alike > len(widths) and alike > most:
            best, most = sign, alike
    return best


def _cut(lines: Iterable[str], sign: str) -> list[list[str]]:
    """Lines in cells, as far as they can be read."""
    found: list[list[str]] = []
    try:
        found.extend(csv.reader((f"{line}\n" for line in lines), delimiter=sign, skipinitialspace=True))
    except csv.Error:
        return found
    return found


def _rows(lines: list[str], between: str, skipped: int, name: str) -> tuple[Row, ...]:
    """Every row with the number of its first line."""
    if not between:
        return tuple(Row(number, (_clean(line, name, number),)) for number, line in enumerate(lines, start=1))
    rows: list[Row] = []
    reader = csv.reader(
        (f"{line}\n" for line in lines[skipped:]), delimiter=between, skipinitialspace=True, strict=False
    )
    number = 1 + skipped
    try:
        for cells in reader:
            if reader.line_num + skipped > number and reader.line_num + skipped == len(lines):
                _check_quotes(lines[number - 1 :], between, name, number)
            while cells and not cells[-1].strip():
                cells.pop()
            rows.append(Row(number, tuple(_clean(cell, name, number) for cell in cells)))
            number = reader.line_num + 1 + skipped
    except csv.Error as error:
        raise BadInput(f"{name}: line {number}", f"cannot be read ({error})", "save it anew as CSV") from None
    return tuple(rows)


def _check_quotes(lines: list[str], between: str, name: str, number: int) -> None:
    """The last row took several lines: right where a quote closes, a slip where one swallowed the rest."""
    try:
        list(
            csv.reader((f"{line}\n" for line in lines), delimiter=between, skipinitialspace=True, strict=True)
        )
    except csv.Error as error:
        if "unexpected end" in str(error):
            raise BadInput(
                f"{name}: line {number}", "opens a quote that is never closed", "close it, or take it out"
            ) from None


def _clean(cell: str, name: str, number: int) -> str:
    """A cell on one line, without blanks around it."""
    if len(cell) > LONGEST_CELL:
        raise BadInput(
            f"{name}: line {number}", f"has a cell of {len(cell)} characters", "give a list of parts alone"
        )
    return " ".join(cell.split())


def _apart(path: Path, sheet: str) -> Grid:
    """A sheet of a workbook, read by a process that ends where it takes too long."""
    command = [sys.executable, "-m", "benchlog.workbook", str(path), sheet]
    try:
        done = subprocess.run(
            command, stdin=subprocess.DEVNULL, capture_output=True, timeout=WORKBOOK_SECONDS, check=False
        )
        found: dict[str, Any] = json.loads(done.stdout)
    except subprocess.TimeoutExpired:
        raise BadInput(
            path.name, f"could not be read within {WORKBOOK_SECONDS:g} s", "save its sheet as CSV"
        ) from None
    except (OSError, ValueError):
        raise BadInput(path.name, "could not be read as a workbook", "save its sheet as CSV") from None
    if "problem" in found:
        raise BadInput(path.name, found["problem"], found["fix"])
    rows = tuple(Row(number, tuple(cells)) for number, cells in found["rows"])
    return checked(Grid(path.name, "row", rows, (), found["sheet"], tuple(found["sheets"])))
