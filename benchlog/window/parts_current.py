"""The part at hand: conditions, name, what it should read, the numeral, the ruler, the result and its sentence."""

import math

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics, QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from benchlog.domain.accuracy import COVERAGE
from benchlog.domain.asking import look_at, value_of
from benchlog.domain.creep import in_words as creeping
from benchlog.domain.measures import LCR
from benchlog.domain.quantity import show
from benchlog.domain.reading import HEADING
from benchlog.domain.standing import Rule
from benchlog.store.query_unit import Judged, KeptReading
from benchlog.window import words
from benchlog.window.elided import Elided
from benchlog.window.keycap import KeyCap
from benchlog.window.keys import PARTS, Action
from benchlog.window.page import label
from benchlog.window.parts_book import Row, in_words, shown
from benchlog.window.parts_entry import Entry, Meant, goes_on
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_numeral import Face, Mood, Numeral
from benchlog.window.ruler import Ruler
from benchlog.window.ruler_scale import Ruled
from benchlog.window.shapes import Mark, Shape
from benchlog.window.work import Work

BESIDE_FROM = 430
"""Pixels of width from which the other side stands beside the numeral, not below it."""

ELSE_HIGH = 500
"""Pixels of height that a page needs besides the numeral, which shrinks first."""

PLAIN = {
    Action.GO: "take",
    Action.NEXT: "next",
    Action.UNDO: "undo",
    Action.LIFTED: "lifted",
    Action.SKIP: "skip",
}
TYPED = {
    Action.GO: "store",
    Action.NEXT: "OL",
    Action.UNDO: "sign",
    Action.LIFTED: "prefix",
    Action.SKIP: "store, next",
}
HELD = {Action.GO: "keep it", Action.UNDO: "drop it"}
TAKEN_HELD = {Action.GO: "read again", Action.UNDO: "drop it"}
UNKEPT = PLAIN | {Action.GO: "try again", Action.UNDO: "drop it"}
"""What the keys do where nothing is typed, where something is, where a reading is held, and where one is not kept."""


class OtherSide(QWidget):
    """The same part on the other side: its name, what it reads, its result."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self._name = label("", "soft")
        self._value = label()
        self._mark = Mark(work.look, side=15)
        self._word = label("", "soft")
        result = QHBoxLayout()
        result.setSpacing(7)
        result.addWidget(self._mark)
        result.addWidget(self._word, 1)
        self._box = QBoxLayout(QBoxLayout.Direction.TopToBottom, self)
        self._box.setContentsMargins(0, 0, 0, 0)
        self._box.addWidget(self._name)
        self._box.addWidget(self._value)
        self._box.addLayout(result)
        self._box.addStretch(1)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.lie(flat=False)

    def show_row(self, row: Row | None) -> None:
        """Show another part, or none."""
        self.setVisible(row is not None)
        if row is None:
            return
        kept = row.kept
        self._name.setText(f"other side, {row.designator}")
        self._value.setText(in_words(kept.reading) if kept is not None else "")
        self._value.setVisible(kept is not None)
        self._mark.show_shape(row.shape)
        self._word.setText(row.result)

    def lie(self, *, flat: bool) -> None:
        """In one line, or one below the other."""
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._box.setDirection(across if flat else down)
        self._box.setSpacing(12 if flat else 2)
        self._value.setFont(self._work.look.font(17 if flat else 26))


class Result(QWidget):
    """The result's shape and word, its sentence, and what else is worth saying.

    It takes the room of two lines even where it says less, so that the keys below stay where they are.
    """

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self._mark = Mark(work.look, side=24)
        self._word = Elided(work.look, 25, bold=True)
        self._sentence = label("", wrap=True)
        self._sentence.setFont(work.look.font(16))
        self._notes = label("", "soft", wrap=True)
        head = QHBoxLayout()
        head.setSpacing(11)
        head.addWidget(self._mark)
        head.addWidget(self._word, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3)
        column.addLayout(head)
        column.addWidget(self._sentence)
        column.addWidget(self._notes)
        column.addStretch(1)
        lines = 2 * QFontMetrics(work.look.font(16)).lineSpacing()
        self.setMinimumHeight(self._word.sizeHint().height() + lines + 6)

    def say(self, shape: Shape | None, word: str, sentence: str, notes: str = "") -> None:
        """Show another result; without a shape the word stands alone."""
        self._mark.setVisible(shape is not None)
        if shape is not None:
            self._mark.show_shape(shape)
        self._word.say(word)
        self._word.setVisible(bool(word))
        self._sentence.setText(sentence)
        self._sentence.setVisible(bool(sentence))
        self._notes.setText(notes)
        self._notes.setVisible(bool(notes))


class Caps(QWidget):
    """The five keys of the number pad, as they act just now."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self.caps = {
            action: KeyCap(work.look, "", does, main=action is Action.GO) for action, does in PLAIN.items()
        }
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(5)
        for cap in self.caps.values():
            row.addWidget(cap)
        self._does: dict[Action, str] = dict(PLAIN)
        work.keys_changed.connect(self.name)
        self.name()

    def name(self) -> None:
        """Write the keys on them that a person has bound."""
        for action, cap in self.caps.items():
            cap.say(self._does.get(action, PLAIN[action]), key=self._work.keys.name(action, PARTS))

    def say(self, does: dict[Action, str]) -> None:
        """What they do just now; one that does nothing is grey."""
        if does != self._does:
            self._does = dict(does)
            self.name()
            for action, cap in self.caps.items():
                cap.setEnabled(action in does)


