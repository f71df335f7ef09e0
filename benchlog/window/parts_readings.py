"""Readings on the Parts page: take with the walking meter, store what was typed, hold a slip, take back."""

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QObject, Signal

from benchlog.domain.asking import IN_CIRCUIT, LIFTED, REVERSED, agrees_again, value_of, wants_a_look
from benchlog.domain.creep import in_words as creeping
from benchlog.domain.measures import LCR
from benchlog.domain.quantity import Overload
from benchlog.domain.reading import HEADING, Function, Outcome
from benchlog.domain.severaltyped import TypedValue
from benchlog.domain.typed import TypedReading
from benchlog.domain.unit import TYPED_JOB, Conditions, PartReading, Visit
from benchlog.errors import WATCH, BenchlogError
from benchlog.recorder.client import messages
from benchlog.store.ids import new_id
from benchlog.store.library import Library
from benchlog.store.taken import reading_of
from benchlog.window import parts_keep, words
from benchlog.window.parts_book import Row, in_words
from benchlog.window.parts_held import Asked, Held, Pass
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_keep import Done, Side
from benchlog.window.run_under import mains_now, minutes_on

VOLTS = frozenset({Function.VOLTS_DC, Function.VOLTS_AC})
"""What a walking meter may read while the unit is live (rule 14)."""


