"""The Parts page: the list, the part at hand with its numeral and ruler, what stands beside, all parts at a glance.

Everything has a key of the number pad. Digits begin a reading, letters a line.
"""

from collections.abc import Callable
from datetime import UTC, datetime

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from benchlog.domain.measures import LCR
from benchlog.window import keys, words
from benchlog.window.keys import Action
from benchlog.window.page import Page, line
from benchlog.window.parts_beside import Beside
from benchlog.window.parts_current import Current
from benchlog.window.parts_entry import Meant
from benchlog.window.parts_guard import GuardLine
from benchlog.window.parts_hands import HandsFree
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_line import Said
from benchlog.window.parts_listing import Listing
from benchlog.window.parts_null import Nulling
from benchlog.window.parts_panels import Panels
from benchlog.window.parts_readings import Readings
from benchlog.window.parts_shift import Shifting
from benchlog.window.parts_side import Side
from benchlog.window.parts_strip import Strip, Tally
from benchlog.window.parts_tips import HIGH, TipsBar
from benchlog.window.parts_typing import Typing
from benchlog.window.parts_views import PartsViews
from benchlog.window.work import Work

THREE_FROM, WIDE_FROM = 1060, 800
"""Pixels of width from which there is room for the right column, and for a list with all its columns."""

TALL_FROM = 690
"""Pixels of height from which there is room for two lines of results."""

_OF_PEDAL = {"take": Action.GO, "skip": Action.SKIP, "undo": Action.UNDO}
_AT_A_POINT = {Action.GO: Action.HANDS_FREE, Action.LIFTED: Action.SHIFT_BACK, Action.SKIP: Action.SHIFT_ON}
"""What a key of the pad does where nothing is typed but a point."""

BOARDS = {None: "boards dead? not said", True: "boards seen dead", False: "boards not dead"}
"""Whether the boards were found without charge."""
BOARDS_AGAIN = "unit was on: boards dead?"
"""The same where it was said before the unit was on."""


