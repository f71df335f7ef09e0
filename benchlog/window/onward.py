"""What comes after the unit is at hand: the next place of the job, by the keys that are drawn there."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QWidget

from benchlog.window import keys, words
from benchlog.window.keycap import KeyCap
from benchlog.window.keys import Action
from benchlog.window.run_view import Phase
from benchlog.window.unit_acts import AtHand
from benchlog.window.work import Work

TAKE_IN = "take it in"
SETTLE = 0.5
"""Seconds in which a key that does something new does nothing: it may have been meant for what stood there before."""
SAYS = {
    words.BENCH: "to the bench",
    words.PARTS: "measure its parts",
    words.POWER_UP: "to the power-up",
}


def onward(at_hand: AtHand | None, phase: Phase) -> tuple[str, ...]:
    """The places that come next, the first by Enter; what is done already is passed by."""
    if phase not in (Phase.NOTHING, Phase.BENCH, Phase.CHECKED, Phase.CLOSED):
        return (words.POWER_UP,)
    if phase is Phase.NOTHING:
        return (words.BENCH,)
    line = at_hand.line if at_hand is not None else None
    if line is None or line.parts == 0 or (line.round is not None and line.taken >= line.parts):
        return (words.POWER_UP,)
    return words.PARTS, words.POWER_UP


class Onward(QWidget):
    """Enter for the next place of the job, another key to pass it by; before a visit Enter is `take_in`."""

    take_in = Signal()

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self._at_hand: AtHand | None = None
        self._places: tuple[str, ...] = ()
        self._since = 0.0
        self.caps = {
            Action.GO: KeyCap(work.look, "", "", main=True),
            Action.NEXT: KeyCap(work.look, "", ""),
        }
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        for action, cap in self.caps.items():
            cap.setMaximumWidth(220)
            cap.clicked.connect(lambda _=False, action=action: self.act(action))
            row.addWidget(cap, 1000)
        row.addStretch(1)
        work.runner.phase_changed.connect(lambda _: self._show())
        work.keys_changed.connect(self._show)

    def lead_from(self, at_hand: AtHand) -> None:
        """This unit is at hand, and stands so."""
        self._at_hand = at_hand
        self._show()

    def _show(self) -> None:
        at_hand = self._at_hand
        visits = at_hand is not None and at_hand.visit is not None
        self._places = onward(at_hand, self._work.runner.view.phase) if visits else ()
        says = [SAYS[place] for place in self._places] if visits else [TAKE_IN]
        if says != [cap.does for cap in self.caps.values() if cap.does]:
            self.settle()
        for at, (action, cap) in enumerate(self.caps.items()):
            cap.setVisible(at < len(says))
            cap.say(says[at] if at < len(says) else "", key=self._work.keys.name(action, keys.UNIT))

    def settle(self) -> None:
        """It has just come up: no key is meant for it yet."""
        self._since = self._work.now()

    def act(self, action: Action) -> bool:
        """Do what a key drawn here asks for; false where it is none of them."""
        if self._work.now() - self._since < SETTLE:
            return True
        if action is Action.GO and not self._places:
            self.take_in.emit()
            return True
        at = list(self.caps).index(action) if action in self.caps else len(self._places)
        if at >= len(self._places):
            return False
        self._work.go_to.emit(self._places[at])
        return True
