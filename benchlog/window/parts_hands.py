"""Hands-free on the Parts page: what is ahead of the hands, what the tips do, and what the keys do meanwhile.

The recorder takes by itself; here is said what comes next, and shown what it tells.
"""

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

from PySide6.QtCore import QObject

from benchlog.domain.asking import REVERSED, value_of
from benchlog.domain.handsfree import Coming, Tips, coming
from benchlog.domain.reading import Function
from benchlog.errors import BenchlogError
from benchlog.recorder.client import messages
from benchlog.store.ids import new_id
from benchlog.store.taken import reading_of
from benchlog.window import words
from benchlog.window.keys import PARTS, Action
from benchlog.window.parts_book import Book, Row
from benchlog.window.parts_held import Asked, Held
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_readings import Readings, moving_too
from benchlog.window.parts_tips import Said
from benchlog.window.run_view import Phase
from benchlog.window.shapes import Shape

AHEAD = 16
"""So many parts go on by themselves, should this window hang."""


class HandsFree(QObject):
    """On or off; while it is on, the parts ahead are taken as their contacts come."""

    def __init__(self, hand: InHand, readings: Readings) -> None:
        super().__init__()
        self._hand = hand
        self._readings = readings
        self._runner = hand.work.runner
        self._job, self._visit = "", ""
        self._ids: dict[tuple[tuple[str, str], bool], str] = {}
        """The id that the reading of a row will carry, the leads turned round or not."""
        self._rows: dict[str, Row] = {}
        self._sent: list[messages.Part] = []
        self._under_way: set[tuple[str, str]] = set()
        """Rows whose reading is on its way into the library, by their keys."""
        self._again: int | None = None
        """A row that has a reading and was gone to: it is read once more."""
        self._told: messages.Hands | None = None
        self._just_taken = False
        self._stood: tuple[object, ...] = ()
        hand.moved.connect(self._moved)
        for signal in (hand.opened, hand.walked, hand.touched):
            signal.connect(self.refresh)
        for signal in (hand.stood, self._runner.changed):
            signal.connect(self._stands)
        self._runner.hands.connect(self._heard)
        self._runner.phase_changed.connect(self._phase)
        self._runner.bench_opened.connect(self._stop)
        self._runner.gone.connect(lambda _: self._stop())
        readings.came.connect(self._came)
        readings.kept.connect(self._kept)
        readings.not_kept.connect(self._not_kept)

    @property
    def on(self) -> bool:
        """Whether parts are taken by themselves."""
        return self._hand.hands_free

    # --- on and off ----------------------------------------------------------------------------------

    def toggle(self) -> None:
        """Begin, or end."""
        if self.on:
            self.end()
            self._hand.say("Hands-free is off.")
            return
        hand, row = self._hand, self._hand.row
        problem = hand.cannot_keep() or self._readings.cannot_take()
        if problem or row is None:
            hand.say(problem, refused=True)
            return
        problem = self._readings.wants_it_off(row)
        if problem:
            hand.refuse_while_on(problem)
            return
        hand.hands_free, self._job = True, hand.job
        self._visit = hand.book.visit.id if hand.book.visit is not None else ""
        self._again = row.at if row.kept is not None else None
        self._told = hand.taken_last = None
        self._just_taken = False
        self.refresh()
        hand.say("")

    def end(self) -> None:
        """Take nothing by itself any more."""
        if self.on:
            self._send([])
            self._stop()

    def _stop(self) -> None:
        """It has ended at the other end."""
        if self.on:
            self._hand.hands_free, self._hand.hands_held = False, None
            self._sent = []
            self._hand.stood.emit()

    def key(self, what: str) -> bool:
        """A key or pedal that takes, or drops what is held; false where that is nothing to hands-free."""
        row, held = self._hand.row, self._hand.hands_held
        if not self.on or row is None or (what == "drop" and held is None):
            return False
        request = messages.Press(id=0, job=self._job, reading=self._id_of(row), what=what)
        self._runner.press(request, lambda error: self._hand.say(str(error), refused=True))
        return True

    # --- what is ahead -------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Let the recorder know what is ahead, where that changed."""
        if not self.on:
            return
        visit = self._hand.book.visit
        if self._job != self._hand.job or visit is None or visit.id != self._visit:
            self.end()
            return
        parts = self._ahead()
        if parts != self._sent:
            self._send(parts)

    def _stands(self) -> None:
        """Something changed that is no reading: mostly nothing that matters here, and long lists take their time."""
        hand = self._hand
        stands = (hand.turn, hand.held is None, not hand.unkept, hand.job, hand.may_be_on)
        if stands != self._stood:
            self._stood = stands
            self.refresh()

    def _send(self, parts: list[messages.Part]) -> None:
        self._sent = parts

        def refused(error: BenchlogError) -> None:
            self._stop()
            self._hand.say(str(error), refused=True)

        self._runner.ahead(messages.Ahead(id=0, job=self._job, parts=parts), refused)

    def _ahead(self) -> list[messages.Part]:
        hand, book = self._hand, self._hand.book
        if hand.held is not None or hand.unkept or hand.cannot_keep():
            return []  # First that, with the keys it asks for.
        if hand.row is not None and hand.row.kept is None and hand.row.measure.needs:
            return []  # What is shown is not for two probes: nothing is taken for another behind its back.
        fit = (
            row
            for row in self._from_here(book)
            if self._is_to_do(row) and not self._readings.wants_it_off(row)
        )
        return [self._part(row) for row in islice(fit, AHEAD)]

    def _from_here(self, book: Book) -> Iterator[Row]:
        """The row at hand and those behind it, once round, what was skipped last."""
        here, skipped = self._hand.at, list[Row]()
        if book.rows:
            yield book.rows[here]
        at = here
        for _ in book.order:
            following = book.beside(at, 1)
            at = book.order[0] if following is None else following
            if at == here:
                break
            if at in book.skipped:
                skipped.append(book.rows[at])
            else:
                yield book.rows[at]
        yield from skipped

    def _next(self, at: int) -> int | None:
        """The next row to do that two probes can take: a loss wants a bridge, a leakage its minutes."""
        first, book = at, self._hand.book
        for _ in book.rows:
            following = book.next_to_do(at)
            if following is None or following == first or not book.rows[following].measure.needs:
                return None if following == first else following
            at = following
        return None

    def _is_to_do(self, row: Row) -> bool:
        here = row.at == self._hand.at
        if row.measure.needs:
            return False
        if here and row.at in (self._hand.turn, self._again):
            return True
        return row.kept is None and row.key not in self._under_way

    def _part(self, row: Row) -> messages.Part:
        reverse = self._hand.turn == row.at
        id_ = self._id_of(row)
        visit = self._hand.book.visit
        assert visit is not None  # noqa: S101 - nothing is ahead without one
        self._rows[id_] = row
        self._readings.expect(id_, Asked(row, self._job, visit, reverse))
        other = self._hand.book.other(row)
        beside = [
            value
            for one in (other, row)
            if one is not None and one.kept is not None
            if (value := value_of(one.kept.reading)) is not None
        ]
        return _sent(
            coming(id_, row.measure.function, row.expectation, beside),
            row,
        )

    def _id_of(self, row: Row) -> str:
        key = (row.key, self._hand.turn == row.at)
        return self._ids.setdefault(key, new_id())

    def _moved(self) -> None:
        """Another row is at hand: one that has a reading is read once more."""
        row = self._hand.row
        self._again = row.at if row is not None and row.kept is not None else None
        self._hand.hands_held = None
        self.refresh()

    def _phase(self, _: Phase) -> None:
        """Beside a unit that may be on only volts go on."""
        row = self._hand.row
        if self.on and row is not None and self._readings.wants_it_off(row):
            self.end()
            self._hand.refuse_while_on(self._readings.wants_it_off(row))

    # --- what is told --------------------------------------------------------------------------------

    def _heard(self, told: messages.Hands) -> None:
        if not self.on or told.job != self._job:
            return
        before, self._told = self._told, told
        voice = self._hand.work.voice
        tips = Tips(told.tips)
        was = before.tips if before is not None else ""
        if tips is not Tips.LIFT:
            self._just_taken = False
        if voice is not None and tips.value != was:
            if tips is Tips.CONTACT:
                voice.hush()
            elif tips in (Tips.WRONG, Tips.SILENT):
                voice.refused(self.said.word)
        self._hold(told, before)
        if tips is Tips.NOTHING and told.why:
            self._stop()
            self._hand.say(told.why, refused=True)
            return
        self._hand.stood.emit()

    def _hold(self, told: messages.Hands, before: messages.Hands | None) -> None:
        row, held = self._rows.get(told.reading), told.held
        visit = self._hand.book.visit
        if held is None or row is None or visit is None:
            self._hand.hands_held = None
            return
        body = {name: getattr(held, name) for name in held.__struct_fields__}
        asked = Asked(row, self._job, visit, reverse=self._hand.turn == row.at)
        reading = replace(reading_of(body), conditions=self._readings.conditions(asked))
        self._hand.hands_held = Held(row, reading, visit, self._hand.into)
        if before is None or before.held != held:
            self._runner.stay_awake()
            if self._hand.work.voice is not None:
                self._hand.work.voice.look()

    def _came(self, found: Held) -> None:
        """A reading came: its part is not ahead any more."""
        self._under_way.add(found.row.key)
        turned = found.reading.conditions.leads == REVERSED
        self._ids.pop((found.row.key, turned), None)
        if self._again == self._hand.here(found.row).at:
            self._again = None
        self.refresh()

    def _not_kept(self, found: Held) -> None:
        self._under_way.discard(found.row.key)
        self.refresh()

    def _kept(self, found: Held) -> None:
        """The library has it: on to the next, unless its leads are to be turned round first."""
        hand = self._hand
        self._under_way.discard(found.row.key)
        hand.taken_last = (found.row.key, moving_too(found.reading))
        self._just_taken = self._told is not None and self._told.tips == Tips.LIFT
        row = hand.row
        mine = row is not None and row.key == found.row.key
        if self.on and mine and hand.turn != hand.at and hand.held is None:
            following = self._next(hand.at)
            if following is not None:
                hand.go(following)
            else:
                hand.say("Every part of this round is read.")
        self.refresh()

    # --- what is shown -------------------------------------------------------------------------------

    @property
    def said(self) -> Said:
        """What goes on, as it is shown."""
        row, told = self._hand.row, self._told
        go = self._hand.work.keys.name(Action.GO, PARTS)
        name = row.designator if row is not None else ""
        if self._hand.turn == self._hand.at:
            name = f"{name}, leads turned round"
        held = self._hand.hands_held
        tips = Tips(told.tips) if told is not None else Tips.LIFT
        if held is not None and tips not in (Tips.CONTACT, Tips.SETTLING):
            return Said("look?", f"touch it again, or {go} keeps it", tips, Shape.DOUBT)
        if not self._sent and row is not None and row.kept is None and row.measure.needs:
            skip = self._hand.work.keys.name(Action.SKIP, PARTS)
            return Said(
                "by hand", f"{name} is no job for two probes: type it, or {skip} skips it", Tips.NOTHING
            )
        if not self._sent:
            return Said("done", "no part is ahead", Tips.NOTHING)
        wrong = told.why if told is not None else ""
        if wrong in tuple(Function):
            wants = words.FUNCTION[row.measure.function] if row is not None else "another"
            wrong = f"the meter is on {words.FUNCTION[Function(wrong)]}, {name} wants {wants}"
        says = {
            Tips.NOTHING: ("wait", f"then touch {name}"),
            Tips.LIFT: ("taken", f"lift, then {name}")
            if self._just_taken
            else ("lift", f"then touch {name}"),
            Tips.AIR: ("in the air", f"touch {name}; if it is open, {go}"),
            Tips.CONTACT: ("contact", name),
            Tips.SETTLING: ("settling", name),
            Tips.KEY: (f"{go} takes", f"touch {name} first"),
            Tips.WRONG: ("wrong function", wrong),
            Tips.SILENT: ("meter silent", "look at the meter and its cable"),
        }
        word, what = says[tips]
        return Said(word, what, tips, self._taken_shape() if word == "taken" else None)

    def _taken_shape(self) -> Shape:
        last = self._hand.book.last()
        return last[0].shape if last is not None else Shape.GOOD

    @property
    def live(self) -> float | None:
        """What the meter reads of a contact that is coming to rest; None where there is none."""
        told, live = self._told, self._runner.view.live.get(self._job)
        tips = told.tips if told is not None else ""
        return live.value if live is not None and tips in (Tips.CONTACT, Tips.SETTLING) else None


def _sent(part: Coming, row: Row) -> messages.Part:
    """A part as the recorder is told of it; what has no end is null there."""
    near = None
    if part.near is not None:
        near = [tuple(end if math.isfinite(end) else None for end in span) for span in part.near]
    return messages.Part(
        reading=part.reading,
        designator=row.designator,
        function=part.function.value,
        part=row.line.fitted.id,
        measure=row.measure.word,
        near=near,  # type: ignore[arg-type]  # two ends each
        over=part.over,
        by_key=part.by_key,
    )
