"""Slips of equal value: every reading from the part at hand on goes one part back, or one on (rule 33)."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from PySide6.QtCore import QObject

from benchlog.domain.unit import Round, Visit
from benchlog.errors import BenchlogError
from benchlog.store.ids import new_id
from benchlog.store.library import Library
from benchlog.store.query_unit import KeptReading
from benchlog.window import parts_keep
from benchlog.window.parts_book import Row
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_keep import Done, Side


@dataclass(frozen=True, slots=True)
class Move:
    """A reading that leaves the row `of`, for the row `to`; None where it was no part's."""

    of: int
    kept: KeptReading
    to: int | None


class Shifting(QObject):
    """Moves what was read from the part at hand on, in the order in which it was taken."""

    def __init__(self, hand: InHand) -> None:
        super().__init__()
        self._hand = hand

    def shift(self, *, back: bool) -> None:
        """One part back, the reading at hand being none; or one on, the part at hand having been left out."""
        hand, visit, pass_ = self._hand, self._hand.book.visit, self._hand.book.round
        read = self._since()
        moves = _moves(read, self._behind(read), back=back)
        problem = hand.cannot_keep() or self._cannot(read, moves)
        if problem or visit is None or pass_ is None:
            hand.say(problem, refused=True)
            return
        sides, others = self._sides(moves)
        dead_board = hand.dead_board
        first, last = read[0][0], read[-1][0]
        to_do = last if back else first

        def done(found: Done) -> None:
            hand.take_in(found)
            hand.go(to_do.at)
            way = "back" if back else "on"
            hand.say(
                f"{first.designator} to {last.designator}: readings moved one part {way}. "
                f"{to_do.designator} is to do."
            )

        def failed(error: BenchlogError) -> None:
            hand.work.say_error(error)

        hand.edit(
            lambda library: shift(library, moves, Standing(sides, others, dead_board), visit, pass_),
            done,
            failed,
        )

    def _since(self) -> list[tuple[Row, KeptReading]]:
        row = self._hand.row
        return self._hand.book.since(row) if row is not None and row.kept is not None else []

    def _behind(self, read: Sequence[tuple[Row, KeptReading]]) -> int | None:
        """The first part to do behind the last of them."""
        rows = self._hand.book.rows[read[-1][0].at + 1 :] if read else []
        return next((row.at for row in rows if row.kept is None), None)

    def _cannot(self, read: Sequence[tuple[Row, KeptReading]], moves: Sequence[Move]) -> str:
        hand = self._hand
        if not read:
            name = hand.row.designator if hand.row is not None else "it"
            return f"{name} has no reading: go to the first one that is wrong."
        if hand.held is not None or hand.unkept or hand.hands_held is not None:
            return "A reading waits to be looked at: first that."
        if moves[-1].to is None and len(moves) > 1 and moves[0].to is not None:
            return "No part is left behind the last one: take one back instead."
        for row, _ in read:
            if row.turned is not None:
                return (
                    f"{row.designator} was read with the leads turned round as well: take those back instead."
                )
        for move in moves:
            if move.to is None:
                continue
            to = hand.book.rows[move.to]
            if to.measure.function is not move.kept.reading.function:
                return f"{to.designator} is read otherwise: take those back instead."
        return ""

    def _sides(self, moves: Sequence[Move]) -> tuple[dict[int, Side], dict[int, int | None]]:
        """Each row concerned, and its other side, as they stand."""
        rows = self._hand.book.rows
        own = {at for move in moves for at in (move.of, move.to) if at is not None}
        others = {at: rows[at].other for at in own}
        every = own | {at for at in others.values() if at is not None}
        return {at: Side.of(rows[at]) for at in every}, {at: rows[at].other for at in every}


def _moves(read: Sequence[tuple[Row, KeptReading]], behind: int | None, *, back: bool) -> list[Move]:
    if not read:
        return []
    rows = [row.at for row, _ in read]
    to = [None, *rows[:-1]] if back else [*rows[1:], behind]
    return [Move(row.at, kept, goes) for (row, kept), goes in zip(read, to, strict=True)]


@dataclass(frozen=True, slots=True)
class Standing:
    """Each row concerned as it stands, by its place, and where its other side is; whether the boards are dead."""

    sides: dict[int, Side]
    others: dict[int, int | None]
    dead_board: bool | None

    def other(self, at: int) -> Side | None:
        """The other side of a row."""
        beside = self.others.get(at)
        return self.sides.get(beside) if beside is not None else None

    def take_in(self, done: Done) -> None:
        """What an act did stands from now on."""
        of = {(side.line.fitted.id, side.line.measure.word): at for at, side in self.sides.items()}
        for kept in done.readings:
            at = of.get((kept.reading.fitted, kept.reading.measure))
            if at is not None and not kept.withdrawn:
                self.sides[at] = replace(self.sides[at], forward=kept)


def shift(library: Library, moves: Sequence[Move], stands: Standing, visit: Visit, round_: Round) -> Done:
    """Move readings in one act: each is taken back where it was, and kept and judged where it belongs."""
    changed: dict[str, KeptReading] = {}
    sides, dead_board = stands.sides, stands.dead_board

    def stand(done: Done) -> None:
        changed.update((kept.reading.id, kept) for kept in done.readings)
        stands.take_in(done)

    with library.act("readings moved by one part"):
        for move in moves:
            sides[move.of] = replace(sides[move.of], forward=None)
            stand(parts_keep.take_back(library, move.kept, sides[move.of], stands.other(move.of), dead_board))
        for move in moves:
            if move.to is None:
                continue
            side = sides[move.to]
            line = side.line
            copy = replace(
                move.kept.reading, id=new_id(), designator=line.designator, measure=line.measure.word
            )
            stand(
                parts_keep.keep(
                    library, copy, side, stands.other(move.to), dead_board, visit=visit, round_=round_
                )
            )
    return Done(tuple(changed.values()), round=round_)
