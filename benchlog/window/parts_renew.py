"""Acts at a designator, in the thread that alone writes to the library: another item, another measure, the open list.

Each is one act, one undo. What readings prove follows the measure that was taken: judged anew, older verdicts stay.
"""

from collections.abc import Sequence

from benchlog.domain.elsewhere import Proposal, carried_over
from benchlog.domain.expectation import Origin
from benchlog.domain.putback import OF_A_PART, OpenKind, line_of
from benchlog.domain.unit import FittedItem, Visit
from benchlog.errors import BadInput
from benchlog.store import edit, edit_fitted, query_unit
from benchlog.store.edit_fitted import Wanted
from benchlog.store.library import Library
from benchlog.store.query_unit import OpenItem, PartLine
from benchlog.window.parts_anew import Pair, judged_anew, keep, should_read

OURS = frozenset({"fitted", "expectation", "judgement", "open_item"})
"""What these acts write, and so what their undo may take back."""


def fit(library: Library, visit: Visit, line: PartLine, marking: str, reason: str) -> FittedItem:
    """Put a new item in the place of the one before; what was lifted or taken out there is soldered in with it."""
    at_part = [
        one
        for one in query_unit.still_open(library.folder, visit.unit)
        if one.part == line.part.id and one.kind in OF_A_PART
    ]
    known = [(one.text, Origin(one.origin), one.measure) for one in line.expected]
    wanted = [Wanted(*one) for one in carried_over(line.part, known, marking)]
    with library.act(f"fit {marking} at {line.part.designator}"):
        item = edit_fitted.replace(library, line.part.id, marking, reason, wanted, visit.id)
        for one in at_part:
            edit.close_item(library, one.id)
    return item


def take(library: Library, visit: Visit, pairs: Sequence[Pair], proposal: Proposal) -> None:
    """Judge the first of a part's measures by a proposal from now on, and what was read of it in this visit anew."""
    line, text = pairs[0].line, proposal.expectation.text
    now = should_read(pairs, text, proposal.origin)
    anew = judged_anew(library.folder, visit, now)
    with library.act(f"{line.designator} should read {text}"):
        wanted = Wanted(text, proposal.origin, line.measure.word)
        edit_fitted.take(library, line.fitted.id, wanted, proposal.whose)
        keep(library, anew)


def say_misprint(library: Library, visit: Visit, pairs: Sequence[Pair], proposal: Proposal, who: str) -> None:
    """Mark the sheet as wrong here, or take that back; what it judged is judged anew by what holds then."""
    line = pairs[0].line
    text = "" if who else proposal.expectation.text
    # Marked again, or taken back while another holds, it judges nothing either way.
    bears = proposal.holds if who else line.should_read is None
    anew = judged_anew(library.folder, visit, should_read(pairs, text, proposal.origin)) if bears else ()
    with library.act(f"misprint at {line.designator}"):
        edit_fitted.mark_misprint(library, proposal.id, who)
        keep(library, anew)


def put_on_list(library: Library, visit: Visit, kind: OpenKind, line: PartLine | None, text: str) -> str:
    """Put something on the open list; the id of the entry."""
    at = line if kind in OF_A_PART or not text.strip() else None
    said = line_of(kind, line.part.designator if line is not None else "", text)
    return edit.open_item(library, visit.id, kind.value, said, at.part.id if at is not None else "")


def put_back(library: Library, item: OpenItem) -> None:
    """Strike an entry off the open list."""
    edit.close_item(library, item.id)


def undo(library: Library) -> str:
    """Take back the newest act where it is one of these; its label. `BadInput` where it is another."""
    label, tables = library.newest()
    if not label:
        raise BadInput("undo", "finds nothing to take back", "go on")
    if not tables <= OURS:
        raise BadInput(f'"{label}"', "came last, and was not done here", "take it back where it was done")
    return library.undo()
