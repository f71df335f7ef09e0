"""Rounds over some parts in an order of their own: planned once, kept with the round, gone on with weeks later."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from benchlog.domain.charge import Charge
from benchlog.domain.unit import Round, RoundKind
from benchlog.store import edit, query_unit
from benchlog.store.changes import Value
from benchlog.store.ids import new_id
from benchlog.store.library import Library
from benchlog.store.migrations import LIBRARY
from benchlog.store.opening import reading
from benchlog.store.places import LIBRARY_FILE


def begin(
    library: Library, visit: str, kind: RoundKind, before: Round | None, title: str, parts: Sequence[str]
) -> Round:
    """Begin a round; the one under way ends. `parts` are ids in the order they are taken; empty for all of the unit."""
    with library.act(f"begin a round {kind}{': ' if title else ''}{title}") as act:
        if before is not None and before.ended is None:
            edit.end_round(library, before.id)
        made = edit.start_round(library, visit, kind, title)
        for place, part in enumerate(parts, start=1):
            act.insert("round_part", {"id": new_id(), "round": made.id, "part": part, "place": place})
    return made


def go_on(library: Library, again: Round, before: Round | None) -> None:
    """Go on with a round that has ended; the one under way ends."""
    with library.act("go on with a round") as act:
        if before is not None and before.ended is None and before.id != again.id:
            edit.end_round(library, before.id)
        act.update("round", again.id, {"ended": None})


def planned(library: Path, round_id: str) -> tuple[str, ...]:
    """The parts of a round by their ids, in the order they are taken; empty where it goes over all of the unit."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        if not _knows(connection, "round_part"):
            return ()
        found = connection.execute("SELECT part FROM round_part WHERE round = ? ORDER BY place", (round_id,))
        return tuple(part for (part,) in found)


def listed(library: Path, unit_id: str) -> tuple[str, ...]:
    """The parts of a unit by their ids as they were listed, board after board."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        found = connection.execute(
            "SELECT part.id FROM board JOIN part ON part.board = board.id WHERE board.unit = ?"
            " ORDER BY board.place, part.place",
            (unit_id,),
        )
        return tuple(part for (part,) in found)


def keep_charge(library: Library, visit: str, round_id: str, left: Charge) -> None:
    """Keep what was left on the boards, and with it whether they count as without charge."""
    with library.act("what the boards hold") as act:
        row: dict[str, Value] = {"id": new_id(), "visit": visit, "at": act.at}
        act.insert("charge", row | {"reservoirs": left.reservoirs, "nodes": left.nodes})
        edit.say_boards(library, visit, left.dead, round_id)


def charge(library: Path, visit: str, at: str) -> Charge:
    """What was read of the boards at the time they were last spoken of; nothing where it was not in volts."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        if not _knows(connection, "charge"):
            return Charge()
        found = connection.execute(
            "SELECT reservoirs, nodes FROM charge WHERE visit = ? AND at = ? ORDER BY rowid DESC LIMIT 1",
            (visit, at),
        ).fetchone()
    return Charge(*found) if found is not None else Charge()


def _knows(connection: sqlite3.Connection, table: str) -> bool:
    """Whether a library has a table: one of before that could not be written to is read as it is."""
    return connection.execute("SELECT 1 FROM sqlite_schema WHERE name = ?", (table,)).fetchone() is not None


@dataclass(frozen=True, slots=True)
class RoundLine:
    """A round with how many parts it goes over (None: all of the unit) and of how many it has a reading."""

    round: Round
    parts: int | None
    read: int


def lines(library: Path, visit_id: str) -> tuple[RoundLine, ...]:
    """The rounds of a visit, newest first."""
    found = []
    for one in reversed(query_unit.rounds(library, visit_id)):
        parts = planned(library, one.id)
        kept = query_unit.round_results(library, one.id)
        read = {
            reading.reading.fitted for reading in kept if not reading.withdrawn and reading.reading.fitted
        }
        found.append(RoundLine(one, len(parts) or None, len(read)))
    return tuple(found)
