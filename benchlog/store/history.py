"""What a designator has been: what sat there and why, what it should have read, and every reading of every visit."""

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from benchlog.domain.designator import fold
from benchlog.domain.unit import FittedItem, Round, Unit, Visit
from benchlog.store import query_unit
from benchlog.store.migrations import LIBRARY
from benchlog.store.opening import reading
from benchlog.store.places import LIBRARY_FILE
from benchlog.store.query_unit import KeptReading


@dataclass(frozen=True, slots=True)
class Sat:
    """A fitted item, and the visit in which it was fitted; empty where it came with the unit."""

    item: FittedItem
    visit: str = ""


@dataclass(frozen=True, slots=True)
class Written:
    """What a measure of a fitted item should read, as it was written once; `until` None while it holds.

    `misprint` says that the sheet is wrong here, and `note` who says so.
    """

    id: str
    fitted: str
    measure: str
    text: str
    origin: str
    misprint: bool
    note: str
    at: str
    until: str | None


@dataclass(frozen=True, slots=True)
class PartHistory:
    """Everything about one designator; all of it oldest first. Withdrawn readings are among them."""

    sat: tuple[Sat, ...] = ()
    written: tuple[Written, ...] = ()
    readings: tuple[KeptReading, ...] = ()
    visits: tuple[Visit, ...] = ()
    rounds: tuple[Round, ...] = ()

    def of(self, measure: str) -> "PartHistory":
        """The same of one of its measures alone."""
        return replace(
            self,
            written=tuple(one for one in self.written if one.measure == measure),
            readings=tuple(one for one in self.readings if one.reading.measure == measure),
        )

    def round_of(self, kept: KeptReading) -> Round | None:
        """In which pass it was read."""
        return next((one for one in self.rounds if one.id == kept.reading.round), None)

    def visit_of(self, kept: KeptReading) -> Visit | None:
        """In which stay it was read."""
        return next((one for one in self.visits if one.id == kept.reading.visit), None)


@dataclass(frozen=True, slots=True)
class OfAnotherUnit:
    """The same designator in another unit of the same model: its newest reading that counts, and in which stay."""

    unit: Unit
    part: str
    kept: KeptReading | None = None
    visit: Visit | None = None


def part_history(library: Path, unit_id: str, part_id: str) -> PartHistory:
    """Everything the library knows of a part."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        sat, written = _sat(connection, part_id), _written(connection, part_id)
    visits = query_unit.visits(library, unit_id)
    kept = query_unit.readings_of(library, part_id)
    read_in = {one.reading.visit for one in kept}
    rounds = [one for visit in visits if visit.id in read_in for one in query_unit.rounds(library, visit.id)]
    return PartHistory(sat, written, kept, visits, tuple(rounds))


def _sat(connection: sqlite3.Connection, part_id: str) -> tuple[Sat, ...]:
    found = connection.execute(
        "SELECT id, part, marking, reason, since, until, coalesce(visit, '') FROM fitted"
        " WHERE part = ? ORDER BY since, rowid",
        (part_id,),
    ).fetchall()
    return tuple(Sat(FittedItem(*row[:6]), row[6]) for row in found)


def _written(connection: sqlite3.Connection, part_id: str) -> tuple[Written, ...]:
    found = connection.execute(
        "SELECT expectation.id, fitted, measure, text, origin, misprint, note, at, expectation.until"
        " FROM expectation JOIN fitted ON fitted.id = expectation.fitted WHERE fitted.part = ?"
        " ORDER BY at, expectation.rowid",
        (part_id,),
    ).fetchall()
    return tuple(
        Written(id_, fitted, measure, text, origin, bool(misprint), *rest)
        for id_, fitted, measure, text, origin, misprint, *rest in found
    )


def of_other_units(
    library: Path, unit: Unit, designator: str, measure: str = ""
) -> tuple[OfAnotherUnit, ...]:
    """The same measure of the same designator in the other units of the model, by their names; none without a model."""
    wanted = fold(unit.model)
    if not wanted:
        return ()
    alike = [
        one
        for one in query_unit.units(library)
        if one.id != unit.id and fold(one.model) == wanted and fold(one.maker) == fold(unit.maker)
    ]
    called = fold(designator)
    return tuple(
        _newest(library, other, part, measure)
        for other in alike
        for part, name in _parts_of(library, other.id)
        if fold(name) == called
    )


def _parts_of(library: Path, unit_id: str) -> list[tuple[str, str]]:
    """Id and designator of each part of a unit."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        found = connection.execute(
            "SELECT part.id, part.designator FROM board JOIN part ON part.board = board.id WHERE board.unit = ?",
            (unit_id,),
        ).fetchall()
    return [(str(id_), str(designator)) for id_, designator in found]


def _newest(library: Path, unit: Unit, part_id: str, measure: str) -> OfAnotherUnit:
    read = query_unit.readings_of(library, part_id)
    kept = newest(one for one in read if one.reading.measure == measure)
    visits = {one.id: one for one in query_unit.visits(library, unit.id)}
    return OfAnotherUnit(unit, part_id, kept, visits.get(kept.reading.visit) if kept is not None else None)


def newest(kept: Iterable[KeptReading]) -> KeptReading | None:
    """The newest reading that counts, with the leads forward; None where there is none."""
    found = [one for one in kept if counts(one)]
    return found[-1] if found else None


def counts(kept: KeptReading) -> bool:
    """Whether a reading stands for the part: not taken back, the leads the usual way round."""
    return not kept.withdrawn and kept.reading.conditions.leads != "reversed"


def parts_of_items(library: Path, unit_id: str) -> dict[str, str]:
    """The part's id of every item that ever sat in a unit, by the item's id."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        found = connection.execute(
            "SELECT fitted.id, part.id FROM board JOIN part ON part.board = board.id"
            " JOIN fitted ON fitted.part = part.id WHERE board.unit = ?",
            (unit_id,),
        ).fetchall()
    return dict(found)