class Readings(QObject):
    """Every act that makes or takes back a reading of the part at hand.

    `came` carries a reading that is on its way into the library, `kept` one that is there, `not_kept` one that the
    library did not take, or that nobody wanted.
    """

    came = Signal(object)
    kept = Signal(object)
    not_kept = Signal(object)

    def __init__(self, hand: InHand) -> None:
        super().__init__()
        self._hand = hand
        self._runner = hand.work.runner
        self._asked: dict[str, Asked] = {}
        self._writing = 0
        """Acts the library has not answered yet."""
        self._undo_later = 0
        self._to_store: list[tuple[Row, TypedValue]] = []
        """What was typed in one go and is not stored yet."""
        self._runner.taken.connect(self._taken)
        self._runner.noticed.connect(self._noticed)
        hand.dropping.connect(self._drop)

    def take(self, confirms: Held | None = None) -> None:
        """Take the part at hand with the walking meter; to bear a held reading out where one is named."""
        row = self._hand.row
        if self._hand.work.voice is not None:
            self._hand.work.voice.hush()
        problem = self._hand.cannot_keep() or self.cannot_take()
        visit = self._hand.book.visit
        if problem or row is None or visit is None:
            self._hand.say(problem, refused=True)
            return
        problem = self.wants_it_off(row)
        if problem:
            self._hand.refuse_while_on(problem)
            return
        reverse = self._hand.turn == row.at
        if confirms is not None:
            reverse = confirms.reading.conditions.leads == REVERSED
        request = messages.Take(
            id=0,
            reading=new_id(),
            job=self._hand.job,
            designator=row.designator,
            function=row.measure.function.value,
            part=row.line.fitted.id,
            measure=row.measure.word,
        )
        asked = Asked(row, self._hand.job, visit, reverse, confirms)
        self._asked[request.reading] = asked
        self._hand.waiting = asked

        def refused(error: BenchlogError) -> None:
            self._asked.pop(request.reading, None)
            self._give_up(asked, str(error))

        self._hand.say("")
        self._runner.take(request, refused)

    def expect(self, reading: str, asked: Asked) -> None:
        """A reading with that id may come by itself, of this part."""
        self._asked[reading] = asked

    def cannot_take(self) -> str:
        """Why no meter can take it; empty where one can."""
        if not self._hand.job:
            return "No walking meter is on the bench: type the reading and store it, or open a bench first."
        if self._hand.waiting is not None:
            return f"{self._hand.waiting.row.designator} is still being read."
        if self._hand.nulling:
            return "The leads are still being read: hold the tips together."
        return ""

    def wants_it_off(self, row: Row) -> str:
        """Why it cannot be read while the unit may be on; empty where it can."""
        function = row.measure.function
        if function in VOLTS or not self._hand.may_be_on:
            return ""
        wants = f"{row.designator} wants {words.FUNCTION[function]}"
        return f"{self._hand.on_words}: only volts are read now, and {wants}."

    def store_all(self, row: Row, values: Sequence[TypedValue]) -> None:
        """Store what was typed in one go of a part, one after the other: each may bear on the next."""
        for value in values:
            of = self._hand.book.row_of(row.line.fitted.id, value.measure)
            if of is not None and of.measure.word == value.measure:
                self._to_store.append((of, value))
        self._store_next()

    def _store_next(self) -> None:
        while self._to_store and not self._writing:
            row, value = self._to_store.pop(0)
            self.store(value.reading, self._hand.here(row), value)

    def store(self, typed: TypedReading, row: Row | None = None, value: TypedValue | None = None) -> None:
        """Store what was typed for the part at hand, or another, or hold it where it is far off.

        `value` says how it was taken, where that was typed as well.
        """
        row = row if row is not None else self._hand.row
        problem, visit = self._hand.cannot_keep(), self._hand.book.visit
        if problem or row is None or visit is None:
            self._hand.say(problem, refused=True)
            return
        problem = self.wants_it_off(row)
        if problem:
            self._hand.refuse_while_on(problem)
            return
        over = isinstance(typed.value, Overload)
        conditions = self._typed_conditions(row)
        if value is not None:
            conditions = replace(conditions, minutes=value.minutes, applied=value.applied)
        function = row.measure.function
        reading = PartReading(
            id=new_id(),
            designator=row.designator,
            function=function,
            outcome=Outcome.OVERLOAD if over else Outcome.OK,
            value=typed.value if isinstance(typed.value, float) else None,
            unit=typed.unit or function.unit,
            raw=typed.text,
            taken="",
            job=(function in LCR and self._hand.lcr.meter) or TYPED_JOB,
            typed=True,
            negative=typed.value is Overload.NEGATIVE,
            conditions=conditions,
            measure=row.measure.word,
        )
        # Over range is never a slip of the keys: it takes a key of its own.
        self._look(Held(row, reading, visit, self._hand.into, typed.assumed), sure=over)

    def conditions(self, asked: Asked) -> Conditions:
        """Under which a reading is taken that was asked for so."""
        return self._conditions_of(asked.row, reverse=asked.reverse)

    def _typed_conditions(self, row: Row) -> Conditions:
        """How a reading was taken that is typed: of a bridge, as was said of it last."""
        lcr = self._hand.lcr
        conditions = self._conditions_of(row, reverse=self._hand.turn == row.at)
        if row.measure.function not in LCR:
            return conditions
        return replace(conditions, frequency=lcr.frequency, model=lcr.model)

    def _conditions_of(self, row: Row, *, reverse: bool) -> Conditions:
        on_board = row.line.part.in_circuit and not self._hand.book.is_lifted(row)
        view = self._runner.view
        return Conditions(
            circuit=IN_CIRCUIT if on_board else LIFTED,
            leads=REVERSED if reverse else "",
            mains=mains_now(view, self._hand.work.now()),
            minutes_on=minutes_on(view),
        )

    def _taken(self, message: messages.Taken) -> None:
        asked = self._asked.pop(message.reading, None)
        if asked is None:
            return
        if self._hand.waiting is asked:
            self._hand.waiting = None
        body = {name: getattr(message, name) for name in message.__struct_fields__}
        view = self._runner.view
        session = view.session if view.is_open else ""
        reading = replace(
            reading_of({**body, "session": session}),
            conditions=self.conditions(asked),
        )
        at_hand = self._hand.book.visit
        if asked.unwanted or at_hand is None or at_hand.id != asked.visit.id:
            # Also where another unit came in hand meanwhile: it may not pass as one of that.
            self._discard(asked.row, reading, asked.visit)
        elif asked.confirms is not None and asked.confirms in self._hand.looks:
            self._read_again(asked.confirms, reading)
        else:
            # Hands-free it was held at the tips already, where it was far off.
            self._look(Held(asked.row, reading, asked.visit, self._hand.into), sure=message.looked)

    def _look(self, found: Held, *, sure: bool) -> None:
        """Hold what may be a slip, keep the rest."""
        self._runner.stay_awake()
        row = self._hand.here(found.row)
        value, other = value_of(found.reading), self._hand.book.other(row)
        # A part that read so before, or whose other side reads so, explains itself.
        beside = [
            value_of(one.kept.reading) for one in (other, row) if one is not None and one.kept is not None
        ]
        slip = all(wants_a_look(value, row.expectation, one) for one in beside or [None])
        if not slip or sure:
            self._keep(found)
            return
        self._hand.looks.append(found)
        if self._hand.work.voice is not None:
            self._hand.work.voice.look()
        self._show_held()

    def _show_held(self) -> None:
        """Take the part in hand whose reading waits for a look; where none waits, stay."""
        if self._hand.held is not None:
            self._hand.at = self._hand.here(self._hand.held.row).at
        self._hand.moved.emit()

    def confirm(self) -> None:
        """The held reading is what it is: what was typed is kept, what was taken only if it is read so again.

        By the time a hand is at the key the probes may be elsewhere, and that reading is no part's.
        """
        held = self._hand.held
        if held is None:
            return
        if held.reading.typed:
            self._hand.looks.remove(held)
            self._keep(held)
            self._show_held()
        else:
            self.take(confirms=held)

    def _read_again(self, held: Held, again: PartReading) -> None:
        """A held reading was read once more: it stands, or the new one takes its place."""
        self._hand.looks.remove(held)
        if agrees_again(held.reading, again):
            self._keep(held)
            self._discard(held.row, again, held.visit, parts_keep.READ_AGAIN)
        else:
            self._drop(held)
            self._look(Held(held.row, again, held.visit, self._hand.into), sure=False)
        self._show_held()

    def keep_again(self) -> None:
        """Try once more to keep what the library did not take."""
        unkept, self._hand.unkept = self._hand.unkept, []
        for found in unkept:
            self._keep(found)

    def _keep(self, found: Held) -> None:
        row, visit, at_hand = self._hand.here(found.row), found.visit, self._hand.book.visit
        here = at_hand is not None and at_hand.id == visit.id
        into = self._hand.into if here else found.into
        beside = self._hand.book.other(row) if here else None
        side, other = self._sides(row, beside)
        dead_board = self._hand.dead_board

        def work(library: Library) -> Done:
            done = parts_keep.keep(
                library, found.reading, side, other, dead_board, visit=visit, round_=into.round
            )
            into.round = done.round
            return done

        def failed(error: BenchlogError) -> None:
            self._written()
            self._hand.unkept.append(found)
            self.not_kept.emit(found)
            read = f"{found.row.designator}: {in_words(found.reading)}"
            self._hand.say(f"{read} is not stored yet, {self._hand.unkept_keys}. {error}")
            self._hand.work.say_error(error)

        self._writing += 1
        self.came.emit(found)
        self._hand.edit(work, lambda done: self._kept(found, done), failed)

    def _sides(self, row: Row, beside: Row | None) -> tuple[Side, Side | None]:
        """A row and the one on the other side, with what else was read of both parts."""
        book = self._hand.book
        return Side.of(row, book), Side.of(beside, book) if beside is not None else None

    def _written(self) -> None:
        """The library has answered: what was to be taken back meanwhile can be found now."""
        self._writing -= 1
        self._store_next()
        if self._undo_later and not self._writing:
            self._undo_later -= 1
            self._take_back_last()

    def _kept(self, found: Held, done: Done) -> None:
        if not found.reading.typed:
            self._runner.kept(found.reading.id)
        row = self._hand.book.again(found.row)
        if row is not None:
            self._show_kept(found, row, done)
        self.kept.emit(found)
        self._written()
        if self._hand.unkept:
            self.keep_again()

    def _show_kept(self, found: Held, row: Row, done: Done) -> None:
        """Show what a part of the unit at hand was found to read, and say it."""
        self._hand.take_in(done)
        self._hand.book.skipped.discard(row.at)
        if self._hand.at == row.at:
            turned = found.reading.conditions.leads == REVERSED
            self._hand.turn = row.at if done.turn and not turned else None
            self._hand.sentence = done.complaint
        if self._hand.work.voice is not None and done.judgement is not None:
            at_hand = self._hand.row
            gone_on = at_hand is not None and at_hand.at != row.at
            following = at_hand.designator if at_hand is not None and gone_on else self._hand.following
            if self._hand.hands_free and self._hand.turn == row.at:
                following = f"{row.designator} turned round"
            elif not gone_on:
                self._hand.announced = self._hand.book.next_to_do(self._hand.at)
            self._hand.work.voice.result(done.judgement, moving_too(found.reading), found.assumed, following)
        self._hand.stood.emit()

    def _noticed(self, notice: messages.Notice) -> None:
        """A meter that gave nothing, or a recorder that is gone: nothing is awaited any more."""
        if self._hand.waiting is not None and notice.place in (self._hand.waiting.job, WATCH):
            fix = f"; {notice.fix}" if notice.fix else ""
            self._give_up(self._hand.waiting, f"{notice.place}: {notice.problem}{fix}.")

    def _give_up(self, asked: Asked, sentence: str) -> None:
        if self._hand.waiting is asked:
            self._hand.waiting = None
            self._hand.say(sentence, refused=True)

    # --- taking back ---------------------------------------------------------------------------------

    def undo(self) -> None:
        """Take back what is held, awaited, or was kept last, and take that part in hand again."""
        waiting = self._hand.waiting
        if self._hand.looks:
            held = self._hand.looks.pop(0)
            if waiting is not None and waiting.confirms is held:
                waiting.unwanted, self._hand.waiting = True, None
            self._drop(held)
            self._hand.sentence = ""
            self._show_held()
            return
        if waiting is not None:
            waiting.unwanted, self._hand.waiting = True, None
            self._hand.say("")
            return
        if self._hand.unkept:
            self._drop(self._hand.unkept.pop())
            self._hand.say("")
            return
        if self._writing:
            self._undo_later += 1
        else:
            self._take_back_last()

    def _take_back_last(self) -> None:
        last = self._hand.book.last()
        if last is None:
            self._hand.say("Nothing in this round is left to take back.", refused=True)
            return
        row, kept = last
        without = Row(row.at, row.line, row.other, [one for one in row.readings if one is not kept])
        beside = self._hand.book.other(row)
        side, other = self._sides(without, beside)
        dead_board = self._hand.dead_board
        self._hand.go(row.at)

        def done(found: Done) -> None:
            self._hand.take_in(found)
            before = self._hand.here(row).kept
            stands = (
                f" {in_words(before.reading)}, read before it, stands again." if before is not None else ""
            )
            self._hand.say(f"{row.designator}: {in_words(kept.reading)} taken back.{stands}")
            self._written()

        def failed(error: BenchlogError) -> None:
            self._hand.work.say_error(error)
            self._written()

        self._writing += 1
        self._hand.edit(
            lambda library: parts_keep.take_back(library, kept, side, other, dead_board), done, failed
        )

    def _drop(self, held: Held) -> None:
        """What was typed is gone; what was taken is kept as taken back."""
        if not held.reading.typed:
            self._discard(held.row, held.reading, held.visit)

    def _discard(
        self, row: Row, reading: PartReading, visit: Visit, reason: str = parts_keep.TAKEN_BACK
    ) -> None:
        """A taken reading nobody wants is kept as taken back, so that the recorder can let go of it."""
        at_hand = self._hand.book.visit
        into = self._hand.into if at_hand is not None and at_hand.id == visit.id else Pass()

        def done(found: Done) -> None:
            self._hand.take_in(found)
            self._runner.kept(reading.id)

        self._hand.edit(
            lambda library: parts_keep.discard(library, reading, row.line, visit, into.round, reason),
            done,
        )


def moving_too(reading: PartReading) -> str:
    """A reading in words; of one that still moved, with where it was heading."""
    if reading.settled or reading.value is None:
        return in_words(reading)
    end = dict(reading.beside).get(HEADING)
    stop = ", " if end is not None else ": "
    return f"{in_words(reading)}{stop}{creeping(reading.value, end, reading.unit)}"
