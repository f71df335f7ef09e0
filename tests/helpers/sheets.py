"""Lists of parts as people keep them, made as workbooks."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from openpyxl import Workbook

Cell = str | float | int | None


def workbook(path: Path, rows: Iterable[Sequence[Cell]], merged: Iterable[str] = ()) -> Path:
    """A workbook of one sheet with these rows, some cells of it merged."""
    made = Workbook()
    sheet = made.active
    assert sheet is not None
    for row in rows:
        sheet.append(list(row))
    for cells in merged:
        sheet.merge_cells(cells)
    made.save(path)
    return path


UGLY_PARTS = 13


def ugly(path: Path) -> Path:
    """A list as it comes from a drawer: a title, merged headings, units in them, notes, a page break, a total."""
    rows: list[list[Cell]] = [
        ["Power amplifier, both channels, copied from the sheet by hand"],
        [],
        ["Ref. no.", "Description", "Should read (kΩ)", None, None, "Tol.", "Qty", "Supplier", "Remarks"],
        [None, None, "nominal", "min", "max", "%"],
        [],
        ["Left channel"],
        ["R101", "Resistor, metal film", 47, None, None, 5, 1, "shop A"],
        ["R102, R103", "Resistor", 4.7, None, None, 5, 2],
        ["R104-R107", "Resistor", 0.22, None, None, 10, 4, None, "run hot"],
        ["R108", "carbon", None, 0.9, 1.2, None, 1, None, "selected"],
        ["R109", "Resistor", "not fitted"],
        ["Right channel, same as left but for the feedback"],
        ["Ref. no.", "Description", "Should read (kΩ)", None, None, "Tol.", "Qty", "Supplier", "Remarks"],
        ["R201", "Resistor", "47k", None, None, "±5 %", 1],
        ["VR201", "trimmer", 1, None, None, 20, 1, None, "cermet"],
        ["L201", "inductor", "2u2 10%", None, None, None, 1],
        ["Q201 be", "transistor", None, "0.55 V", "0.7 V", None, 1],
        ["D201", "diode", None, "0.5 V", "0.7 V", None, 1],
        [],
        ["Total", None, None, None, None, None, 14],
    ]
    return workbook(path, rows, ("A1:I1", "C3:E3", "A3:A4", "B3:B4"))


FAULTS = {
    3: "names no part",
    4: "stands in row 2 already",
    5: '"fish" is not a marking',
    6: '"1,234" can be read in more than one way',
    7: '"five" is no tolerance',
    8: "lowest 12 above its highest 10",
    9: "marking of a resistor",
    10: "does not tell what kind of part it is",
    11: "says 3 and names 2",
    12: "is a formula without its result",
    13: "runs backwards",
}
"""What is wrong with each row of `faulty`."""
SOUND = 3


def faulty(path: Path) -> Path:
    """A list in which all but two rows are wrong, each in a way of its own."""
    rows: list[list[Cell]] = [
        ["part", "kind", "value", "tolerance", "min", "max", "qty"],
        ["R1", None, "4k7", "5%"],
        [None, None, "10k", "5%"],
        ["r1", None, "4k7", "5%"],
        ["R2", None, "fish", "5%"],
        ["R3", None, "1,234", "5%"],
        ["R4", None, "1k", "five"],
        ["R5", None, None, None, 12, 10],
        ["R6", None, "100n", "10%"],
        ["T7", None, "1k", "5%"],
        ["R8, R9", None, "1k", "5%", None, None, 3],
        ["R10", None, "=B2*2", "5%"],
        ["R30-R20", None, "1k", "5%"],
        ["C1-C2", "film", "100n", "10%", None, None, 2],
    ]
    return workbook(path, rows)
