"""Reads one sheet of a workbook (.xlsx) in a process of its own: `python -m benchlog.workbook FILE [SHEET]`.

Prints one JSON object: the sheet's rows as texts, or a problem and its fix. Nothing is worked out: of a
formula the result counts that the spreadsheet program kept; where it kept none, the formula's text stands.
"""

import json
import sys
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import ParseError

from openpyxl import load_workbook

MOST_ROWS, MOST_COLUMNS, MOST_CELLS, LONGEST_CELL = 20_000, 250, 400_000, 2_000
"""No list of parts has more."""
LARGEST_UNPACKED, MOST_FILES = 128 << 20, 2_000
"""Bytes and files that a workbook may unpack to."""
_BROKEN = (
    KeyError, ValueError, TypeError, IndexError, AttributeError, OSError, EOFError, OverflowError, zlib.error,
    zipfile.BadZipFile, ParseError, NotImplementedError, RecursionError,
)  # fmt: skip
"""What openpyxl raises over files that are not what they say."""


class Unreadable(Exception):
    """Why a workbook cannot be read, and what to do."""

    def __init__(self, problem: str, fix: str) -> None:
        self.problem, self.fix = problem, fix
        super().__init__(problem)


def read(path: Path, wanted: str = "") -> dict[str, Any]:
    """The sheet called `wanted`, else the first with something in it: `sheet`, `sheets`, `rows`.

    Each row is its number from 1 and its cells. Raises `Unreadable`.
    """
    try:
        _look_inside(path)
        with warnings.catch_warnings():
            # It remarks on styles and charts, which nobody wants here.
            warnings.simplefilter("ignore")
            return _read(path, wanted)
    except _BROKEN as error:
        raise Unreadable(
            f"is no workbook that can be read ({_short(error)})", "save its sheet as CSV"
        ) from None


def _look_inside(path: Path) -> None:
    """Refuse what would unpack to more than a list of parts; the sizes it names are those it is read up to."""
    with zipfile.ZipFile(path) as packed:
        files = packed.infolist()
    names = {one.filename for one in files}
    if "xl/workbook.xml" not in names:
        what = "a sheet of another kind" if "content.xml" in names else "no workbook"
        raise Unreadable(f"is {what}", "save it as .xlsx or as CSV")
    if len(files) > MOST_FILES or sum(one.file_size for one in files) > LARGEST_UNPACKED:
        raise Unreadable(
            f"unpacks to more than {LARGEST_UNPACKED >> 20} MiB", "give a workbook with a list of parts alone"
        )


def _read(path: Path, wanted: str) -> dict[str, Any]:
    kept = load_workbook(path, read_only=True, data_only=True, keep_links=False)
    written = load_workbook(path, read_only=True, data_only=False, keep_links=False)
    try:
        sheets = [sheet.title for sheet in kept.worksheets]
        if wanted and wanted not in sheets:
            raise Unreadable(f'has no sheet "{_short(wanted)}"', f"its sheets are: {', '.join(sheets)}")
        found: list[tuple[int, list[str]]] = []
        name = wanted
        for name in [wanted] if wanted else sheets:
            found = list(_rows(kept[name], written[name]))
            if found:
                break
        return {"sheet": name, "sheets": sheets, "rows": found}
    finally:
        kept.close()
        written.close()


def _rows(kept: Any, written: Any) -> Iterator[tuple[int, list[str]]]:
    """The rows with something in them, and the blank ones between."""
    for sheet in (kept, written):
        # What a file says of its own size is often wrong.
        sheet.reset_dimensions()
    waiting: list[tuple[int, list[str]]] = []
    cells = 0
    pairs = zip(kept.iter_rows(), written.iter_rows(), strict=False)
    for number, (results, formulas) in enumerate(pairs, start=1):
        texts = [_text(one, other) for one, other in zip(results, formulas, strict=False)]
        while texts and not texts[-1]:
            texts.pop()
        if not texts:
            # A sheet may end a million rows below its last cell.
            if len(waiting) < MOST_ROWS:
                waiting.append((number, []))
            continue
        cells += len(texts)
        if len(texts) > MOST_COLUMNS:
            raise Unreadable(
                f"has a cell in column {len(texts)}", "give a workbook with a list of parts alone"
            )
        if number > MOST_ROWS or cells > MOST_CELLS:
            raise Unreadable(
                f"has more than {MOST_ROWS} rows or {MOST_CELLS} cells",
                "give a workbook with a list of parts alone",
            )
        yield from waiting
        waiting.clear()
        yield number, texts


def _text(result: Any, formula: Any) -> str:
    """A cell as a person reads it on the sheet."""
    value = result.value
    if value is None:
        kept = getattr(formula, "data_type", "n") != "f"
        return "" if kept else _one_line(formula.value if isinstance(formula.value, str) else "=")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        share = "%" in str(getattr(result, "number_format", "")).replace('"%"', "")
        return f"{_number(value * 100)}%" if share else _number(value)
    if isinstance(value, datetime) and value.time() == time():
        return value.date().isoformat()
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    return _one_line(str(value))


def _number(value: float) -> str:
    """A number in full, to fifteen digits, as a sheet shows it."""
    text = format(Decimal(f"{value:.15g}"), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _one_line(text: str) -> str:
    clean = " ".join(text.split())
    if len(clean) > LONGEST_CELL:
        raise Unreadable(
            f"has a cell of {len(clean)} characters", "give a workbook with a list of parts alone"
        )
    return clean


def _short(what: object) -> str:
    text = " ".join(str(what).split())
    return text if len(text) <= 80 else text[:80] + "..."


def main(given: list[str]) -> int:
    """Print what was found; 0 always, since a problem is an answer too."""
    try:
        found: dict[str, Any] = read(Path(given[0]), given[1] if len(given) > 1 else "")
    except Unreadable as error:
        found = {"problem": error.problem, "fix": error.fix}
    sys.stdout.write(json.dumps(found))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
