"""The parts of a unit: a list of them taken in from a file, listed, or read with a meter.

`parts import UNIT FILE` shows what every row was understood as and changes nothing; with --yes it takes it in.
"""

import argparse
import json
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from benchlog import folders, sheetfile
from benchlog.commands.parts_reading import add_reading_arguments, read_parts
from benchlog.domain.designator import fold
from benchlog.domain.partsheet import PartSheet, read_sheet
from benchlog.domain.sheetheads import Column, Layout, guess
from benchlog.domain.unit import PartEntry, Unit, UnitFile
from benchlog.errors import BadInput, Fault
from benchlog.store import edit, edit_boards, query_unit
from benchlog.store.edit_boards import FIRST_BOARD, Placed
from benchlog.store.library import Library
from benchlog.store.query_unit import PartLine

DONE, FAULTY = 0, 2


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare import, list and read, each with its own options."""
    # The parser behind --library is ours; the three below are plain ones of its kind.
    ways = parser.add_subparsers(dest="way", required=True, metavar="import|list|read")
    taking = _way(ways, "import", "take in parts from CSV, TSV or a workbook (.xlsx); shows them first")
    taking.add_argument("file", metavar="FILE", help="the file, or - for what is piped in")
    taking.add_argument("--board", default="", help="the board of parts of which none is said")
    taking.add_argument("--sheet", default="", help="which sheet of a workbook")
    taking.add_argument(
        "--tolerance", default="", metavar="5%%", help="how far a value may be off that has none"
    )
    taking.add_argument(
        "--column",
        action="append",
        default=[],
        metavar="N=WHAT",
        help=f"what column N (from 1) holds: {', '.join(Column)}",
    )
    taking.add_argument("--new", action="store_true", help="make the unit where there is none of that name")
    taking.add_argument("--yes", action="store_true", help="take them in; without it nothing is changed")
    taking.add_argument("--leave-faulty", action="store_true", help="with --yes: leave the faulty rows out")
    listing = _way(ways, "list", "the parts of a unit with what they should read")
    listing.add_argument("word", nargs="*", metavar="WORD", help="only parts in whose line each word stands")
    add_reading_arguments(_way(ways, "read", "take parts with a meter, one after the other, and judge them"))


def _way(ways: Any, name: str, about: str) -> argparse.ArgumentParser:
    made: argparse.ArgumentParser = ways.add_parser(name, help=about, description=about)
    made.add_argument("unit", metavar="UNIT", help="its name, serial number or id")
    made.add_argument("--json", action="store_true", help="JSON in place of words")
    return made


def run(args: argparse.Namespace) -> int:
    """Do what was asked for."""
    if args.way == "import":
        return _import(args)
    if args.way == "list":
        return _list(args)
    return read_parts(args)


# --- import --------------------------------------------------------------------------------------


def _import(args: argparse.Namespace) -> int:
    """Show what a file holds, and take it in where that was said."""
    name = "piped in" if args.file == "-" else Path(args.file).name
    grid = (
        sheetfile.from_bytes(sys.stdin.buffer.read(), name)
        if args.file == "-"
        else sheetfile.read(Path(args.file), args.sheet)
    )
    layout = _layout(guess(grid), args.column)
    folder = folders.library(args.library)
    if not args.yes:
        unit, known = _known(folder, args)
        board = _board(folder, unit, args.board)
        found = read_sheet(grid, layout, known, board=board, tolerance=args.tolerance)
        _show(found, args)
        return FAULTY if found.faulty or found.lacking else DONE
    with Library.open(folder) as library:
        return _take_in(library, grid, layout, args)


def _take_in(library: Library, grid: sheetfile.Grid, layout: Layout, args: argparse.Namespace) -> int:
    unit, known = _known(library.folder, args)
    board = _board(library.folder, unit, args.board)
    found = read_sheet(grid, layout, known, board=board, tolerance=args.tolerance)
    if found.lacking or (found.faulty and not args.leave_faulty):
        _show(found, args)
        raise BadInput.of(
            [*found.faults(), Fault(grid.name, "nothing was taken in", "mend it, or add --leave-faulty")]
        )
    label = f"{len(found.parts)} parts of {grid.name}"
    with library.act(label):
        unit = unit or edit.create_unit(library, UnitFile(name=args.unit))
        edit_boards.take_in(library, unit.id, [Placed(one.board, one.entry) for one in found.parts], label)
    _show(found, args, taken=True)
    return DONE


def _known(library: Path, args: argparse.Namespace) -> tuple[Unit | None, Mapping[str, set[str]]]:
    """The unit, and what each of its boards has; none where it is to be made."""
    try:
        unit = query_unit.find_unit(library, args.unit)
    except BadInput as error:
        if not args.new or "is no unit" not in error.problem:
            raise
        return None, {}
    known: dict[str, set[str]] = {}
    for line in query_unit.parts(library, unit.id):
        known.setdefault(fold(line.board.name), set()).add(fold(line.part.designator))
    return unit, known


def _board(library: Path, unit: Unit | None, said: str) -> str:
    """Where parts go of which no board is said: as asked, else the unit's first board."""
    boards = query_unit.boards(library, unit.id) if unit is not None and not said else ()
    return said or (boards[0].name if boards else FIRST_BOARD)


