"""Acts on the Parts page that are no readings: a leg lifted or soldered back, another round, a part added."""

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QObject

from benchlog.domain.partline import TypedPart
from benchlog.domain.severaltyped import TypedValue
from benchlog.domain.unit import Round, RoundKind
from benchlog.errors import BenchlogError
from benchlog.store import query_unit, rounds
from benchlog.store.library import Library
from benchlog.store.query_unit import OpenItem
from benchlog.window import parts_keep
from benchlog.window.parts_book import Row
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_readings import Readings
from benchlog.window.parts_walk import Walk, plan_of


class Listing(QObject):
    """Lifted legs, rounds, and the list that grows while measuring."""

    def __init__(self, hand: InHand, readings: Readings) -> None:
        super().__init__()
        self._hand = hand
        self._readings = readings
        self._after: tuple[str, str, Sequence[TypedValue], str] | None = None
        """What is listed next: what is fitted there, which measure, what it reads, and what was assumed."""
        hand.opened.connect(self._go_on_adding)

    def lift(self) -> None:
        """A leg goes off the board, or back on."""
        row, visit = self._hand.row, self._hand.book.visit
        problem = self._hand.cannot_keep()
        if problem or row is None or visit is None:
            self._hand.say(problem, refused=True)
            return
        item = self._hand.book.lifted.get(row.line.part.id)
        if item is None and not row.line.part.in_circuit:
            self._hand.say(f"{row.designator} is measured out of circuit as it is.", refused=True)
            return

        def work(library: Library) -> tuple[OpenItem, ...]:
            parts_keep.lift(library, visit, row.line, item)
            return query_unit.open_items(library.folder, visit)

        def done(items: tuple[OpenItem, ...]) -> None:
            self._hand.book.set_open_items(items)
            self._hand.touched.emit([one.at for one in self._hand.book.of_part(row.line.part.id)])
            if item is not None:
                self._hand.say(f"{row.designator} is soldered back.")
            else:
                self._hand.say(
                    f"{row.designator}: one leg lifted, and on the open list until * puts it back."
                )

        self._hand.edit(work, done)

    def begin_round(self, kind: RoundKind) -> None:
        """Begin another pass over the parts."""
        visit, before = self._hand.book.visit, self._hand.book.round
        if visit is None or self._hand.held is not None:
            self._hand.say(
                self._hand.cannot_keep() or f"A reading waits: {self._hand.held_keys}.", refused=True
            )
            return
        into, book, walk = self._hand.into, self._hand.book, self._hand.walk
        title, parts = plan_of(book, walk)

        def work(library: Library) -> Round:
            return rounds.begin(library, visit.id, kind, into.round or before, title, parts)

        def done(pass_: Round) -> None:
            self._hand.book.skipped.clear()
            self._hand.walk = Walk()
            self._hand.tell_round(pass_)

        self._hand.edit(work, done, again=True)

    def add(self, parts: tuple[TypedPart, ...]) -> None:
        """Add parts to the board at hand, and keep a reading where one came with a part."""
        unit, row = self._hand.book.unit, self._hand.row
        if unit is None:
            self._hand.say(self._hand.cannot_keep(), refused=True)
            return
        board = (
            row.line.board
            if row is not None
            else (self._hand.book.boards[0] if self._hand.book.boards else None)
        )

        def done(fitted: str) -> None:
            self._after = (fitted, parts[0].measure, parts[0].values, parts[0].assumed)

        def failed(error: BenchlogError) -> None:
            self._hand.say(str(error), refused=True)

        self._hand.edit(lambda library: parts_keep.add(library, unit, board, parts), done, failed, again=True)

    def call_up(
        self, at: int, words: Sequence[str], should_read: str = "", values: Sequence[TypedValue] = ()
    ) -> None:
        """Have more measured at the part of a row than was asked for, and keep what came with it.

        `words` are the measures, to the first of which the hand goes unless values say where; what that should
        read may be said.
        """
        line = self._hand.book.rows[at].line
        first = values[0].measure if values else words[0]

        def done(_: object) -> None:
            self._after = (line.fitted.id, first, values, "")

        def failed(error: BenchlogError) -> None:
            self._hand.say(str(error), refused=True)

        self._hand.edit(
            lambda library: parts_keep.call_up(library, line, words, should_read), done, failed, again=True
        )

    def measure_more(self) -> None:
        """Have one more measure of the part at hand to do, the next of its kind."""
        row, word = self._hand.row, self._hand.more
        if row is None or not word or self._hand.held is not None:
            waits = f"A reading waits: {self._hand.held_keys}." if self._hand.held is not None else ""
            everything = f"All that can be measured at {row.line.part.designator} is listed." if row else ""
            self._hand.say(self._hand.cannot_keep() or waits or everything, refused=True)
            return
        self.call_up(row.at, [word])

    def _go_on_adding(self) -> None:
        """What was added is listed: go there, and keep its reading."""
        if self._after is None:
            return
        fitted, word, values, assumed = self._after
        row = self._hand.book.row_of(fitted, word)
        if row is None:
            return
        self._after = None
        self._hand.go(row.at)
        self._hand.say(f"{assumed}." if assumed else "")
        if values:
            first = replace(values[0], reading=replace(values[0].reading, assumed=assumed))
            self.keep(row, (first, *values[1:]) if assumed else values)

    def keep(self, row: Row, values: Sequence[TypedValue]) -> None:
        """Keep what was typed in one go of a part; what was not listed to be measured is from here on."""
        listed = {one.measure.word for one in self._hand.book.of_part(row.line.part.id)}
        more = [one.measure for one in values if one.measure not in listed]
        if more:
            self.call_up(row.at, more, values=values)
        else:
            self._readings.store_all(row, values)
