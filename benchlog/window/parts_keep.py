"""Acts of a parts round on the library, in the thread that alone writes to it: keep and judge, take back, lift.

Each is one act, one undo. A reading that changes what the other side proves judges that again.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from benchlog.domain.asking import question_of
from benchlog.domain.judging import judge, turn_leads
from benchlog.domain.partline import TypedPart
from benchlog.domain.unit import Board, PartReading, Round, RoundKind, Unit, Visit
from benchlog.domain.verdict import Judgement
from benchlog.errors import BadInput
from benchlog.store import edit, query_unit
from benchlog.store.edit_boards import FIRST_BOARD
from benchlog.store.library import Library
from benchlog.store.query_unit import BoardsState, KeptReading, OpenItem, PartLine
from benchlog.window.parts_book import LIFTED_LEG, Row, is_turned, with_judgement

TAKEN_BACK = "taken back"
READ_AGAIN = "read only to bear out the one before"


@dataclass(frozen=True, slots=True)
class Side:
    """One part with its readings that count, as they stood when the act was asked for."""

    line: PartLine
    should_read: str
    forward: KeptReading | None = None
    turned: KeptReading | None = None

    @classmethod
    def of(cls, row: Row) -> "Side":
        """A row as it stands now."""
        return cls(row.line, row.should_read, row.kept, row.turned)


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
            now = replace(side, forward=kept, turned=None)
        judgement, turn, complaint = _judge(now, other, dead_board)
        kept = with_judgement(kept, judgement, side.should_read)
        edit.keep_reading(library, kept.reading, judgement, side.should_read)
        changed = [kept]
        if now.turned is not None and now.forward is not None and judgement is not None:
            edit.judge_reading(library, now.forward.reading.id, judgement, side.should_read)
            changed.insert(0, with_judgement(now.forward, judgement, side.should_read))
        changed += _judge_again(library, other, now, dead_board)
    return Done(tuple(changed), judgement, pass_, turn, complaint)


def take_back(
    library: Library, last: KeptReading, side: Side, other: Side | None, dead_board: bool | None
) -> Done:
    """Take a reading back; `side` and `other` as they stand without it are judged again."""
    with library.act(f"{last.reading.designator}'s reading dropped"):
        edit.withdraw(library, [last.reading.id], TAKEN_BACK)
        changed = [replace(last, withdrawn=True)]
        changed += _judge_again(library, side, other, dead_board)
        changed += _judge_again(library, other, side, dead_board)
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
            changed.append(with_judgement(kept, judgement, side.should_read))
    return changed


def _judge(side: Side, other: Side | None, dead_board: bool | None) -> tuple[Judgement | None, bool, str]:
    """What the readings of a side prove, whether to turn the leads, and what did not count."""
    assert side.forward is not None  # noqa: S101 - nobody asks otherwise
    reading = side.forward.reading
    beside = other.forward.reading if other is not None and other.forward is not None else None
    try:
        question = question_of(
            side.line.part,
            side.should_read,
            reading,
            other=beside,
            turned=side.turned.reading if side.turned is not None else None,
            dead_board=dead_board,
        )
        judgement = judge(question)
    except BadInput as found:
        return None, False, str(found)
    return judgement, turn_leads(question, judgement), ""
