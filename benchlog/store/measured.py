"""Which measures a part has, and how more of them are asked for."""

from collections.abc import Iterable

from benchlog.domain.kind import Kind
from benchlog.domain.measures import asked_of
from benchlog.domain.reading import Function
from benchlog.domain.unit import Part
from benchlog.errors import BadInput
from benchlog.store.changes import Act
from benchlog.store.library import Library


def call_up(library: Library, part_id: str, words: Iterable[str]) -> None:
    """Have more measured at a part than was asked for; `BadInput` where its kind has no such measure."""
    with library.act("measure more at a part") as act:
        part = part_of(act, part_id)
        wanted = [part.measure(word).name for word in words]
        asked = [one.name for one in part.asked]
        more = asked_of(part.kind, (*asked, *wanted), part.function)
        if len(more) > len(asked):
            act.update("part", part_id, {"measures": "\n".join(one.name for one in more)})


def part_of(act: Act, part_id: str) -> Part:
    """What is known of a part for its measures."""
    row = act.connection.execute(
        "SELECT board, designator, kind, function, measures FROM part WHERE id = ?", (part_id,)
    ).fetchone()
    if row is None:
        raise BadInput(part_id, "is no part of this library", "list the parts of the unit")
    function = Function(row[3]) if row[3] else None
    return Part(part_id, row[0], row[1], Kind(row[2]), function, measures=tuple(row[4].splitlines()))