class Current(QWidget):
    """The middle of the page."""

    def __init__(self, work: Work, hand: InHand) -> None:
        super().__init__()
        self._work, self._hand = work, hand
        self._conditions = Elided(work.look, 14, soft=True)
        self.meter = small_button("another meter")
        self.more = small_button("")
        self.runs = small_button("its runs")
        self.runs.setToolTip("past runs in which this part was taken")
        self._name = Elided(work.look, 42, bold=True, least=24)
        self._kind = Elided(work.look, 15, soft=True)
        self._should = label("", wrap=True)
        self.numeral = Numeral(work.look)
        self._other = OtherSide(work)
        self.ruler = Ruler(work.look)
        self.result = Result(work)
        self.caps = Caps(work)
        self._pair = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._lay()

    def _lay(self) -> None:
        top = QHBoxLayout()
        top.addWidget(self._conditions, 1)
        top.addWidget(self.more)
        top.addWidget(self.runs)
        top.addWidget(self.meter)
        names = QHBoxLayout()
        names.setSpacing(16)
        names.addWidget(self._name)
        beside = QVBoxLayout()
        beside.setSpacing(0)
        beside.addWidget(self._kind)
        beside.addWidget(self._should)
        names.addLayout(beside, 1)
        self._name.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        self._pair.setSpacing(14)
        self._pair.addWidget(self.numeral, 1)
        self._pair.addWidget(self._other)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addLayout(top)
        column.addLayout(names)
        column.addLayout(self._pair)
        column.addWidget(self.ruler)
        column.addWidget(self.result)
        column.addWidget(self.caps)

    def be_high(self, pixels: int) -> None:
        """Suit a page of this height."""
        self.numeral.be_high(pixels - ELSE_HIGH)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The other side beside the numeral where there is room, else below it."""
        super().resizeEvent(event)
        flat = self.width() < BESIDE_FROM
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._pair.setDirection(down if flat else across)
        # A name with its measure leaves room for what it should read.
        self._name.setMaximumWidth(max(120, int(self.width() * 0.55)))
        self._other.lie(flat=flat)

    def refresh(self, entry: Entry, meant: Meant | None, jump: str) -> None:
        """Show the part at hand as it stands; `jump` is where a typed jump goes."""
        hand, row = self._hand, self._hand.row
        self.meter.setVisible(len(hand.meters) > 1)
        for widget in (
            self.numeral, self.ruler, self._kind, self._conditions, self.caps, self.more, self.runs
        ):  # fmt: skip
            widget.setVisible(row is not None)
        if row is None:
            self._nothing()
            return
        self._name.say(row.designator)
        self._kind.say(kind_of(row))
        more = hand.more
        self.more.setVisible(bool(more))
        self.more.setText(f"also {words.SHORT.get(more, more)}")
        self.more.setToolTip(f"have it measured too: {words.MEASURE.get(more, more)}")
        expectation = row.expectation
        self._should.setText(
            f"should read {expectation.shown} from {words.ORIGIN[row.origin]}"
            if expectation is not None
            else "nothing says what it should read"
        )
        self._conditions.say(self._under())
        self._other.show_row(hand.book.other(row))
        self.numeral.show_face(self._face(row, entry, meant, jump))
        self._judged(row, entry, meant)
        self._keys(entry)

    def show_live(self, value: float | None) -> None:
        """What the meter reads while a contact comes to rest; it is no reading yet."""
        row = self._hand.row
        if value is not None and row is not None and self._hand.unstored(row) is None:
            number, _, unit = show(value, row.measure.unit).partition(" ")
            self.numeral.show_face(Face(number, unit, Mood.WAITING))

    def _nothing(self) -> None:
        self._name.say("No parts yet" if self._hand.book.unit is not None else "No unit yet")
        self._should.setText("")
        self._other.show_row(None)
        problem = self._hand.sentence or self._hand.cannot_keep()
        self.result.say(None, "", problem)

    def _under(self) -> str:
        """Under which conditions the next reading is taken."""
        hand, row = self._hand, self._hand.row
        assert row is not None  # noqa: S101 - asked only then
        on_board = row.line.part.in_circuit and not hand.book.is_lifted(row)
        lifted = hand.book.is_lifted(row) and not hand.book.is_out(row)
        off_it = "one leg lifted" if lifted else "out of circuit"
        said = ["in circuit" if on_board else off_it, hand.job or "typed in"]
        said.append(words.FUNCTION[row.measure.function])
        if row.measure.function in LCR:
            said.append(hand.lcr.shown)
        if hand.turn == row.at:
            said.append("leads turned round")
        return " · ".join(said)

    def _face(self, row: Row, entry: Entry, meant: Meant | None, jump: str) -> Face:
        hand = self._hand
        if entry.active:
            below = jump if entry.jump is not None else ""
            if meant is not None:
                below = f"→ {meant.shown}" if meant.reading is not None else f"→ ? {meant.choices}"
            number = f"…{entry.jump}" if entry.jump is not None else entry.shown
            return Face(number, "", Mood.TYPED, below)
        unstored = hand.unstored(row)
        if unstored is not None:
            number, unit = shown(unstored.reading)
            again = hand.waiting is not None and hand.waiting.confirms is unstored
            return Face(number, unit, Mood.LOOK, "being read once more" if again else "not stored yet")
        if hand.hands_free and row.kept is None:
            return Face("— — —", "", Mood.NOTHING)
        if hand.waiting is not None and hand.waiting.row.at == row.at:
            return Face("reading", "", Mood.WAITING, f"with {hand.waiting.job}")
        kept = row.kept
        if kept is None:
            return Face("— — —", "", Mood.NOTHING)
        number, unit = shown(kept.reading)
        return Face(number, unit, Mood.READ, words.TYPED if kept.reading.typed else "")

    def _judged(self, row: Row, entry: Entry, meant: Meant | None) -> None:
        hand = self._hand
        held = hand.held or (hand.hands_held if hand.unstored(row) is hand.hands_held else None)
        kept = row.kept
        judged = kept.judgement if kept is not None else None
        other = hand.book.other(row)
        value = value_of(kept.reading) if kept is not None else None
        shape = row.shape
        if held is not None:
            value, judged, shape = value_of(held.reading), None, Shape.DOUBT
        elif entry.active:
            value = meant.reading.value if meant is not None and meant.reading is not None else None
            judged = None
        self.ruler.show_ruled(
            Ruled(
                expectation=row.expectation,
                value=value,
                other=value_of(other.kept.reading) if other is not None and other.kept is not None else None,
                error=_error(judged),
                guard=judged.uncertainty if judged is not None and judged.rule == Rule.HANDOVER else None,
                kind=row.line.part.kind,
                unit=row.measure.unit,
            ),
            shape,
        )
        if held is not None:
            told = f"{look_at(held.reading, row.should_read, row.expectation)}."
            if held.reading.typed and held is hand.held:
                # For one that was taken the keys below say it shorter.
                told = f"{told} {hand.held_keys}."
            self.result.say(Shape.DOUBT, "look?", hand.sentence or told)
        elif entry.active:
            assumed = meant.reading.assumed if meant is not None and meant.reading is not None else ""
            self.result.say(Shape.HERE, "typed", hand.sentence or (f"{assumed}." if assumed else ""))
        elif kept is None and hand.hands_free and (last := self._last()) is not None:
            self.result.say(*last)
        elif kept is None:
            self.result.say(Shape.TO_DO, words.TO_DO, hand.sentence, row.line.part.note)
        else:
            notes = " ".join(kept.judgement.notes) if kept.judgement is not None else ""
            self.result.say(row.shape, row.result, hand.sentence or judged_sentence(kept), notes)

    def _last(self) -> tuple[Shape, str, str, str] | None:
        """The part that was taken last, hands-free: eyes come back to it after the tone."""
        hand = self._hand
        row = hand.book.row_of(*hand.taken_last[0]) if hand.taken_last is not None else None
        if row is None or row.kept is None or hand.taken_last is None:
            return None
        return (
            row.shape,
            f"{row.designator} {row.result}",
            f"{hand.taken_last[1]}. {hand.sentence}".strip(),
            "",
        )

    def _keys(self, entry: Entry) -> None:
        if entry.active:
            jump = entry.jump is not None
            bridge = self._hand.lcr.frequency is not None
            on = self._hand.row is not None and goes_on(entry, self._hand.row, bridge=bridge)
            typed = TYPED | {Action.SKIP: "next value"} if on else TYPED
            self.caps.say({Action.GO: "go there"} if jump else typed)
        elif self._hand.hands_held is not None and self._hand.held is None:
            self.caps.say(HELD)
        elif self._hand.held is not None:
            self.caps.say(HELD if self._hand.held.reading.typed else TAKEN_HELD)
        else:
            row = self._hand.row
            does = dict(UNKEPT if self._hand.unkept else PLAIN)
            if row is not None and self._hand.book.is_lifted(row):
                does[Action.LIFTED] = "soldered"
            elif row is not None and not row.line.part.in_circuit:
                del does[Action.LIFTED]
            if row is not None and self._hand.turn == row.at and not self._hand.unkept:
                does[Action.GO] = "take turned"
            self.caps.say(does)


def kind_of(row: Row) -> str:
    """What kind of part it is, and what is measured at it where that is not its own value."""
    kind, word = words.KIND[row.line.part.kind], row.measure.word
    return f"{kind}, {words.MEASURE.get(word, word)}" if word else kind


def judged_sentence(kept: KeptReading) -> str:
    """Why a result is what it is; of a reading that still moved also where it was heading."""
    end = dict(kept.reading.beside).get(HEADING)
    if end is not None and kept.reading.value is not None and not kept.reading.settled:
        return f"It had not come to rest: {creeping(kept.reading.value, end, kept.reading.unit)}."
    return kept.judgement.reason if kept.judgement is not None else "Nobody has judged it yet."


def _error(judged: Judged | None) -> float | None:
    """The meter's half-width, from the expanded uncertainty that is kept."""
    if judged is None or judged.uncertainty is None:
        return None
    return judged.uncertainty * math.sqrt(3.0) / COVERAGE


def small_button(text: str) -> QPushButton:
    """A button for what is seldom done: reached by Tab, and it does not take the keys when clicked."""
    button = QPushButton(text)
    button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
    button.setProperty("small", True)
    button.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
    return button
