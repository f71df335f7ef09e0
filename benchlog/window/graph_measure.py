"""Measuring in a graph: two cursors, and what each trace did between them. Times are plan seconds."""

from PySide6.QtCore import QObject, Signal

from benchlog.domain.between import Between
from benchlog.window.graph_between import BetweenTable
from benchlog.window.graph_cursors import Cursors
from benchlog.window.graph_scale import moment
from benchlog.window.graph_scene import TraceLine
from benchlog.window.graph_time import FINE, TimeScale
from benchlog.window.look import Look

SHARE = 0.36
"""What lies between the cursors is told in no more than this share of the graph's height."""


class Measuring(QObject):
    """The cursors of one graph and their table.

    `wanted` (from, to) asks for what lies between the two, which goes to `show_between` by trace: every reading of its
    file, since what a graph draws is not all of them. `changed` when there is something else to draw.
    """

    wanted = Signal(float, float)
    changed = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.cursors = Cursors()
        self.table = BetweenTable(look)
        self._scale = TimeScale()
        self._lines: tuple[TraceLine, ...] = ()
        self._height = 0

    def show_lines(self, lines: tuple[TraceLine, ...]) -> None:
        """Tell of these traces."""
        self._lines = lines

    def write_times(self, scale: TimeScale) -> None:
        """Write moments like this from now on."""
        if scale != self._scale:
            self._scale = scale
            self._say()

    def set(self, which: int, t: float) -> None:
        """Put the first (0) or the second (1) cursor at a moment."""
        self.cursors.set(which, t)
        self._ask()

    def click(self, t: float) -> None:
        """Somebody clicked at a moment."""
        if not self.cursors.held:
            self.cursors.click(t)
            self._ask()

    def let_go(self) -> None:
        """A cursor that was pulled stays where it is."""
        if self.cursors.held:
            self.cursors.let_go()
            self._ask()

    def clear(self) -> None:
        """Take both away."""
        self.cursors.clear()
        self.table.hide()
        self.changed.emit()

    def stands(self, t0: float, t1: float) -> bool:
        """Whether the cursors stand at these two moments; asked from any thread."""
        return self.cursors.stretch == (t0, t1)

    def show_between(self, t0: float, t1: float, name: str, found: Between) -> None:
        """Show what was asked for of a trace; nothing where the cursors stand elsewhere by now."""
        if self.stands(t0, t1):
            self.table.show_numbers(name, found)
            self.fit(self._height)

    def fit(self, height: int) -> None:
        """The graph is so high."""
        self._height = height
        self.table.limit_height(round(SHARE * height))

    def _ask(self) -> None:
        stretch = self.cursors.stretch
        if stretch is not None:
            self.table.show_stretch(self._words(*stretch), stretch[1] - stretch[0], self._lines)
            self.fit(self._height)
            self.wanted.emit(*stretch)
        self.changed.emit()

    def _say(self) -> None:
        stretch = self.cursors.stretch
        if stretch is not None:
            self.table.say(self._words(*stretch))

    def _words(self, t0: float, t1: float) -> str:
        fine, scale = t1 - t0 < FINE, self._scale
        apart = moment(t1 - t0, fine=fine)
        return f"{scale.place(t0, fine=fine)} to {scale.place(t1, fine=fine)}, {apart} apart"
