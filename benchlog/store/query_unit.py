"""What is asked of the library: units, visits, parts, rounds and their readings.

`library` is the folder. Every call opens `library.db` read-only, selects and closes it; none
needs the lock.
"""

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from benchlog.domain.asking import Subject
from benchlog.domain.designator import natural
from benchlog.domain.expectation import Origin
from benchlog.domain.kind import Kind
from benchlog.domain.measures import Measure
from benchlog.domain.reading import Function
from benchlog.domain.unit import (
    Board,
    FittedItem,
    Part,
    PartReading,
    Round,
    RoundKind,
    Unit,
    Visit,
)
from benchlog.errors import BadInput
from benchlog.store.migrations import LIBRARY
from benchlog.store.opening import plain_words, reading
from benchlog.store.part_rows import COLUMNS, is_kept, reading_of_row
from benchlog.store.places import LIBRARY_FILE
from benchlog.textfile import did_you_mean

_READING = ", ".join(f"reading.{name}" for name in COLUMNS)
_PART = (
    "board.id, board.unit, board.name, board.place, part.id, part.designator, part.kind, part.function,"
    " part.in_circuit, part.note, part.measures, fitted.id, fitted.marking, fitted.reason, fitted.since"
)


@dataclass(frozen=True, slots=True)
class Expected:
    """What a fitted item should read, as written; of which measure, empty for the part's own value."""

    id: str
    text: str
    origin: str
    measure: str = ""


@dataclass(frozen=True, slots=True)
class PartLine:
    """One measure of a part, with what is fitted there now and what was said of what that should read."""

    board: Board
    part: Part
    fitted: FittedItem
    measure: Measure
    expected: tuple[Expected, ...] = ()

    @property
    def designator(self) -> str:
        """How it is called at the bench: `R12`, `Q7L be`."""
        return self.part.called(self.measure.word)

    @property
    def should_read(self) -> Expected | None:
        """What was said of this measure."""
        return self.said_of(self.measure.word)

    @property
    def subject(self) -> Subject:
        """The same as what a reading is judged by."""
        said, own = self.should_read, self.said_of("")
        return Subject(
            part=self.part,
            measure=self.measure,
            marking=self.fitted.marking,
            should_read=said.text if said is not None else "",
            origin=Origin(said.origin) if said is not None else Origin.SHEET,
            own=own.text if own is not None else "",
        )

    def said_of(self, word: str) -> Expected | None:
        """What was said of one of its measures."""
        return next((one for one in self.expected if one.measure == word), None)


@dataclass(frozen=True, slots=True)
class Judged:
    """What a reading was found to prove; limits and value in `unit` (SI), `uncertainty` expanded."""

    verdict: str
    rule: str
    reason: str
    expected: str
    low: float | None
    high: float | None
    value: float | None
    uncertainty: float | None
    coverage: float | None
    probability: float | None
    unit: str
    near_limit: bool
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class KeptReading:
    """A part reading with its latest verdict; `withdrawn` if it was taken back."""

    reading: PartReading
    judgement: Judged | None = None
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class OpenItem:
    """Something that must be put back before hand-over; `closed` None while it is open."""

    id: str
    visit: str
    part: str
    kind: str
    text: str
    opened: str
    closed: str | None


@dataclass(frozen=True, slots=True)
class BoardsState:
    """Whether the boards of a unit were found without charge, when that was said, and whether power came after it.

    `dead` is None where nobody said; a unit that was on since may be charged again.
    """

    dead: bool | None = None
    at: str = ""
    powered_since: bool = False

    @property
    def holds(self) -> bool | None:
        """What may be built on now."""
        return None if self.powered_since else self.dead


