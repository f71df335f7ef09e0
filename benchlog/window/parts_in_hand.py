"""What is at hand on the Parts page: the book, the part, what is awaited, held and said; and how to go about."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TypeVar

from PySide6.QtCore import QObject, Signal

from benchlog.domain.lcr import LcrState
from benchlog.domain.leads import LeadNull
from benchlog.domain.measures import all_of
from benchlog.domain.partsorder import Order
from benchlog.domain.quantity import show
from benchlog.domain.unit import Round
from benchlog.errors import BenchlogError
from benchlog.store.library import Library
from benchlog.store.query_unit import BoardsState
from benchlog.window import parts_keep
from benchlog.window.keys import PARTS, Action
from benchlog.window.parts_book import Book, Row, in_words
from benchlog.window.parts_held import Asked, Held, Pass
from benchlog.window.parts_keep import Done
from benchlog.window.parts_walk import Walk, order_of, read_book, where_it_stopped
from benchlog.window.run_view import Phase
from benchlog.window.work import Work

T = TypeVar("T")

VOLTS_ONLY = "Volts only. Black lead clipped, one hand."
"""How parts are read while the unit may be on."""


class InHand(QObject):
    """The part at hand.

    `opened` when another book is at hand, `walked` when other parts of it are gone over or in another order,
    `touched` carries rows that changed, `moved` when another row is at hand, `stood` when something that is not a
    reading changed: what is awaited, held, lifted or said, `dropping` carries a held reading that cannot be held
    any longer, since its unit goes out of hand.
    """

    opened = Signal()
    walked = Signal()
    touched = Signal(list)
    moved = Signal()
    stood = Signal()
    dropping = Signal(object)

    def __init__(self, work: Work) -> None:
        super().__init__()
        self.work = work
        self.book = Book()
        self.at = 0
        self.sentence = ""
        self.looks: list[Held] = []
        """Readings that wait for a second look, one after the other."""
        self.unkept: list[Held] = []
        """Readings that the library did not take yet."""
        self.waiting: Asked | None = None
        self.turn: int | None = None
        """The row whose leads are to be turned round for the next reading."""
        self.job = ""
        """The walking meter in use."""
        self.announced: int | None = None
        """The row that was named last as the one to go to."""
        self.nulling = ""
        """The id of the reading of shorted leads that is awaited; empty where none is."""
        self.nulls: dict[str, LeadNull] = {}
        """The leads of each walking meter as they were nulled here."""
        self.hands_free = False
        """Whether the parts ahead are taken by themselves."""
        self.hands_held: Held | None = None
        """What was read so, far off, and waits for the same again or for a key."""
        self.taken_last: tuple[tuple[str, str], str] | None = None
        """The key of the row that was taken last so, and what it read."""
        self.into = Pass()
        self.walk = Walk()
        """Which parts are gone over, and in which order, as it was asked for last."""
        self.lcr = LcrState()
        """How the LCR meter stands whose readings are typed; kept until it is changed."""
        self._while_on = ""
        """What was said that is true only while the unit may be on."""
        self._told_on = False
        """Whether it was said how parts are read since the unit was last off."""
        self._voided = ""
        """When that was said of the boards' charge which a proof has voided since."""
        self._mine = False
        self._acts = 0
        """Acts that were asked for, and those that were carried out."""
        work.shelf.chosen.connect(self._chosen)
        work.shelf.edited.connect(self._edited)
        work.runner.changed.connect(self._bench)
        work.runner.phase_changed.connect(self._phase)
        work.runner.bench_opened.connect(self._bench_opened)

    # --- what is at hand -----------------------------------------------------------------------------

    @property
    def row(self) -> Row | None:
        """The part at hand."""
        return self.book.rows[self.at] if self.at < len(self.book.rows) else None

    @property
    def meters(self) -> list[str]:
        """The walking meters of the open bench, by their jobs."""
        bench = self.work.runner.view.bench
        return [] if bench is None else [one.job for one in bench.meter if one.function is None]

    @property
    def following(self) -> str:
        """Where the hand goes next."""
        at = self.book.next_to_do(self.at)
        return self.book.rows[at].designator if at is not None else ""

    @property
    def more(self) -> str:
        """The next measure of the part at hand that is not to do yet, by its word; empty where all are."""
        if self.row is None:
            return ""
        part = self.row.line.part
        listed = {one.measure.word for one in self.book.of_part(part.id)}
        return next((one.word for one in all_of(part.kind, part.function) if one.word not in listed), "")

    def next_frequency(self) -> None:
        """The LCR meter whose readings are typed is set to the next of its usual frequencies."""
        self.lcr = self.lcr.next_frequency()
        self.stood.emit()

    def here(self, row: Row) -> Row:
        """The row as the book at hand has it; the book may have been read anew meanwhile."""
        return self.book.again(row) or row

    @property
    def held(self) -> Held | None:
        """The reading that waits for a second look just now."""
        return self.looks[0] if self.looks else None

    def unstored(self, row: Row) -> Held | None:
        """A reading of that row that is shown and not stored."""
        waits = (*self.looks, *self.unkept, *((self.hands_held,) if self.hands_held is not None else ()))
        return next((one for one in waits if self.here(one.row) is row), None)

    @property
    def held_keys(self) -> str:
        """What keys a held reading waits for."""
        go, undo = (self.work.keys.name(action, PARTS) for action in (Action.GO, Action.UNDO))
        if self.held is not None and not self.held.reading.typed:
            # Probes move on before a hand finds the key: what stands is what is read again.
            return f"{go} reads it once more and keeps it where it stands, {undo} drops it"
        return f"{go} keeps it, {undo} drops it"

    @property
    def unkept_keys(self) -> str:
        """What keys a reading waits for that the library did not take."""
        go, undo = (self.work.keys.name(action, PARTS) for action in (Action.GO, Action.UNDO))
        return f"{go} tries again, {undo} drops it"

    def say(self, sentence: str, *, refused: bool = False) -> None:
        """Show a sentence beside the part at hand."""
        self.sentence = sentence
        if refused and self.work.voice is not None:
            self.work.voice.refused()
        self.stood.emit()

    @property
    def may_be_on(self) -> bool:
        """Whether the unit may have power just now: in a run, in a proof, and until it was seen off."""
        view = self.work.runner.view
        return view.is_live or view.still_doubted or view.phase is Phase.PROVING

    @property
    def on_words(self) -> str:
        """That it is, as a sentence begins."""
        return "The unit is live" if self.work.runner.view.is_live else "The unit may be on"

    def refuse_while_on(self, sentence: str) -> None:
        """Refuse something with a sentence that goes once the unit is off."""
        self.say(sentence, refused=True)
        self._while_on = sentence

    def tell_on(self) -> None:
        """Say how parts are read while the unit may be on; once until it is off again."""
        if self.may_be_on and not self._told_on:
            self._told_on = True
            self._while_on = VOLTS_ONLY
            self.say(VOLTS_ONLY)

    def refresh(self) -> None:
        """Read everything anew."""
        shelf = self.work.shelf
        unit, visit, pass_ = shelf.unit, shelf.visit, shelf.round
        if unit is None:
            self._open(Book())
            return
        acts = self._acts

        def show(book: Book) -> None:
            if self._acts == acts:
                self._open(book)
            else:
                # It may have been read before an act that was kept meanwhile, and would hide what that did.
                self.refresh()

        shelf.read(
            lambda folder: read_book(folder, unit, visit, pass_),
            show,
            self.work.say_error,
            owner=self,
            key="parts",
        )

    def _open(self, book: Book) -> None:
        before, same = self.row, self.book.unit is not None and book.unit is not None
        same = same and self.book.unit.id == book.unit.id  # type: ignore[union-attr]  # both were looked at
        if same:
            book.skipped = self.book.skipped
        else:
            for held in self.looks:
                self.dropping.emit(held)
            self.looks.clear()
            self.turn, self.sentence, self.announced = None, "", None
            self.waiting = None  # What comes of it belongs to the unit it was asked for.
        stays = same and (self.book.round is None or self.book.round == book.round)
        self.book = book
        self.into = Pass(book.round)
        if not same:
            self.walk = Walk()
        book.arrange(order_of(book, self.walk))
        found = book.at_part_of(before) if stays and before is not None else None
        if found is None or before is None or found.key != before.key:
            self.turn = None  # Another item was not read yet, which way round ever.
        if found is not None:
            self.at = found.at
        else:
            self.at, self.sentence = where_it_stopped(book)
        if book.round is not None and self.work.shelf.round != book.round:
            self.tell_round(book.round)
        self.opened.emit()

    def _chosen(self) -> None:
        if not self._mine:
            self.refresh()

    def _edited(self) -> None:
        if self._mine:
            self._mine = False
        else:
            self.refresh()

    def edit(
        self,
        work: Callable[[Library], T],
        done: Callable[[T], None],
        failed: Callable[[BenchlogError], None] | None = None,
        *,
        again: bool = False,
    ) -> None:
        """One act on the library; `again` where everything is read anew after it."""
        self._acts += 1

        def then(result: T) -> None:
            self._acts += 1
            done(result)
            self._mine = not again

        self.work.shelf.edit(work, then, failed or self.work.say_error, owner=self)

    def take_in(self, done: Done) -> None:
        """Show what an act on readings did."""
        began, visit = done.round, self.book.visit
        # Another unit may be at hand by the time the library answers.
        if began is not None and visit is not None and began.visit == visit.id and self.book.round is None:
            self.book.round = began
            self.tell_round(began)
        self.touched.emit(self.book.put(done.readings))

    def cannot_keep(self) -> str:
        """Why nothing can be read just now; empty where it can."""
        if self.book.unit is None:
            return "No unit is at hand: make or choose one on the Unit page (F2)."
        if self.book.visit is None or self.book.visit.closed is not None:
            return "The unit is not on the bench: take it in on the Unit page (F2)."
        return (
            "" if self.row is not None else "No part is listed yet: type one as a line, such as R12 4k7 5%."
        )

    def tell_round(self, pass_: Round) -> None:
        """The whole window learns which round is under way."""
        shelf = self.work.shelf
        self._mine = True
        shelf.choose(shelf.unit, shelf.visit, pass_)
        self._mine = False

    def _phase(self, phase: Phase) -> None:
        if phase is Phase.PROVING:
            self._void_boards()

    def _bench(self) -> None:
        self._told_on = self._told_on and self.may_be_on
        if self._while_on and not self.may_be_on:
            if self.sentence == self._while_on:
                self.say("")
            self._while_on = ""
        meters = self.meters
        if self.job not in meters:
            self.job = meters[0] if meters else ""
            self.stood.emit()

    def _bench_opened(self) -> None:
        """The recorder holds what the bench file says of each meter's leads, and nothing else."""
        bench = self.work.runner.view.bench
        self.nulls = {one.job: one.null for one in bench.meter if one.null} if bench is not None else {}
        self._bench()
        self.stood.emit()

    def next_meter(self) -> None:
        """Take with the next walking meter of the bench."""
        meters = self.meters
        if meters:
            at = meters.index(self.job) if self.job in meters else -1
            self.job = meters[(at + 1) % len(meters)]
            self.stood.emit()

    def null_of_meter(self, now: datetime) -> str:
        """How the leads of the meter in use stand, in words."""
        null = self.nulls.get(self.job)
        if null is None or null.left(now) <= timedelta(0):
            return "leads not nulled" if null is None else "leads nulled an hour ago"
        minutes = int((now - null.time).total_seconds() // 60)
        return (
            f"leads nulled: {show(null.value, 'ohm')}, {f'{minutes} min ago' if minutes > 0 else 'just now'}"
        )

    # --- whether the boards are dead -----------------------------------------------------------------

    @property
    def dead_board(self) -> bool | None:
        """Whether the boards were found without charge; None where nobody said so since the unit was last on."""
        state = self.book.boards_state
        return None if self.may_be_on or state.at == self._voided else state.holds

    def _void_boards(self) -> None:
        """A proof puts power on the unit and leaves no run: what was said before goes as soon as one is asked for."""
        book, visit = self.book, self.book.visit
        self._voided = book.boards_state.at

        def done(state: BoardsState) -> None:
            at_hand = self.book.visit
            if visit is not None and at_hand is not None and at_hand.id == visit.id:
                self.book.boards_state = state
            self.stood.emit()

        def failed(error: BenchlogError) -> None:
            if book.boards_state.dead is not None:
                self.work.say_error(error)

        self.edit(lambda library: parts_keep.void_boards(library, visit), done, failed)

    def next_board_state(self) -> None:
        """Whether the boards were found without charge: not said, yes, no; kept with the visit, with its time."""
        visit, pass_ = self.book.visit, self.into.round or self.book.round
        problem = self.cannot_keep()
        if self.may_be_on:
            self.refuse_while_on(
                f"{self.on_words}: say so once it is off and its reservoirs were seen to be empty."
            )
            return
        if problem or visit is None:
            self.say(problem, refused=True)
            return
        order = (None, True, False)
        dead = order[(order.index(self.dead_board) + 1) % len(order)]
        book = self.book

        def done(state: BoardsState) -> None:
            book.boards_state = state
            self.stood.emit()

        self.edit(lambda library: parts_keep.say_boards(library, visit, pass_, dead), done)

    # --- which parts, in which order -----------------------------------------------------------------

    def narrow(self, text: str) -> None:
        """Go over the parts that these words find; over all of them without any."""
        self._walk(replace(self.walk, text=text))

    def next_order(self) -> None:
        """Go over them in the next order."""
        orders = list(Order)
        self._walk(replace(self.walk, order=orders[(orders.index(self.walk.order) + 1) % len(orders)]))

    def _walk(self, walk: Walk) -> None:
        self.walk = walk
        self.book.arrange(order_of(self.book, walk))
        self.walked.emit()

    def settle_walk(self) -> None:
        """The words stand: the first of what they found is at hand, where the part at hand is not among them."""
        book = self.book
        if book.order and self.at not in book.order:
            self.go(next((at for at in book.order if book.rows[at].kept is None), book.order[0]))

    # --- going about ---------------------------------------------------------------------------------

    def go(self, at: int) -> None:
        """Take another part in hand; not while a reading is held."""
        if self.held is not None:
            self.say(
                f"{self.held.row.designator} waits with {in_words(self.held.reading)}: {self.held_keys}.",
                refused=True,
            )
            return
        if 0 <= at < len(self.book.rows):
            self.at, self.turn, self.sentence = at, None, ""
            if self.work.voice is not None and self.announced != at:
                self.work.voice.hush()
                self.work.voice.at(self.book.rows[at].designator)
            self.announced = at
            self.moved.emit()

    def next(self) -> None:
        """On to the next part that is to do."""
        at = self.book.next_to_do(self.at)
        if at is not None:
            self.go(at)
        elif self.book.rows and self.row is not None and self.row.kept is not None:
            self.say("Every part of this round is read.")
        else:
            self.say("No other part is to do.")

    def skip(self) -> None:
        """Leave this one for the end."""
        if self.held is None:
            self.book.skipped.add(self.at)
        self.next()
