"""What changes at a designator: another item with what it should read, another measure for it, a misprint marked.

Each function is one act, one durable commit, one undo, as in `edit`.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from benchlog.domain.expectation import Origin
from benchlog.domain.unit import FittedItem
from benchlog.errors import BadInput
from benchlog.store import edit
from benchlog.store.library import Library


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a new item should read: as written, where that comes from, of which measure (empty: its own value)."""

    text: str
    origin: Origin
    measure: str = ""


def replace(
    library: Library, part_id: str, marking: str, reason: str, wanted: Iterable[Wanted], visit_id: str = ""
) -> FittedItem:
    """Put a new item in the place of the one before, with what it should read; the old one keeps its readings."""
    if not marking.strip():
        raise BadInput("marking", "is empty", "write what is printed on the new one")
    with library.act(f"fit {marking}"):
        item = edit.fit(library, part_id, marking, reason, visit_id)
        for one in wanted:
            edit.expect(library, item.id, one.text, one.origin, one.measure)
    return item


def take(library: Library, fitted_id: str, wanted: Wanted, note: str = "") -> str:
    """Have an item judged by another measure from now on, which came from `note`; the expectation's id."""
    with library.act(f"should read {wanted.text}") as act:
        id_ = edit.expect(library, fitted_id, wanted.text, wanted.origin, wanted.measure)
        if note:
            act.update("expectation", id_, {"note": note})
    return id_


def mark_misprint(library: Library, expectation_id: str, who: str) -> None:
    """Say that the sheet is wrong here, and who says so: it judges nothing any more. Without `who` it is taken back.

    Taken back it holds again, unless something else took its place.
    """
    with library.act("misprint in the sheet" if who else "no misprint after all") as act:
        row = act.connection.execute(
            "SELECT fitted, measure, until FROM expectation WHERE id = ?", (expectation_id,)
        ).fetchone()
        if row is None:
            raise BadInput(expectation_id, "is nothing that was written down here", "list it anew")
        fitted, measure, until = row
        if who:
            values = {"misprint": 1, "note": who, "until": until or act.at}
        else:
            other = act.connection.execute(
                "SELECT 1 FROM expectation WHERE fitted = ? AND measure = ? AND until IS NULL",
                (fitted, measure),
            ).fetchone()
            values = {"misprint": 0, "note": "", "until": until if other else None}
        act.update("expectation", expectation_id, values)