def units(library: Path) -> tuple[Unit, ...]:
    """Every unit, by name."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        pairs = connection.execute("SELECT unit, designator, other FROM pair ORDER BY rowid").fetchall()
        found = connection.execute(
            "SELECT id, name, maker, model, serial, mains, mirror, note FROM unit ORDER BY name COLLATE NOCASE, rowid"
        ).fetchall()
    return tuple(
        Unit(
            id_,
            name,
            maker,
            model,
            serial,
            mains,
            tuple(mirror.split("\n")) if mirror else (),
            {one: other for unit, one, other in pairs if unit == id_},
            note,
        )
        for id_, name, maker, model, serial, mains, mirror, note in found
    )


def find_unit(library: Path, wanted: str) -> Unit:
    """The unit meant by its id, name or serial number; `BadInput` if there is none, or several."""
    known = units(library)
    named = wanted.strip().casefold()
    found = [unit for unit in known if named in {unit.id, unit.name.casefold(), unit.serial.casefold()}]
    if not found:
        names = [unit.name for unit in known]
        listed = f"there are: {', '.join(names)}" if names else "make it from its unit file first"
        raise BadInput(wanted, "is no unit of this library", did_you_mean(wanted, names) or listed)
    if len(found) > 1:
        raise BadInput(wanted, f"is the name of {len(found)} units", "give the serial number or the id")
    return found[0]


def visits(library: Path, unit_id: str) -> tuple[Visit, ...]:
    """The stays of a unit, oldest first."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        found = connection.execute(
            "SELECT id, unit, number, complaint, mains, opened, closed FROM visit WHERE unit = ? ORDER BY number",
            (unit_id,),
        ).fetchall()
    return tuple(Visit(*row) for row in found)


def last_visit(library: Path, unit_id: str) -> Visit | None:
    """The newest stay of a unit, over or not."""
    found = visits(library, unit_id)
    return found[-1] if found else None


def boards(library: Path, unit_id: str) -> tuple[Board, ...]:
    """The boards of a unit, in their order."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        found = connection.execute(
            "SELECT id, unit, name, place FROM board WHERE unit = ? ORDER BY place", (unit_id,)
        ).fetchall()
    return tuple(Board(*row) for row in found)


def parts(library: Path, unit_id: str) -> tuple[PartLine, ...]:
    """What is to be measured at the parts of a unit, with what is fitted now.

    By board, then by natural order of designators, then in the order in which a part's measures are taken.
    """
    path = library / LIBRARY_FILE
    with plain_words(path), reading(path, LIBRARY) as connection:
        found = connection.execute(
            f"SELECT {_PART} FROM board JOIN part ON part.board = board.id"  # noqa: S608
            " JOIN fitted ON fitted.part = part.id AND fitted.until IS NULL WHERE board.unit = ?",
            (unit_id,),
        ).fetchall()
        expected = _expected(connection, unit_id)
        lines = [line for row in found for line in _part_lines(row, expected)]
    return tuple(sorted(lines, key=lambda line: (line.board.place, natural(line.part.designator))))


def _expected(connection: sqlite3.Connection, unit_id: str) -> dict[str, list[Expected]]:
    """What holds now for each fitted item of a unit."""
    by_item: dict[str, list[Expected]] = {}
    for fitted, id_, text, origin, measure in connection.execute(
        "SELECT expectation.fitted, expectation.id, expectation.text, expectation.origin, expectation.measure"
        " FROM board JOIN part ON part.board = board.id JOIN fitted ON fitted.part = part.id"
        " JOIN expectation ON expectation.fitted = fitted.id"
        " WHERE board.unit = ? AND expectation.until IS NULL ORDER BY expectation.rowid",
        (unit_id,),
    ):
        by_item.setdefault(fitted, []).append(Expected(id_, text, origin, measure))
    return by_item


def _part_lines(row: tuple[str, ...], expected: dict[str, list[Expected]]) -> Iterator[PartLine]:
    board = Board(row[0], row[1], row[2], int(row[3]))
    function = Function(row[7]) if row[7] else None
    asked = tuple(row[10].splitlines())
    part = Part(row[4], board.id, row[5], Kind(row[6]), function, bool(row[8]), row[9], asked)
    fitted = FittedItem(row[11], part.id, row[12], row[13], row[14])
    for measure in part.asked:
        yield PartLine(board, part, fitted, measure, tuple(expected.get(fitted.id, ())))


def rounds(library: Path, visit_id: str) -> tuple[Round, ...]:
    """The passes of a visit, oldest first."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        found = connection.execute(
            "SELECT id, visit, kind, title, started, ended FROM round WHERE visit = ? ORDER BY started, rowid",
            (visit_id,),
        ).fetchall()
    with plain_words(library / LIBRARY_FILE):
        return tuple(Round(id_, visit, RoundKind(kind), *rest) for id_, visit, kind, *rest in found)


def round_results(library: Path, round_id: str) -> tuple[KeptReading, ...]:
    """The readings of a round with their verdicts, in the order they were taken; withdrawn ones too."""
    return _kept(library, "reading.round = ?", round_id)


def readings_of(library: Path, part_id: str) -> tuple[KeptReading, ...]:
    """Every reading of a part over all its fitted items and visits, in the order they were taken."""
    return _kept(library, "reading.fitted IN (SELECT id FROM fitted WHERE part = ?)", part_id)


