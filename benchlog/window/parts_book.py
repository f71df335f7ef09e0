"""The parts of a unit with what they read in the present round: no Qt, made off the GUI thread, kept up on it."""

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from itertools import dropwhile, pairwise
from pathlib import Path

from benchlog.domain.asking import REVERSED, value_of
from benchlog.domain.charge import Charge
from benchlog.domain.designator import Mirror, fold, number_in
from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.measures import Measure
from benchlog.domain.partsorder import Order
from benchlog.domain.putback import OF_A_PART, OpenKind, count_open
from benchlog.domain.quantity import Overload, show
from benchlog.domain.unit import Board, PartReading, Round, Unit, Visit
from benchlog.domain.verdict import Verdict
from benchlog.errors import BadInput
from benchlog.store import query_unit, rounds
from benchlog.store.query_unit import BoardsState, KeptReading, OpenItem, PartLine
from benchlog.window import words
from benchlog.window.shapes import OF_VERDICT, Shape

LIFTED_LEG = OpenKind.LIFTED_LEG.value
"""What the open list calls a leg that was taken off the board."""


@dataclass(slots=True)
class Row:
    """One measure of a part, where its other side stands, and its readings of the round, oldest first."""

    at: int
    line: PartLine
    other: int | None = None
    readings: list[KeptReading] = field(default_factory=list)
    words: str = ""
    """All it can be found by, as it stands; made when it is first looked for."""

    @property
    def designator(self) -> str:
        """The part's name, with what is measured at it where that is not its own value: `Q7L be`."""
        return self.line.designator

    @property
    def key(self) -> tuple[str, str]:
        """What is fitted, by its id, and which of its measures."""
        return self.line.fitted.id, self.line.measure.word

    @property
    def measure(self) -> Measure:
        """What is measured."""
        return self.line.measure

    @property
    def should_read(self) -> str:
        """What it should read, as it is written; empty where nobody has said so of this part."""
        return self.line.should_read.text if self.line.should_read is not None else ""

    @property
    def origin(self) -> Origin:
        """Where what it should read comes from."""
        expected = self.expectation
        return expected.origin if expected is not None else Origin.SHEET

    @property
    def expectation(self) -> Expectation | None:
        """What it should read; None where nobody knows, or where it cannot be read any more."""
        kept = self.kept
        try:
            return self.line.subject.expectation(kept.reading.conditions if kept is not None else None)
        except BadInput:
            return None

    def expects(self, word: str) -> Expectation | None:
        """What another measure of the same part should read, listed or not; None where nobody knows."""
        if word == self.measure.word:
            return self.expectation
        try:
            return replace(self.line, measure=self.line.part.measure(word)).subject.expectation()
        except BadInput:
            return None

    @property
    def kept(self) -> KeptReading | None:
        """The reading that counts: the newest with the leads forward that was not taken back."""
        return next((one for one in reversed(self.readings) if _counts(one) and not is_turned(one)), None)

    @property
    def earlier(self) -> KeptReading | None:
        """The one before that, the leads forward, which a later one took the place of."""
        counting = [one for one in self.readings if _counts(one) and not is_turned(one)]
        return counting[-2] if len(counting) > 1 else None

    @property
    def turned(self) -> KeptReading | None:
        """The one with the leads turned round that belongs to it."""
        for one in reversed(self.readings):
            if _counts(one):
                return one if is_turned(one) else None
        return None

    @property
    def verdict(self) -> Verdict | None:
        """What the reading proves; None where there is none, or nobody could judge it."""
        kept = self.kept
        return Verdict(kept.judgement.verdict) if kept is not None and kept.judgement is not None else None

    @property
    def shape(self) -> Shape:
        """How the part is marked in lists and strips."""
        if self.kept is None:
            return Shape.TO_DO
        verdict = self.verdict
        return Shape.DOUBT if verdict is None else OF_VERDICT[verdict]

    @property
    def result(self) -> str:
        """The same in a word."""
        if self.kept is None:
            return words.TO_DO
        return words.NOT_JUDGED if self.verdict is None else words.RESULT[self.verdict]


