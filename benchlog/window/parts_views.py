"""What the Parts page shows in the place of its desk: a list that is taken in, the rounds, the boards' charge."""

from PySide6.QtCore import Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent
from PySide6.QtWidgets import QWidget

from benchlog import sheetfile
from benchlog.window.forms import Views
from benchlog.window.parts_charge import ChargeView
from benchlog.window.parts_field import Field
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_rounds import RoundsView
from benchlog.window.parts_sheet import SheetIn


class PartsViews(Views):
    """The desk, or one of the views over it; `back` when the desk has the keys again."""

    back = Signal()

    def __init__(self, hand: InHand, desk: QWidget, field: Field) -> None:
        super().__init__()
        self._hand = hand
        self._desk = desk
        self._field = field
        self.sheet = SheetIn(hand)
        self.rounds = RoundsView(hand)
        self.charge = ChargeView(hand)
        for view in (desk, self.sheet, self.rounds, self.charge):
            self.add(view)
        self.show_only(desk)
        for left in (self.sheet.left, self.rounds.left, self.charge.left):
            left.connect(self._back_to_desk)
        field.pasted.connect(self.paste)

    @property
    def away(self) -> bool:
        """Whether the desk is out of sight."""
        return self.shown is not self._desk

    def typed(self, event: QKeyEvent) -> bool:
        """All keys are those of the view that is shown over the desk; false where none is."""
        if self.shown is self.sheet:
            return self.sheet.typed(event)
        if self.shown is self.charge:
            return self.charge.typed(event)
        return self.shown is self.rounds and self.rounds.typed(event)

    def take_list_in(self, text: str = "") -> None:
        """Parts from a file, or from a table that was pasted."""
        hand = self._hand
        if hand.book.unit is None or hand.held is not None:
            hand.say(hand.cannot_keep() or f"A reading waits: {hand.held_keys}.", refused=True)
            return
        self.show_only(self.sheet)
        if text:
            self.sheet.begin_text(text)
        else:
            self.sheet.begin_file()

    def paste_copied(self) -> None:
        """Whatever was copied."""
        self.paste(QGuiApplication.clipboard().text())

    def paste(self, text: str) -> None:
        """A table is taken in after a look at it; a line goes where lines are typed."""
        if sheetfile.is_table(text):
            self._field.line.clear()
            self.take_list_in(text)
        elif text.strip():
            self._field.begin(" ".join(text.split()))

    def show_rounds(self) -> None:
        """The rounds of the visit, to go on with one."""
        hand, waits = self._hand, self._hand.held is not None
        if waits or not hand.book.rounds:
            why = f"A reading waits: {hand.held_keys}." if waits else "No round has begun yet."
            hand.say(why, refused=True)
            return
        self.show_only(self.rounds)
        self.rounds.begin()

    def ask_charge(self) -> None:
        """What the boards hold, in volts; not while the unit may be on."""
        hand = self._hand
        if hand.may_be_on:
            hand.refuse_while_on(f"{hand.on_words}: measure what is left once it is off.")
        elif hand.book.visit is None or hand.held is not None:
            hand.say(hand.cannot_keep() or f"A reading waits: {hand.held_keys}.", refused=True)
        else:
            self.show_only(self.charge)
            self.charge.begin()

    def _back_to_desk(self) -> None:
        self.show_only(self._desk)
        self.back.emit()
