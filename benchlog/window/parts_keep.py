"""Acts of a parts round on the library, in the thread that alone writes to it: keep and judge, take back, lift.

Each is one act, one undo. A reading that changes what the other side proves judges that again.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from benchlog.domain.accuracy import COVERAGE
from benchlog.domain.asking import question_of
from benchlog.domain.judging import judge, turn_leads
from benchlog.domain.measures import ESR, D
from benchlog.domain.partline import TypedPart
from benchlog.domain.reading import Outcome
from benchlog.domain.unit import Board, PartReading, Round, RoundKind, Unit, Visit
from benchlog.domain.verdict import Judgement
from benchlog.errors import BadInput
from benchlog.store import edit, measured, query_unit
from benchlog.store.edit_boards import FIRST_BOARD
from benchlog.store.ids import new_id
from benchlog.store.library import Library
from benchlog.store.query_unit import BoardsState, Judged, KeptReading, OpenItem, PartLine
from benchlog.window.parts_book import LIFTED_LEG, Book, Row, is_turned

BESIDE_OF = {D: "dissipation", ESR: "series_resistance"}
"""What a measure is called where a meter sends it beside another value."""

TAKEN_BACK = "taken back"
READ_AGAIN = "read only to bear out the one before"


@dataclass(frozen=True, slots=True)
class Side:
    """One measure of a part with its readings that count, as they stood when the act was asked for.

    `beside` are the other measures of the same part, which one reading may bear on; theirs is empty.
    """

    line: PartLine
    forward: KeptReading | None = None
    turned: KeptReading | None = None
    earlier: KeptReading | None = None
    beside: tuple["Side", ...] = ()

    @classmethod
    def of(cls, row: Row, book: Book | None = None) -> "Side":
        """A row as it stands now; with a book also what else was read of that part."""
        rows = book.of_part(row.line.part.id) if book is not None else []
        beside = tuple(cls.of(one) for one in rows if one.measure.word != row.measure.word)
        return cls(row.line, row.kept, row.turned, row.earlier, beside)

    @property
    def should_read(self) -> str:
        """What it is held against, as it is written; empty where nothing says."""
        reading = self.forward.reading if self.forward is not None else None
        try:
            expected = self.line.subject.expectation(reading.conditions if reading is not None else None)
        except BadInput:
            return ""
        return expected.text if expected is not None else ""


@dataclass(frozen=True, slots=True)
class Done:
    """What an act did.

    Attributes:
        readings: the readings that are new or changed.
        judgement: of the reading that was kept.
        round: in which it was kept.
        turn: whether it is worth reading once more with the leads turned round.
        complaint: what must be said before the reading can be judged; empty where it was judged.
    """

    readings: tuple[KeptReading, ...]
    judgement: Judgement | None = None
    round: Round | None = None
    turn: bool = False
    complaint: str = ""


def keep(
    library: Library,
    reading: PartReading,
    side: Side,
    other: Side | None,
    dead_board: bool | None,
    *,
    visit: Visit,
    round_: Round | None,
) -> Done:
    """Keep a reading with what it proves; without a round under way one `as found` begins."""
    with library.act(f"reading of {reading.designator}"):
        pass_ = round_ or edit.start_round(library, visit.id, RoundKind.AS_FOUND)
        kept = KeptReading(
            replace(
                reading,
                round=pass_.id,
                visit=visit.id,
                fitted=side.line.fitted.id,
                taken=reading.taken or library.now(),
            )
        )
        if is_turned(kept) and side.forward is not None:
            now = replace(side, turned=kept)
        else:
            now = replace(side, forward=kept, turned=None, earlier=side.forward)
        judgement, turn, complaint = _judge(now, other, dead_board)
        expected = now.should_read
        kept = _with_judgement(kept, judgement, expected)
        edit.keep_reading(library, kept.reading, judgement, expected)
        changed = [kept]
        if now.turned is not None and now.forward is not None and judgement is not None:
            edit.judge_reading(library, now.forward.reading.id, judgement, expected)
            changed.insert(0, _with_judgement(now.forward, judgement, expected))
        changed += _judge_again(library, other, now, dead_board)
        changed += _judge_beside(library, now, other, dead_board)
        for own, of in _came_with(kept.reading, now):
            mirror = _same_measure(of, other)
            more = keep(library, own, of, mirror, dead_board, visit=visit, round_=pass_)
            changed += more.readings
    return Done(tuple(changed), judgement, pass_, turn, complaint)


def _came_with(reading: PartReading, side: Side) -> Iterator[tuple[PartReading, Side]]:
    """What an LCR meter on a wire sent beside a value, as readings of those measures of the part that are to do."""
    came = dict(reading.beside)
    for one in side.beside:
        name, value = one.line.measure.word, came.get(BESIDE_OF.get(one.line.measure.word, ""))
        if value is None or reading.outcome is not Outcome.OK:
            continue
        rest = tuple(each for each in side.beside if each is not one)
        frequency = reading.conditions.frequency or came.get("frequency")
        own = replace(
            reading,
            id=new_id(),
            measure=name,
            designator=one.line.designator,
            function=one.line.measure.function,
            unit=one.line.measure.unit,
            value=value,
            beside=(),
            error=None,
            resolution=None,
            conditions=replace(reading.conditions, frequency=frequency),
        )
        yield own, replace(one, beside=(side, *rest))


def take_back(
    library: Library, last: KeptReading, side: Side, other: Side | None, dead_board: bool | None
) -> Done:
    """Take a reading back; `side` and `other` as they stand without it are judged again."""
    with library.act(f"{last.reading.designator}'s reading dropped"):
        edit.withdraw(library, [last.reading.id], TAKEN_BACK)
        changed = [replace(last, withdrawn=True)]
        changed += _judge_again(library, side, other, dead_board)
        changed += _judge_again(library, other, side, dead_board)
        changed += _judge_beside(library, side, other, dead_board)
    return Done(tuple(changed))


def discard(
    library: Library,
    reading: PartReading,
    line: PartLine,
    visit: Visit,
    round_: Round | None,
    reason: str = TAKEN_BACK,
) -> Done:
    """Keep a taken reading that the person did not want as one that was taken back: nothing vanishes."""
    with library.act(f"{reading.designator}'s reading dropped"):
        pass_ = round_.id if round_ is not None else ""
        own = replace(reading, round=pass_, visit=visit.id, fitted=line.fitted.id)
        edit.keep_reading(library, own)
        edit.withdraw(library, [own.id], reason)
    return Done((KeptReading(own, None, withdrawn=True),), round=round_)


def lift(library: Library, visit: Visit, line: PartLine, item: OpenItem | None) -> tuple[OpenItem, ...]:
    """Put a leg on the open list, or strike it off; the item as it stands now."""
    if item is not None:
        edit.close_item(library, item.id)
        return (replace(item, closed=library.now()),)
    text = f"{line.part.designator}: one leg lifted"
    id_ = edit.open_item(library, visit.id, LIFTED_LEG, text, line.part.id)
    return (OpenItem(id_, visit.id, line.part.id, LIFTED_LEG, text, library.now(), None),)


def say_boards(library: Library, visit: Visit, round_: Round | None, dead: bool | None) -> BoardsState:
    """Keep whether the boards were found without charge; how that stands now."""
    edit.say_boards(library, visit.id, dead, round_.id if round_ is not None else "")
    return query_unit.boards_state(library.folder, visit)


def void_boards(library: Library, visit: Visit | None) -> BoardsState:
    """Power is put on to prove an off-switch, on whatever hangs there; how it stands in a visit now."""
    edit.void_boards(library)
    return query_unit.boards_state(library.folder, visit) if visit is not None else BoardsState()


def add(library: Library, unit: Unit, board: Board | None, parts: Sequence[TypedPart]) -> str:
    """Add parts to a board, a first one where the unit has none; the id of what is fitted at the first of them."""
    entries = [part.entry for part in parts]
    name = entries[0].designator
    label = f"new part {name}" if len(entries) == 1 else f"{len(entries)} new parts from {name}"
    with library.act(label):
        board = board or edit.add_board(library, unit.id, FIRST_BOARD)
        return edit.add_parts(library, board.id, entries)[0].id


def call_up(library: Library, line: PartLine, words: Sequence[str], should_read: str = "") -> None:
    """Have more measured at a part, and keep what the first of that should read where it was said."""
    with library.act(f"measure {line.part.called(words[0])} too"):
        measured.call_up(library, line.part.id, words)
        if should_read:
            edit.expect(library, line.fitted.id, should_read, measure=words[0])


def _judge_again(
    library: Library, side: Side | None, other: Side | None, dead_board: bool | None
) -> list[KeptReading]:
    """Judge what stood before once more; what changed."""
    if side is None or side.forward is None:
        return []
    judgement, _, _ = _judge(side, other, dead_board)
    old = side.forward.judgement
    if judgement is None or (old is not None and old.verdict == judgement.verdict):
        return []
    changed = []
    for kept in (side.forward, side.turned):
        if kept is not None:
            edit.judge_reading(library, kept.reading.id, judgement, side.should_read)
            changed.append(_with_judgement(kept, judgement, side.should_read))
    return changed


def _judge_beside(
    library: Library, side: Side, other: Side | None, dead_board: bool | None
) -> list[KeptReading]:
    """Judge the other measures of the part once more: what this one read may bear on them."""
    changed = []
    for one in side.beside:
        rest = tuple(each for each in side.beside if each is not one)
        mirror = _same_measure(one, other)
        changed += _judge_again(library, replace(one, beside=(side, *rest)), mirror, dead_board)
    return changed


def _same_measure(side: Side, other: Side | None) -> Side | None:
    """The same measure of the part on the other side."""
    known = (other, *other.beside) if other is not None else ()
    found = next((one for one in known if one.line.measure.word == side.line.measure.word), None)
    return (
        replace(found, beside=tuple(one for one in known if one is not found)) if found is not None else None
    )


def _judge(side: Side, other: Side | None, dead_board: bool | None) -> tuple[Judgement | None, bool, str]:
    """What the readings of a side prove, whether to turn the leads, and what did not count."""
    assert side.forward is not None  # noqa: S101 - nobody asks otherwise
    reading = side.forward.reading
    beside = other.forward.reading if other is not None and other.forward is not None else None
    try:
        question = question_of(
            side.line.subject,
            reading,
            other=beside,
            turned=side.turned.reading if side.turned is not None else None,
            dead_board=dead_board,
            beside=[one.forward.reading for one in side.beside if one.forward is not None],
            beside_other=[
                one.forward.reading
                for one in (other.beside if other is not None else ())
                if one.forward is not None
            ],
            earlier=side.earlier.reading if side.earlier is not None else None,
        )
        judgement = judge(question)
    except BadInput as found:
        return None, False, str(found)
    return judgement, turn_leads(question, judgement), ""


def _judged_of(judgement: Judgement, expected: str) -> Judged:
    """A judgement as the library gives it back."""
    ends = [
        end if end is not None and math.isfinite(end) else None for end in (judgement.low, judgement.high)
    ]
    return Judged(
        verdict=str(judgement.verdict),
        rule=str(judgement.rule),
        reason=judgement.reason,
        expected=expected,
        low=ends[0],
        high=ends[1],
        value=judgement.value,
        uncertainty=judgement.uncertainty,
        coverage=COVERAGE if judgement.uncertainty is not None else None,
        probability=judgement.probability,
        unit=judgement.unit,
        near_limit=judgement.near_limit,
        notes=judgement.notes,
    )


def _with_judgement(kept: KeptReading, judgement: Judgement | None, expected: str) -> KeptReading:
    """A kept reading with what it was found to prove."""
    return replace(kept, judgement=_judged_of(judgement, expected) if judgement is not None else None)