class PartsPage(Page):
    """The parts of the unit at hand, one after the other."""

    title = words.PARTS
    place = keys.PARTS

    def __init__(self, work: Work) -> None:
        super().__init__(work)
        self.hand = InHand(work)
        self.readings = Readings(self.hand)
        self.hands = HandsFree(self.hand, self.readings)
        self.shifting = Shifting(self.hand)
        self.nulling = Nulling(self.hand)
        self.listing = Listing(self.hand, self.readings)
        self.typing = Typing(self.hand, self.listing, self.readings, self.show_current)
        self.entry = self.typing.entry
        self.side = Side(work, lambda: (self.hand.book, self.hand.at, self.hand.lcr))
        self.list, self.heads, self.field = self.side.list, self.side.heads, self.side.field
        self.current = Current(work, self.hand)
        self.tips = TipsBar(work.look)
        self.guard = GuardLine(work.look, self.hand)
        self.strip = Strip(work.look)
        self.beside = Beside(work, self.hand)
        self.panels = Panels(work, self.hand)
        self.tally = Tally(work.look)
        self._boards, self._leads, self._rounds = self.side.boards, self.side.leads, self.side.rounds
        self._free = self.side.free
        self._between = line(upright=True)
        self._lay()
        self._connect()

    def _lay(self) -> None:
        middle = QVBoxLayout()
        middle.setSpacing(8)
        middle.addWidget(self.tips)
        middle.addWidget(self.current)
        middle.addWidget(self.tally)
        middle.addWidget(self.strip, 1)
        page = QVBoxLayout(self)
        page.setContentsMargins(16, 12, 16, 12)
        self._desk = QWidget()
        row = self._row = QHBoxLayout(self._desk)
        row.setContentsMargins(0, 0, 0, 0)
        self.views = PartsViews(self.hand, self._desk, self.field)
        page.addWidget(self.views, 1)
        # Next to the rails in the foot, where no notice comes to lie.
        page.addWidget(self.guard)
        row.addWidget(self.side)
        self._after_list = line(upright=True)
        row.addWidget(self._after_list)
        row.addLayout(middle, 1)
        middle.addWidget(self.panels, 1)
        self.panels.hide()
        row.addWidget(self._between)
        row.addWidget(self.beside)

    def _connect(self) -> None:
        hand = self.hand
        hand.opened.connect(self._open)
        hand.walked.connect(self._walked)
        hand.touched.connect(self._touch)
        hand.moved.connect(self._move)
        hand.stood.connect(self.show_current)
        self.work.runner.changed.connect(self._guard)
        self.list.asked.connect(self.typing.go)
        self.strip.asked.connect(self.typing.go)
        self.field.said.connect(self._said)
        self.field.left.connect(self.setFocus)
        self.side.narrowed.connect(hand.narrow)
        self.side.found.connect(self._found)
        self.side.begun.connect(self.listing.begin_round)
        self.side.order.clicked.connect(hand.next_order)
        self.side.all_rounds.clicked.connect(self.views.show_rounds)
        self.views.back.connect(self.setFocus)
        self.side.volts.clicked.connect(self.views.ask_charge)
        self.side.take_in.clicked.connect(lambda: self.act(Action.TAKE_IN))
        self.current.meter.clicked.connect(hand.next_meter)
        self.current.runs.clicked.connect(lambda: self.act(Action.RUNS_OF_PART))
        self.work.show_part.connect(self.show_part)
        self.beside.asked.connect(self.act)
        self.panels.turned.connect(self._turn)
        self.panels.quiet.connect(self.setFocus)
        self.panels.went.connect(self.typing.go)
        self._boards.clicked.connect(hand.next_board_state)
        self._leads.clicked.connect(self.nulling.begin)
        self.side.lcr.clicked.connect(hand.next_frequency)
        self.current.more.clicked.connect(self.listing.measure_more)
        self._free.clicked.connect(self.hands.toggle)
        self.work.runner.read.connect(self._live)
        for action, cap in self.current.caps.caps.items():
            cap.clicked.connect(lambda _=False, action=action: self.act(action))
        self._open()

    # --- what is shown -------------------------------------------------------------------------------

    def came(self) -> None:
        """The page is shown: the list may have grown elsewhere."""
        self.show_current()
        self._guard()

    def left(self) -> None:
        """Nothing is taken by itself where nobody sees it."""
        self.hands.end()

    def _guard(self) -> None:
        """Where the run is at; how parts are read beside it is said to whoever looks."""
        self.guard.refresh()
        if self.isVisible():
            self.hand.tell_on()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Columns as there is room."""
        super().resizeEvent(event)
        width = event.size().width()
        wide = width >= WIDE_FROM
        self.side.be_wide(wide=wide)
        self.side.setFixedWidth(
            max(350, min(440, int(width * 0.32))) if wide else max(176, int(width * 0.31))
        )
        self._row.setSpacing(16 if wide else 12)
        self.tally.have_lines(2 if event.size().height() >= TALL_FROM else 1)
        self.beside.setFixedWidth(max(220, min(320, int(width * 0.2))))
        self._turn()

    def _turn(self) -> None:
        """A view beside the list takes the room of the part at hand, or of everything."""
        panels = self.panels
        if panels.open is not None and self.entry.active:
            self.entry.clear()  # Nobody would see what is typed, nor may it seem to wait when the view goes.
            self.show_current()
        self.panels.setVisible(panels.open is not None)
        self.current.setVisible(panels.open is None)
        for left in (self.side, self._after_list):
            left.setVisible(not panels.whole)
        for right in (self.beside, self._between):
            right.setVisible(self.width() >= THREE_FROM and panels.open is None)
        self._share_height()

    def _open(self) -> None:
        self.list.show_book(self.hand.book)
        self.strip.show_book(self.hand.book, self.hand.at)
        self.entry.clear()
        self.side.show_words(self.hand.walk.text)
        self.beside.forget()
        self._move()

    def _walked(self) -> None:
        """Other parts are gone over, or in another order."""
        self.list.show_book(self.hand.book)
        self.list.choose(self.hand.at)
        self.strip.show_book(self.hand.book, self.hand.at)
        self._show_side()
        self.tally.show_book(self.hand.book)
        self._tell_step()

    def _show_side(self) -> None:
        hand = self.hand
        self.side.show_round(hand.book, hand.walk, parts=bool(hand.book.rows))

    def _touch(self, rows: list[int]) -> None:
        self.list.lines.touch(rows)
        self.strip.touch(rows)
        self.beside.forget()
        self.show_current()

    def _move(self) -> None:
        self.list.choose(self.hand.at)
        self.strip.choose(self.hand.at)
        self.show_current()

    def show_current(self) -> None:
        """Show the part at hand and everything beside it as it stands."""
        hand = self.hand
        found = self.typing.meant()
        self.current.refresh(self.entry, found, self.typing.jump())
        self.strip.refresh(hand.book)
        self.tally.show_book(hand.book)
        self.beside.refresh()
        state = hand.book.boards_state
        again = state.dead is not None and hand.dead_board is None
        self._boards.setText(BOARDS_AGAIN if again else BOARDS[hand.dead_board])
        held = f"{hand.book.charge.said} " if hand.book.charge.said else ""
        self._boards.setToolTip(f"{held}said {state.at[:16].replace('T', ' ')} UTC" if state.at else "")
        self.side.ask_charge(wanted=hand.row is not None and hand.dead_board is None and not hand.may_be_on)
        self._leads.setText(hand.null_of_meter(datetime.now(UTC)))
        self._show_side()
        for widget in (self.heads, self._boards):
            widget.setVisible(hand.row is not None)
        self._leads.setVisible(bool(hand.job))
        self.side.lcr.setText(f"LCR meter: {hand.lcr.shown}")
        self.side.lcr.setVisible(hand.row is not None and hand.row.measure.function in LCR)
        self._show_hands()
        self._tell_step()

    def _show_hands(self) -> None:
        """What the tips do, where they take by themselves."""
        on, key = self.hand.hands_free, self.work.keys.name(Action.HANDS_FREE, self.place)
        self._free.setVisible(bool(self.hand.job))
        self._free.setText(f"hands-free is {'on' if on else 'off'}: {key}")
        if on:
            self.tips.show_tips(self.hands.said)
        if on is self.tips.isHidden():
            self.tips.setVisible(on)
            self._share_height()

    def _share_height(self) -> None:
        """What the tips take, the numeral gives; on a low page strip and tally too, since the list says the same."""
        on, high = self.hand.hands_free, self.height()
        self.current.be_high(high - (HIGH if on else 0))
        for overview in (self.tally, self.strip):
            overview.setVisible(self.panels.open is None and (not on or high >= TALL_FROM))

    def _live(self) -> None:
        """What the meter shows while a contact comes to rest."""
        if self.hand.hands_free and self.isVisible() and not self.entry.active:
            self.current.show_live(self.hands.live)

    def _tell_step(self) -> None:
        book = self.hand.book
        self.work.stand(words.PARTS, book.shape(), book.stands)

    # --- keys ----------------------------------------------------------------------------------------

    def typed(self, event: QKeyEvent) -> bool:
        """Digits begin a reading, letters a line; all keys are the list's or the view's that is open instead."""
        if self.views.away:
            return self.views.typed(event)
        if self.panels.typed(event):
            return True
        key, text = event.key(), event.text()
        action = self.work.keys.action(event, self.place)
        if key == Qt.Key.Key_Backspace and self.entry.active:
            self.entry.back()
            self.show_current()
            return True
        if key == Qt.Key.Key_Escape and self.entry.active:
            self.entry.clear()
            self.show_current()
            return True
        if key == Qt.Key.Key_Insert and self.panels.open is None:
            self.field.begin("")
            return True
        if action is None and self.panels.open is not None:
            # What is typed would begin a reading that nobody sees.
            return bool(text and text.isprintable())
        if action is not None:
            # A key that is held down would keep by itself what was to be looked at first.
            return event.isAutoRepeat() and action not in (Action.UP, Action.DOWN)
        held_down = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
        if not text or not text.isprintable() or event.modifiers() & held_down:
            return False
        return self._type(text)

    def _type(self, text: str) -> bool:
        if self.entry.takes(text):
            if not self.entry.active and self.work.voice is not None:
                self.work.voice.hush()
            if not self.entry.active and self.hand.held is not None:
                # A new reading takes the place of the one that is held.
                self.readings.undo()
            self.entry.type(text)
            self.hand.sentence = ""
            self.show_current()
            return True
        if not self.entry.active and (text.isalpha() or text in '"@'):
            self.field.begin(text)
            return True
        return False

    def tread(self, does: str) -> None:
        """A pedal does what its key does, to the part that is seen."""
        if not self.views.away and self.panels.open is None:
            self.act(_OF_PEDAL[does])

    def act(self, action: Action) -> bool:
        """Do what a key asks for: one thing while something is typed, another while nothing is."""
        if self.views.away:
            return False
        if self.panels.act(action):
            return True
        if self.panels.open is not None and action not in (Action.UP, Action.DOWN):
            return False
        if self.entry.digits == "." and action in _AT_A_POINT:
            self.entry.clear()
            action = _AT_A_POINT[action]
        apart: dict[Action, Callable[[], None]] = {
            Action.NULL_LEADS: self.nulling.begin,
            Action.RUNS_OF_PART: self._find_runs,
            Action.MORE: self.listing.measure_more,
            Action.LCR: self.hand.next_frequency,
            Action.HANDS_FREE: self.hands.toggle,
            Action.SHIFT_BACK: lambda: self.shifting.shift(back=True),
            Action.SHIFT_ON: lambda: self.shifting.shift(back=False),
            Action.TAKE_IN: self.views.take_list_in,
            Action.PASTE: self.views.paste_copied,
            Action.FIND: self.side.begin_finding,
            Action.ORDER: self.hand.next_order,
            Action.ROUNDS: self.views.show_rounds,
            Action.CHARGE: self.views.ask_charge,
            Action.UP: lambda: self._step(-1),
            Action.DOWN: lambda: self._step(1),
        }
        if action not in apart and (action is Action.OVER_RANGE or self.entry.active):
            return self.typing.act(action)
        plain: dict[Action, Callable[[], None]] = {
            Action.GO: self._enter,
            Action.NEXT: self.hand.next,
            Action.UNDO: self._undo,
            Action.LIFTED: self.listing.lift,
            Action.SKIP: self.hand.skip,
        }
        does = apart.get(action) or plain.get(action)
        if does is not None:
            does()
        return does is not None

    def _undo(self) -> None:
        if not self.hands.key("drop"):
            self.readings.undo()

    def _found(self) -> None:
        """The words stand: the keys are the page's again."""
        self.side.settle()
        self.setFocus()
        self.hand.settle_walk()

    def _step(self, step: int) -> None:
        """The part above or below in the list as it stands."""
        at = self.hand.book.beside(self.hand.at, step)
        if at is not None:
            self.typing.go(at)

    # --- what is asked for ---------------------------------------------------------------------------

    def _find_runs(self) -> None:
        """Past runs in which the part at hand was taken."""
        unit = self.work.shelf.unit
        if self.hand.row is not None and unit is not None:
            self.work.find_runs.emit(f"{self.hand.row.designator} taken {unit.name}")

    def show_part(self, part: str, designator: str) -> None:
        """Go to a part by its id, where its unit is at hand."""
        at = next((i for i, row in enumerate(self.hand.book.rows) if row.line.part.id == part), None)
        if at is None:
            self.work.say(f"{designator} is a part of another unit: take that one in hand first.")
            return
        self.work.go_to.emit(self.title)
        self.typing.go(at)

    def _enter(self) -> None:
        if self.hand.held is not None:
            self.readings.confirm()
        elif self.hand.unkept:
            self.readings.keep_again()
        elif not self.hands.key("take"):
            self.readings.take()

    def _said(self, said: Said) -> None:
        """A line was entered."""
        if said.lcr is not None:
            self.hand.lcr = said.lcr
            self.show_current()
        if said.parts:
            self.listing.add(said.parts)
            return
        if said.measure and said.at is not None:
            self.listing.call_up(said.at, [said.measure], said.should_read, said.values)
            return
        if said.at is not None:
            self.typing.go(said.at)
        if said.reading is not None and self.hand.held is None:
            self.typing.keep(Meant(said.reading, values=said.values))