class Book:
    """Every part of a unit in the order of its boards, with the readings of one round."""

    def __init__(self, unit: Unit | None = None, visit: Visit | None = None) -> None:
        self.unit = unit
        self.visit = visit
        self.round: Round | None = None
        self.rounds: tuple[Round, ...] = ()
        self.boards: tuple[Board, ...] = ()
        self.rows: list[Row] = []
        self.order: list[int] = []
        """The rows that are gone over, in their order: all of them, or those that a round or typed words pick."""
        self.planned: tuple[str, ...] = ()
        """The parts of the round by their ids, in its order; empty where it goes over all of the unit."""
        self.listed: tuple[str, ...] = ()
        """The parts by their ids as they were listed."""
        self.lifted: dict[str, OpenItem] = {}
        """What is off the board, a leg or all of it, by the part's id."""
        self.skipped: set[int] = set()
        self.open_items: tuple[OpenItem, ...] = ()
        self.boards_state = BoardsState()
        self.charge = Charge()
        self._of_fitted: dict[tuple[str, str], int] = {}
        self._of_part: dict[str, list[int]] = {}
        self._of_name: dict[str, list[int]] = {}
        self._order: list[tuple[int, str]] = []
        self.runs: list[tuple[str, int, int]] = []
        """The order in stretches: a board's name, and from which place to which; all in one where boards alternate."""
        self.kept_orders: dict[Order, list[int]] = {}
        """All rows in each order that was asked for, since ten thousand take a while."""
        self._stands: list[tuple[Shape, str]] = []
        """The shape and the result of each row."""
        self._board_of: list[str] = []
        self._part_of: list[str] = []
        self._parts = 0
        self._place: dict[int, int] = {}
        """Where each row stands in the order."""
        self._results: Counter[tuple[Shape, str]] = Counter()
        """How many rows of the order have which result; kept up: counting ten thousand takes time at every key."""

    @classmethod
    def read(cls, folder: Path, unit: Unit, visit: Visit | None, round_: Round | None) -> "Book":
        """Everything about a unit's parts from the library; takes as long as files take."""
        book = cls(unit, visit)
        book.boards = query_unit.boards(folder, unit.id)
        book._list(query_unit.parts(folder, unit.id), Mirror(unit.mirror, unit.pairs))
        if visit is not None:
            book.rounds = query_unit.rounds(folder, visit.id)
            known = {one.id: one for one in book.rounds}
            under_way = [one for one in book.rounds if one.ended is None]
            book.round = known.get(round_.id) if round_ is not None else None
            book.round = book.round or (under_way[-1] if under_way else None)
            book.set_open_items(query_unit.open_items(folder, visit))
            book.boards_state = query_unit.boards_state(folder, visit)
        book.listed = rounds.listed(folder, unit.id)
        if book.round is not None:
            book.put(query_unit.round_results(folder, book.round.id))
            book.planned = rounds.planned(folder, book.round.id)
        return book

    def _list(self, lines: Iterable[PartLine], mirror: Mirror) -> None:
        self.rows = [Row(at, line) for at, line in enumerate(lines)]
        self._stands = [(Shape.TO_DO, words.TO_DO)] * len(self.rows)
        self._board_of = [row.line.board.id for row in self.rows]
        self._part_of = [row.line.part.id for row in self.rows]
        self.arrange(range(len(self.rows)))
        for row in self.rows:
            part = row.line.part
            self._of_fitted[row.line.fitted.id, row.measure.word] = row.at
            first = part.id not in self._of_part
            self._of_part.setdefault(part.id, []).append(row.at)
            # A part's name alone stands for the first of its measures.
            for name in {fold(row.designator), fold(part.designator) if first else fold(row.designator)}:
                self._of_name.setdefault(name, []).append(row.at)
        for row in self.rows:
            row.other = self._other_side(row, mirror)

    def _other_side(self, row: Row, mirror: Mirror) -> int | None:
        """The same measure of the part on the other side, which may have others as well."""
        name = mirror.other(row.line.part.designator)
        known = self._of_name.get(fold(name), ()) if name else ()
        for at in known:
            for one in self._of_part[self.rows[at].line.part.id]:
                if one != row.at and self.rows[one].measure.word == row.measure.word:
                    return one
        return None

    def arrange(self, order: Iterable[int]) -> None:
        """Go over these rows in this order."""
        self.order = list(order)
        self._place = {at: place for place, at in enumerate(self.order)}
        boards = [self._board_of[at] for at in self.order]
        starts = [0, *(place for place, (one, other) in enumerate(pairwise(boards), start=1) if one != other)]
        if not boards:
            self.runs = []
        elif len(starts) > len(set(boards)):
            self.runs = [("", 0, len(boards))]
        else:
            ends = [*starts[1:], len(boards)]
            named = [self.rows[self.order[start]].line.board.name for start in starts]
            self.runs = list(zip(named, starts, ends, strict=True))
        self._parts = len({self._part_of[at] for at in self.order})
        self._results = Counter(map(self._stands.__getitem__, self.order))

    def put(self, readings: Iterable[KeptReading]) -> list[int]:
        """Take in new or changed readings of the round; the rows they belong to."""
        touched = []
        for kept in readings:
            at = self._of_fitted.get((kept.reading.fitted, kept.reading.measure))
            if at is None:
                continue
            row = self.rows[at]
            for place, known in enumerate(row.readings):
                if known.reading.id == kept.reading.id:
                    row.readings[place] = kept
                    break
            else:
                row.readings.append(kept)
                self._order.append((at, kept.reading.id))
            self._stand(row)
            touched.append(at)
        return touched

    def _stand(self, row: Row) -> None:
        """A row reads something else: it counts as that, and is found by that."""
        before, now = self._stands[row.at], (row.shape, row.result)
        self._stands[row.at], row.words = now, ""
        if row.at in self._place:
            self._results[before] -= 1
            self._results[now] += 1

    def set_open_items(self, items: tuple[OpenItem, ...]) -> None:
        """What stands on the open list of the visit."""
        self.open_items = items
        waiting = [item for item in items if item.closed is None and item.part]
        self.lifted = {item.part: item for item in waiting if item.kind in OF_A_PART}

    # --- finding ---------------------------------------------------------------------------------

    def other(self, row: Row) -> Row | None:
        """The same part on the other side."""
        return self.rows[row.other] if row.other is not None else None

    def is_lifted(self, row: Row) -> bool:
        """Whether one of its legs is off the board, or all of it."""
        return row.line.part.id in self.lifted

    def is_out(self, row: Row) -> bool:
        """Whether it was taken out altogether."""
        item = self.lifted.get(row.line.part.id)
        return item is not None and item.kind == OpenKind.REMOVED

    @property
    def to_put_back(self) -> int:
        """How many things stand on the open list."""
        return sum(item.closed is None for item in self.open_items)

    def of_part(self, part: str) -> list[Row]:
        """The rows of a part by its id, in the order in which its measures are taken."""
        return [self.rows[at] for at in self._of_part.get(part, ())]

    def row_of(self, fitted: str, measure: str = "") -> Row | None:
        """The row of one measure of a fitted item by its id; of a part without that measure its first."""
        at = self._of_fitted.get((fitted, measure))
        if at is None:
            return next((row for row in self.rows if row.line.fitted.id == fitted), None)
        return self.rows[at]

    def again(self, row: Row) -> Row | None:
        """The row that stands for the same here; the book it came from may have been read before this one."""
        at = self._of_fitted.get((row.line.fitted.id, row.measure.word))
        return self.rows[at] if at is not None else None

    def at_part_of(self, row: Row) -> Row | None:
        """The row of the same measure at the same part, also where another item sits there by now."""
        rows = self.of_part(row.line.part.id)
        return next((one for one in rows if one.measure.word == row.measure.word), rows[0] if rows else None)

    def named(self, designator: str, near: int = 0) -> int | None:
        """Where a part of that name stands; of several the one on the board at hand."""
        return self._nearest(self._of_name.get(fold(designator), []), near)

    def ending(self, digits: str, near: int = 0) -> int | None:
        """The part whose number is these digits, or else ends so; on the board at hand before others."""
        firsts = (self.rows[of[0]] for of in self._of_part.values())
        numbers = [(row.at, number_in(row.line.part.designator)) for row in firsts]
        whole = [at for at, number in numbers if number == digits]
        return self._nearest(whole or [at for at, number in numbers if number.endswith(digits)], near)

    def _nearest(self, found: list[int], near: int) -> int | None:
        """On the board at hand, of the same kind of name, else the next one down; the part at hand comes last."""
        if not found:
            return None
        here = self.rows[near] if near < len(self.rows) else None
        if here is None:
            return found[0]

        def rank(at: int) -> tuple[bool, bool, bool, int]:
            row = self.rows[at]
            foreign = row.line.board.id != here.line.board.id
            unlike = fold(row.designator)[:1] != fold(here.designator)[:1]
            return row.line.part.id == here.line.part.id, foreign, unlike, (at - near) % len(self.rows)

        return min(found, key=rank)

    def next_to_do(self, at: int) -> int | None:
        """The next part without a reading, round the end to the beginning; what was skipped comes last.

        None where no other part is to do.
        """
        skipped = None
        here = self._place.get(at, -1)
        for step in range(1, len(self.order) + (here < 0)):
            row = self.rows[self.order[(here + step) % len(self.order)]]
            if row.kept is not None:
                continue
            if row.at not in self.skipped:
                return row.at
            skipped = row.at if skipped is None else skipped
        return skipped

    def beside(self, at: int, step: int) -> int | None:
        """The row so many places on in the order; None where there is none. From a row outside it, its beginning."""
        place = self._place.get(at)
        place = place + step if place is not None else 0
        return self.order[place] if 0 <= place < len(self.order) else None

    def last(self) -> tuple[Row, KeptReading] | None:
        """The newest reading of the round that still counts."""
        for at, id_ in reversed(self._order):
            row = self.rows[at]
            for kept in row.readings:
                if kept.reading.id == id_ and _counts(kept):
                    return row, kept
        return None

    def since(self, row: Row) -> list[tuple[Row, KeptReading]]:
        """The readings that count of their parts, from that row's on, in the order in which they were taken."""
        taken = [(self.rows[at], self.rows[at].kept, id_) for at, id_ in self._order]
        counting = [(one, kept) for one, kept, id_ in taken if kept is not None and kept.reading.id == id_]
        return list(dropwhile(lambda found: found[0] is not row, counting))

    # --- how far it is ---------------------------------------------------------------------------

    @property
    def done(self) -> int:
        """How many rows have a reading."""
        return len(self.order) - self._results[Shape.TO_DO, words.TO_DO]

    @property
    def stands(self) -> str:
        """How far it is, and what must be put back: `41 of 63, 2 to put back`."""
        done = f"{self.done} of {len(self.order)}" if self.rows else ""
        return ", ".join(text for text in (done, count_open(self.to_put_back)) if text)

    def counts(self) -> list[tuple[Shape, str, int]]:
        """How many parts have which result, by its shape and word; what is to do comes last."""
        order = [*words.RESULT.values(), words.NOT_JUDGED, words.TO_DO]
        found = [(shape, word, count) for (shape, word), count in self._results.items() if count]
        return sorted(found, key=lambda one: order.index(one[1]))

    def counted(self) -> str:
        """All of it in words: `63 parts: 36 within, 2 high, 25 to do`."""
        said = [f"{count} {word}" for _, word, count in self.counts()]
        known = self._parts
        parts = "1 part" if known == 1 else f"{known} parts"
        if known != len(self.order):
            parts = f"{len(self.order)} measurements at {parts}"
        return f"{parts}: {', '.join(said)}" if said else "no parts yet"

    def shape(self) -> Shape:
        """How the round stands in one shape; not good while something is to be put back."""
        if not self.done:
            return Shape.TO_DO
        good = (Shape.GOOD, Shape.GOOD_AS_OTHER, Shape.DRIFTED)
        done = all(shape in good for shape, _, _ in self.counts()) and not self.to_put_back
        return Shape.GOOD if done else Shape.DOUBT


# --- readings as they are shown ------------------------------------------------------------------


def is_turned(kept: KeptReading) -> bool:
    """Whether it was read with the leads turned round."""
    return kept.reading.conditions.leads == REVERSED


def _counts(kept: KeptReading) -> bool:
    return not kept.withdrawn


def shown(reading: PartReading) -> tuple[str, str]:
    """A reading as number and unit; to the meter's digits, four at most, or all that were typed."""
    value = value_of(reading)
    if isinstance(value, Overload):
        return value.value, ""
    if value is None:
        return words.NO_NUMBER.get(reading.outcome, reading.outcome), ""
    least = reading.resolution
    if least is not None and value:
        least = max(least, 10.0 ** (math.floor(math.log10(abs(value))) - 3))
    text = show(value, reading.unit, digits=9 if reading.typed else 4, resolution=least)
    number, _, unit = text.partition(" ")
    return number, unit


def in_words(reading: PartReading) -> str:
    """A reading as one text."""
    return " ".join(shown(reading)).strip()
