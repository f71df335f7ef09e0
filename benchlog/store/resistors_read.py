"""What was read in a visit of the resistors that idle is measured across."""

from collections.abc import Collection
from datetime import datetime
from pathlib import Path

from benchlog.domain.reading import Function, Outcome
from benchlog.domain.trim import ResistorRead
from benchlog.store import query_unit
from benchlog.store.migrations import LIBRARY
from benchlog.store.opening import reading
from benchlog.store.places import LIBRARY_FILE


def read_in(library: Path, visit: str, parts: Collection[str], now: datetime) -> tuple[ResistorRead, ...]:
    """The readings of these designators in ohms, the newest first; how old they are is counted from `now`, in UTC.

    Only of what sits there now: a resistor that was taken out says nothing of the one in its place.
    """
    wanted = {part.casefold() for part in parts}
    if not visit or not wanted:
        return ()
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        gone = {id_ for (id_,) in connection.execute("SELECT id FROM fitted WHERE until IS NOT NULL")}
    found = []
    for kept in query_unit.visit_results(library, visit):
        one = kept.reading
        ohms = one.function in (Function.OHMS, Function.OHMS_4W)
        if kept.withdrawn or not ohms or one.value is None or one.outcome is not Outcome.OK:
            continue
        if one.designator.casefold() in wanted and one.fitted not in gone:
            found.append(
                ResistorRead(
                    one.designator,
                    one.value,
                    four_wire=one.function is Function.OHMS_4W,
                    nulled=one.nulled is not None,
                    resolution=one.resolution,
                    age=(now - datetime.fromisoformat(one.taken)).total_seconds(),
                )
            )
    return tuple(reversed(found))