def _layout(layout: Layout, said: list[str]) -> Layout:
    """The guessed layout with what a person says of single columns."""
    for one in said:
        number, _, what = one.partition("=")
        word = " ".join(what.split())
        if not number.isdigit() or not 1 <= int(number) <= len(layout.headings):
            raise BadInput(
                "--column", f'"{one}" names no column', f"count them from 1 to {len(layout.headings)}"
            )
        if word not in tuple(Column):
            raise BadInput("--column", f'"{word}" is nothing a column holds', f"one of: {', '.join(Column)}")
        layout = layout.with_column(int(number) - 1, Column(word))
    return layout


def _show(found: PartSheet, args: argparse.Namespace, *, taken: bool = False) -> None:
    if args.json:
        print(json.dumps(_sheet_object(found, taken=taken), ensure_ascii=False))
        return
    for one in found.parts:
        print(f"{found.grid.counts} {one.number}: {_told(one.entry)}, on {one.board}")
    for beside in found.beside:
        print(f"{found.grid.counts} {beside.number}: left out, {beside.why}: {beside.text}")
    if not taken:
        for fault in found.faults():
            print(fault, file=sys.stderr)
    parts = f"{len(found.parts)} {'part' if len(found.parts) == 1 else 'parts'}"
    out = f", {len(found.faulty)} {found.grid.counts}s with something wrong" if found.faulty else ""
    if taken:
        print(f"{parts} taken in{out}.")
    else:
        print(f"{parts} to take in{out}; nothing was changed. --yes takes them in.")


def _sheet_object(found: PartSheet, *, taken: bool) -> dict[str, Any]:
    return {
        "file": found.grid.name,
        "sheet": found.grid.sheet or None,
        "taken": taken,
        "said": list(found.said),
        "columns": [
            {"heading": one.text, "holds": one.column, "unit": one.unit or None}
            for one in found.layout.headings
        ],
        "parts": [
            {"number": one.number, "board": one.board, **_entry_object(one.entry)} for one in found.parts
        ],
        "faults": [
            {"number": one.number, "text": one.text, "problem": one.problem, "fix": one.fix}
            for one in found.faulty
        ],
        "left_out": [{"number": one.number, "text": one.text, "why": one.why} for one in found.beside],
        "lacking": found.lacking or None,
    }


# --- list ----------------------------------------------------------------------------------------


def _list(args: argparse.Namespace) -> int:
    library = folders.library(args.library)
    unit = query_unit.find_unit(library, args.unit)
    # One line a part, whatever is measured at it.
    lines = {line.part.id: line for line in query_unit.parts(library, unit.id)}
    for line in lines.values():
        entry = entry_of(line)
        said = f"{_told(entry)}, on {line.board.name}"
        if all(word.casefold() in said.casefold() for word in args.word):
            made = {"id": line.part.id, "board": line.board.name, **_entry_object(entry)}
            print(json.dumps(made, ensure_ascii=False) if args.json else said)
    return DONE


def entry_of(line: PartLine) -> PartEntry:
    """A part of the library as a unit file would list it."""
    part = line.part
    told = line.said_of("")
    return PartEntry(
        designator=part.designator,
        kind=part.kind,
        marking=line.fitted.marking,
        should_read=told.text if told is not None else "",
        function=part.function,
        in_circuit=part.in_circuit,
        measures=part.measures,
        reads={one.measure: one.text for one in line.expected if one.measure},
        note=part.note,
    )


def _told(entry: PartEntry) -> str:
    expectation = entry.expectation
    should = (
        f"should read {expectation.shown}" if expectation is not None else "nothing says what it should read"
    )
    if entry.reads:
        should = ", ".join(f"{word} should read {text}" for word, text in entry.reads.items())
    measured = [" and ".join(one.name for one in entry.asked)] if len(entry.asked) > 1 else []
    return ", ".join([entry.designator, entry.kind.replace("_", " "), *measured, should])


def _entry_object(entry: PartEntry) -> dict[str, Any]:
    expectation = entry.expectation
    return {
        "designator": entry.designator,
        "kind": entry.kind,
        "marking": entry.marking,
        "should_read": entry.should_read,
        "low": _finite(expectation.low) if expectation is not None else None,
        "high": _finite(expectation.high) if expectation is not None else None,
        "unit": expectation.unit if expectation is not None else None,
        "measures": [one.name for one in entry.asked],
        "reads": dict(entry.reads),
        "in_circuit": entry.in_circuit,
        "note": entry.note,
    }


def _finite(value: float) -> float | None:
    return value if abs(value) != float("inf") else None
