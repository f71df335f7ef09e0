"""The views that open beside the list of parts, one at a time: each by its own key, and away by the same key or Esc."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.window.forms import Views
from benchlog.window.keys import Action
from benchlog.window.parts_compare import ComparePanel
from benchlog.window.parts_elsewhere import ElsewherePanel
from benchlog.window.parts_fit import FitPanel
from benchlog.window.parts_history import HistoryPanel
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_open import OpenPanel
from benchlog.window.parts_panel import Panel
from benchlog.window.work import Work


class Panels(QWidget):
    """All of them; `turned` when another one is open, or none, and `went` with a row that one of them leads to.

    `quiet` when the keys go back to the page.
    """

    turned = Signal()
    quiet = Signal()
    went = Signal(int)

    def __init__(self, work: Work, hand: InHand) -> None:
        super().__init__()
        self._hand = hand
        self.open: Panel | None = None
        self.fit = FitPanel(work, hand)
        self.compare = ComparePanel(work, hand)
        self.history = HistoryPanel(work, hand)
        self.elsewhere = ElsewherePanel(work, hand)
        self.put_back = OpenPanel(work, hand)
        panels: tuple[Panel, ...] = (self.fit, self.compare, self.history, self.elsewhere, self.put_back)
        self._of = {panel.opens: panel for panel in panels}
        self._views = Views()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._views)
        for panel in panels:
            self._views.add(panel)
            panel.left.connect(self.close_open)
            panel.quiet.connect(self.quiet)
        self.compare.went.connect(self._go)
        for signal in (hand.opened, hand.moved, hand.touched, hand.stood):
            signal.connect(self._look_again)

    @property
    def whole(self) -> bool:
        """Whether the open one takes the list's room as well."""
        return self.open is not None and self.open.whole

    def act(self, action: Action) -> bool:
        """Open or close one, or let the open one act; false where none is open and none was asked for."""
        wanted = self._of.get(action)
        if wanted is not None:
            if wanted is self.open:
                self.close_open()
            else:
                self._show(wanted)
            return True
        if self.open is None:
            return False
        self.open.note = ""
        return self.open.act(action)

    def typed(self, event: QKeyEvent) -> bool:
        """Esc puts the open one away; digits and letters are its own."""
        if self.open is None:
            return False
        if event.key() == Qt.Key.Key_Escape:
            self.close_open()
            return True
        return self.open.typed(event)

    def close_open(self) -> None:
        """Back to the part at hand."""
        if self.open is not None:
            self.open = None
            self.turned.emit()
            self.quiet.emit()

    def _show(self, panel: Panel) -> None:
        problem = "" if self._hand.book.unit is not None else self._hand.cannot_keep()
        held = self._hand.held
        if held is not None:
            problem = f"{held.row.designator} waits with a reading: {self._hand.held_keys}."
        if problem:
            self._hand.say(problem, refused=True)
            return
        self.open = panel
        panel.note = ""
        self._views.show_only(panel)
        self.turned.emit()
        panel.begin()

    def _look_again(self, _: object = None) -> None:
        if self.open is not None:
            self.open.look_again()

    def _go(self, at: int) -> None:
        self.close_open()
        self.went.emit(at)
