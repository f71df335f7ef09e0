"""Every part as found, as left and on the other side, sorted by what matters; or as left then, as found now."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.window.keys import Action
from benchlog.window.parts_compare_list import CompareHeads, CompareList
from benchlog.window.parts_compared import Comparison, Order, Which, compare, subjects_of, summed_up
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_panel import Does, Panel
from benchlog.window.work import Work

_STEPS = {Qt.Key.Key_PageUp: -10, Qt.Key.Key_PageDown: 10, Qt.Key.Key_Home: -10_000, Qt.Key.Key_End: 10_000}


class ComparePanel(Panel):
    """Every part of the unit in two passes; `went` with the row that Enter leads to."""

    opens = Action.COMPARE
    whole = True
    went = Signal(int)

    def __init__(self, work: Work, hand: InHand) -> None:
        super().__init__(work, hand)
        self.order = Order.MATTERS
        self.which = Which.THIS_VISIT
        self.comparison = Comparison()
        self.list = CompareList(work.look)
        self.heads = CompareHeads(work.look, self.list)
        self.list.asked.connect(self.went)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addWidget(self.heads)
        column.addWidget(self.list, 1)
        self.finish(inside)

    def look_again(self) -> None:
        """Read both passes anew."""
        book, visit = self.hand.book, self.hand.book.visit
        self.head.say("As found, as left, other side" if self.which is Which.THIS_VISIT else "Then and now")
        self._show_caps()
        if visit is None:
            self.tell(self.hand.cannot_keep())
            self._show(Comparison())
            return
        subjects = subjects_of((row.at, row.line, row.other) for row in book.rows)
        which = self.which
        self.work.shelf.read(
            lambda folder: compare(folder, subjects, visit, which), self._show, owner=self, key="compare"
        )

    def _show_caps(self) -> None:
        orders = {Order.MATTERS: Order.LIST.value, Order.LIST: Order.MATTERS.value}
        other = "then and now" if self.which is Which.THIS_VISIT else "this visit"
        does = [
            Does(self.key(Action.GO), "to the part", self._go, main=True),
            Does(self.key(Action.NEXT), orders[self.order], self._turn_order),
        ]
        if self.comparison.visits:
            does.append(Does(self.key(Action.SKIP), other, self._turn_which))
        self.caps.put((*does, self.closing()))

    def _show(self, comparison: Comparison) -> None:
        chosen = self.list.chosen
        self.comparison = comparison
        self.list.lines.show_lines(comparison, comparison.ordered(self.order))
        self.list.choose_row(
            chosen.at if chosen is not None else self.hand.at if self.order is Order.LIST else -1
        )
        self.heads.update()
        self._show_caps()
        if comparison.lines:
            self.tell(f"{len(comparison.lines)} parts: {summed_up(comparison.counts, comparison.later)}")

    # --- keys ----------------------------------------------------------------------------------------

    def act(self, action: Action) -> bool:
        """Up and down mark, Enter leads to the part, `+` turns the order, `/` the two passes."""
        if action in (Action.UP, Action.DOWN):
            self.list.move_by(1 if action is Action.DOWN else -1)
        elif action is Action.GO:
            self._go()
        elif action is Action.NEXT:
            self._turn_order()
        elif action is Action.SKIP and self.comparison.visits:
            self._turn_which()
        else:
            return False
        return True

    def typed(self, event: QKeyEvent) -> bool:
        """The page keys move by ten."""
        step = _STEPS.get(Qt.Key(event.key()), 0)
        if step:
            self.list.move_by(step)
        return bool(step)

    def _go(self) -> None:
        line = self.list.chosen
        if line is not None:
            self.went.emit(line.at)

    def _turn_order(self) -> None:
        self.order = Order.LIST if self.order is Order.MATTERS else Order.MATTERS
        self._show(self.comparison)

    def _turn_which(self) -> None:
        self.which = Which.SINCE if self.which is Which.THIS_VISIT else Which.THIS_VISIT
        self.look_again()
