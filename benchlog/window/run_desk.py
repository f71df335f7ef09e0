"""The run as it goes: the graph, the large numerals, and what is awaited, placed by how much room there is."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from PySide6.QtWidgets import QGridLayout, QWidget

from benchlog.window.adjust_desk import AdjustDesk
from benchlog.window.forms import scrolled
from benchlog.window.graph import RunGraph
from benchlog.window.lines import Line, Lines
from benchlog.window.numerals import NumeralFace, Numerals
from benchlog.window.one_page_view import OnePageView
from benchlog.window.run_feed import RunFeed
from benchlog.window.work import Work

COLUMN = 336
"""Width of numerals and waits beside the graph."""
LOW = 76
"""Height of the waits below the graph: heading and two lines, the rest by scrolling."""
_ANY = 16_777_215


class RunDesk(QWidget):
    """Graph beside numerals and waits; below each other where it is narrow."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self.graph = RunGraph(work.look)
        self.feed = RunFeed(work, self.graph)
        self.numerals = Numerals(work.look)
        self.waits = Lines(work.look, name="what is awaited")
        self._area = scrolled(self.waits)
        self._narrow: bool | None = None
        self._gives_way = False
        self.adjust = AdjustDesk(work.look)
        self.adjust.hide()
        self.page = OnePageView(work)
        self._adjusts = self._paged = False
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(10)
        self.be_narrow(narrow=False)

    def show_run(self, numerals: Sequence[NumeralFace], lines: Iterable[Line]) -> None:
        """Show how it stands now."""
        self.numerals.show_faces(numerals)
        self.waits.show_lines(lines)
        self.feed.refresh()

    def be_narrow(self, *, narrow: bool) -> None:
        """Place everything anew."""
        if narrow == self._narrow:
            return
        self._narrow = narrow
        grid = self._grid
        for widget in (self.graph, self.adjust, self.page, self.numerals, self._area):
            grid.removeWidget(widget)
        if narrow:
            grid.addWidget(self.numerals, 0, 0)
            grid.addWidget(self.graph, 1, 0)
            grid.addWidget(self.adjust, 1, 0)
            grid.addWidget(self.page, 1, 0)
            grid.addWidget(self._area, 2, 0)
        else:
            grid.addWidget(self.graph, 0, 0, 2, 1)
            grid.addWidget(self.adjust, 0, 0, 2, 1)
            grid.addWidget(self.page, 0, 0, 2, 1)
            grid.addWidget(self.numerals, 0, 1)
            grid.addWidget(self._area, 1, 1)
        for widget in (self.numerals, self._area):
            widget.setMinimumWidth(0 if narrow else COLUMN)
            widget.setMaximumWidth(_ANY if narrow else COLUMN)
        self._area.setMaximumHeight(LOW if narrow else _ANY)
        self.numerals.be_low(low=narrow)
        self.graph.stand_beside_values(room=not narrow)
        grid.setColumnStretch(0, 1)
        grid.setRowStretch(0, 0 if narrow else 3)
        grid.setRowStretch(1, 1 if narrow else 2)
        grid.setRowStretch(2, 0)
        self.give_way(self._gives_way)

    def give_way(self, gives_way: bool) -> None:
        """Where there is little room the numerals alone stay while a note is written."""
        self._gives_way = gives_way
        away = gives_way and bool(self._narrow)
        self.graph.setVisible(not away and not (self._adjusts or self._paged))
        self.adjust.setVisible(not away and self._adjusts and not self._paged)
        self.page.setVisible(not away and self._paged)
        # Where there is little room the pointers have the numbers that count.
        self.numerals.setVisible(not (self._adjusts and bool(self._narrow)) or away)
        self._area.setVisible(not away)

    def be_adjusting(self, *, adjusts: bool) -> None:
        """The pointers stand in the graph's place, or the graph again."""
        if adjusts != self._adjusts:
            self._adjusts = adjusts
            self.give_way(self._gives_way)

    @property
    def paged(self) -> bool:
        """Whether the run stands there on one page."""
        return self._paged

    def turn_page(self, file: str) -> None:
        """The run of that file on one page, as soon as it is read; where it stands there already the graph again."""
        if self._paged or not file:
            self.be_paged(paged=False)
        else:
            self.page.show_file(Path(file), lambda: self.be_paged(paged=True))

    def be_paged(self, *, paged: bool) -> None:
        """The run on one page stands in the graph's place, or the graph again."""
        if paged != self._paged:
            self._paged = paged
            self.give_way(self._gives_way)

    def move_by(self, step: int) -> None:
        """Move the page, or what is awaited, by some lines."""
        if self._paged:
            self.page.move_by(step)
            return
        bar = self._area.verticalScrollBar()
        bar.setValue(bar.value() + 26 * step)