def visit_results(library: Path, visit_id: str) -> tuple[KeptReading, ...]:
    """Every reading of a visit over all its rounds, in the order they were taken."""
    return _kept(library, "reading.visit = ?", visit_id)


def unplaced(library: Path, visit_id: str) -> tuple[KeptReading, ...]:
    """Readings of a visit that are on no part yet."""
    return _kept(library, "reading.visit = ? AND reading.fitted IS NULL", visit_id)


def _kept(library: Path, which: str, id_: str) -> tuple[KeptReading, ...]:
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        found = connection.execute(
            f"SELECT {_READING}, withdrawn.id IS NOT NULL, judgement.verdict, judgement.rule, judgement.reason,"  # noqa: S608
            " judgement.expected, judgement.low, judgement.high, judgement.value, judgement.uncertainty,"
            " judgement.coverage, judgement.probability, judgement.unit, judgement.near_limit, judgement.notes"
            " FROM reading LEFT JOIN withdrawn ON withdrawn.id = reading.id"
            " LEFT JOIN judgement ON judgement.rowid ="
            " (SELECT max(rowid) FROM judgement WHERE judgement.reading = reading.id)"
            f" WHERE {which} ORDER BY reading.taken, reading.rowid",
            (id_,),
        ).fetchall()
    width = len(COLUMNS)
    with plain_words(library / LIBRARY_FILE):
        return tuple(
            KeptReading(reading_of_row(row[:width]), _judged(row[width + 1 :]), bool(row[width]))
            for row in found
        )


def _judged(row: tuple[Any, ...]) -> Judged | None:
    if row[0] is None:
        return None
    judged = Judged(*row)
    return replace(judged, near_limit=bool(row[-2]), notes=tuple(row[-1].split("\n")) if row[-1] else ())


def has_reading(library: Path, reading_id: str) -> bool:
    """Whether the library has the reading with this id."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        return is_kept(connection, reading_id)


def open_list(library: Path, visit_id: str) -> tuple[OpenItem, ...]:
    """What stands on the open list of a visit, the closed items too, oldest first."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        found = connection.execute(
            "SELECT id, visit, coalesce(part, ''), kind, text, opened, closed FROM open_item"
            " WHERE visit = ? ORDER BY opened, rowid",
            (visit_id,),
        ).fetchall()
    return tuple(OpenItem(*row) for row in found)


def still_open(library: Path, unit_id: str) -> tuple[OpenItem, ...]:
    """What was not put back yet in any stay of a unit, oldest first: handing it over so does not put it back."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        found = connection.execute(
            "SELECT open_item.id, visit, coalesce(part, ''), kind, text, open_item.opened, open_item.closed"
            " FROM open_item JOIN visit ON visit.id = open_item.visit"
            " WHERE visit.unit = ? AND open_item.closed IS NULL ORDER BY open_item.opened, open_item.rowid",
            (unit_id,),
        ).fetchall()
    return tuple(OpenItem(*row) for row in found)


def open_items(library: Path, visit: Visit) -> tuple[OpenItem, ...]:
    """The open list of a visit, and before it what an earlier one left open: it is as open as it was then."""
    left = [item for item in still_open(library, visit.unit) if item.visit != visit.id]
    return (*left, *open_list(library, visit.id))


def boards_state(library: Path, visit: Visit, when: str = "") -> BoardsState:
    """Whether the boards were found without charge in this stay, as it was said last.

    Any run that ended later voids it, also one that names no unit. `when` asks how it stood at a UTC time.
    """
    until = when or "9"  # later than any year
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        # A library of before that could not be written to is read as it is.
        known = connection.execute("SELECT 1 FROM sqlite_schema WHERE name = 'boards_dead'").fetchone()
        if known is None:
            return BoardsState()
        said = connection.execute(
            "SELECT dead, at FROM boards_dead WHERE visit = ? AND at <= ? ORDER BY rowid DESC LIMIT 1",
            (visit.id, until),
        ).fetchone()
        if said is None:
            return BoardsState()
        dead, at = said
        powered = connection.execute(
            "SELECT 1 FROM session WHERE unit IN (?, '') AND (ended = '' OR ended >= ?) AND started <= ?",
            (visit.unit, at, until),
        ).fetchone()
    return BoardsState(None if dead is None else bool(dead), at, powered is not None)
