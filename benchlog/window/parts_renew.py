"""Acts at a designator, in the thread that alone writes to the library: another item, another measure, the open list.

Each is one act, one undo. What readings prove follows the measure that was taken: judged anew, older verdicts stay.
"""

from dataclasses import replace
from pathlib import Path

from benchlog.domain.asking import question_of
from benchlog.domain.elsewhere import Proposal, carried_over
from benchlog.domain.expectation import Origin
from benchlog.domain.judging import judge
from benchlog.domain.putback import OF_A_PART, OpenKind, line_of
from benchlog.domain.unit import FittedItem, Visit
from benchlog.domain.verdict import Judgement
from benchlog.errors import BadInput
from benchlog.store import edit, edit_fitted, query_unit
from benchlog.store.edit_fitted import Wanted
from benchlog.store.library import Library
from benchlog.store.query_unit import KeptReading, OpenItem, PartLine
from benchlog.window.parts_book import is_turned

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


def take(library: Library, visit: Visit, line: PartLine, other: PartLine | None, proposal: Proposal) -> None:
    """Judge a part by a proposal from now on, and what was read of it in this visit anew."""
    text = proposal.expectation.text
    anew = judged_anew(library.folder, visit, line, other, text)
    with library.act(f"{line.part.designator} should read {text}"):
        wanted = Wanted(text, proposal.origin, line.measure.word)
        edit_fitted.take(library, line.fitted.id, wanted, proposal.whose)
        _judge(library, anew, text)


def say_misprint(
    library: Library, visit: Visit, line: PartLine, other: PartLine | None, proposal: Proposal, who: str
) -> None:
    """Mark the sheet as wrong here, or take that back; what it judged is judged anew by what holds then."""
    text = "" if who else proposal.expectation.text
    holds = proposal.holds or not who
    anew = judged_anew(library.folder, visit, line, other, text) if holds else []
    with library.act(f"misprint at {line.part.designator}"):
        edit_fitted.mark_misprint(library, proposal.id, who)
        _judge(library, anew, text)


def judged_anew(
    folder: Path, visit: Visit, line: PartLine, other: PartLine | None, should_read: str
) -> list[tuple[KeptReading, Judgement]]:
    """What the readings of an item in a visit prove by another measure, each beside the other side of its round."""
    own = _of_item(folder, visit, line)
    beside = _of_item(folder, visit, other) if other is not None else []
    found = []
    for round_ in dict.fromkeys(one.reading.round for one in own):
        here = [one for one in own if one.reading.round == round_]
        forward = next((one for one in reversed(here) if not is_turned(one)), None)
        if forward is None:
            continue
        turned = here[-1] if is_turned(here[-1]) else None
        there = [one for one in beside if one.reading.round == round_ and not is_turned(one)]
        question = question_of(
            replace(line.subject, should_read=should_read),
            forward.reading,
            other=there[-1].reading if there else None,
            turned=turned.reading if turned is not None else None,
            dead_board=query_unit.boards_state(folder, visit, forward.reading.taken).holds,
        )
        try:
            judgement = judge(question)
        except BadInput:
            continue  # something is still to be said of it before anything can be
        found += [(one, judgement) for one in (forward, turned) if one is not None]
    return found


def _of_item(folder: Path, visit: Visit, line: PartLine) -> list[KeptReading]:
    """The readings of one measure of an item in one visit that count."""
    return [
        one
        for one in query_unit.readings_of(folder, line.part.id)
        if one.reading.fitted == line.fitted.id
        and one.reading.visit == visit.id
        and one.reading.measure == line.measure.word
        and not one.withdrawn
    ]


def _judge(library: Library, anew: list[tuple[KeptReading, Judgement]], expected: str) -> None:
    for kept, judgement in anew:
        edit.judge_reading(library, kept.reading.id, judgement, expected)


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
