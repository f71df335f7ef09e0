"""Other runs beneath a run's graph, and the line above it that says which they are."""

from collections.abc import Mapping, Sequence

from PySide6.QtCore import QObject, Signal

from benchlog.window.graph_guests import Guest, Guests, Wish
from benchlog.window.graph_scene import StageMark
from benchlog.window.page import label
from benchlog.window.points import Points
from benchlog.window.tooltip import tip


class GuestLayer(QObject):
    """The other runs of one graph; `changed` when there is something else to draw.

    `wanted` (a wish) where a guest's file could show more of what is in view: what it has goes to `look_closer`.
    """

    changed = Signal()
    wanted = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.guests = Guests()
        self.named = label(rank="soft", wrap=True)
        self.named.hide()

    def show(self, guests: Sequence[Guest], *, started: str = "", live: bool = False) -> None:
        """Show these beneath a run that began then, in place of those before."""
        self.guests.started, self.guests.live = started, live
        self.guests.show(guests)
        self._name()

    def lay_on(self, marks: tuple[StageMark, ...]) -> None:
        """The run has reached these stages."""
        self.guests.lay_on(marks)
        self._name()

    def turn(self) -> None:
        """Lay them on the run by the start in place of by stage, and back."""
        if self.guests.all:
            self.guests.turn()
            self._name()

    def hide(self) -> None:
        """Take them out of sight, and show them again."""
        if self.guests.all:
            self.guests.hidden = not self.guests.hidden
            self._name()

    def want(self, t0: float, t1: float, columns: int) -> None:
        """So much is in view, in so many columns."""
        for wish in self.guests.wishes(t0, t1, columns):
            self.wanted.emit(wish)

    def look_closer(self, wish: Wish, found: Mapping[str, Points]) -> None:
        """Show what a guest's file has of what was wished for."""
        self.guests.look_closer(wish, found)
        self.changed.emit()

    def _name(self) -> None:
        words = self.guests.words
        self.named.setText(words)
        self.named.setToolTip(tip(self.guests.names))
        self.named.setVisible(bool(words))
        self.changed.emit()
