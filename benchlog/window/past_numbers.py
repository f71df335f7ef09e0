"""The numbers of a run: for each trace what it read just before off, at the end, its lowest and highest."""

import math

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLabel, QScrollArea, QSizePolicy, QWidget

from benchlog.domain.reading import Outcome
from benchlog.window import words
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.past_run import PastRun, PastTrace
from benchlog.window.tooltip import tip

HEADS = ("before off", "final", "lowest", "highest")
TIPS = (
    "the last reading before the unit was switched off",
    "the last number of the run, after off too",
    "of the whole run, after off too",
    "of the whole run, after off too",
)
MAIN, FINAL, SAID = 0, 1, len(HEADS)
"""Columns: the number the eye needs, the final one beside it, and what came after that."""
DOUBTED = "?"
"""Behind a number of a trace that was not believed just then; what the doubt was stands below."""


class Numbers(QScrollArea):
    """A table of labels, so that it can be read aloud and is as wide as its numbers."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._cells: dict[tuple[str, int], QLabel] = {}
        self._shown: tuple[str, ...] = ()
        self._heads: list[QLabel] = []
        self._inside = QWidget()
        self.setWidget(self._inside)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)
        self.setAccessibleName("numbers of the run")
        self._grid = QGridLayout(self._inside)
        self._grid.setContentsMargins(0, 0, 10, 0)
        self._grid.setHorizontalSpacing(12)
        self._grid.setVerticalSpacing(2)

    def show_run(self, run: PastRun) -> None:
        """Show the traces of a run."""
        names = tuple(trace.plan.name for trace in run.traces)
        if names != self._shown:
            self._lay_out(names)
        # Before it went off, or where it never was on, the final number is the one the eye needs.
        off = run.off_at is not None
        self._heads[MAIN].setText(HEADS[MAIN] if off else "newest" if run.live else HEADS[FINAL])
        self._heads[MAIN].setToolTip(TIPS[MAIN if off else FINAL])
        self._heads[FINAL].setVisible(off)
        for trace in run.traces:
            name = trace.plan.name
            doubts = _doubts(run, trace)
            for column, (text, doubt) in enumerate(zip(_cells(trace, off=off), doubts, strict=True)):
                self._cells[name, column].setText(f"{text} {DOUBTED}" if doubt else text)
                self._cells[name, column].setToolTip(tip(doubt))
            self._cells[name, FINAL].setVisible(off)
            told = dict.fromkeys(doubt for doubt in doubts if doubt)
            said = ", ".join(filter(None, (*(f"{DOUBTED} {doubt}" for doubt in told), _last_word(trace))))
            self._cells[name, SAID].setText(said)
            self._cells[name, SAID].setVisible(bool(said))
        self._inside.adjustSize()
        self.setMinimumWidth(self._inside.minimumSizeHint().width() + 12)
        self.setMaximumHeight(self._inside.sizeHint().height() + 4)
        self.updateGeometry()

    def text_of(self, name: str) -> tuple[str, ...]:
        """The numbers of a trace as they stand there."""
        return tuple(self._cells[name, column].text() for column in range(len(HEADS)))

    def _lay_out(self, names: tuple[str, ...]) -> None:
        while (item := self._grid.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self._cells, self._heads, self._shown = {}, [], names
        for column, (head, about) in enumerate(zip(HEADS, TIPS, strict=True)):
            made = label(head, "soft")
            made.setToolTip(about)
            made.setAlignment(_RIGHT)
            self._heads.append(made)
            self._grid.addWidget(made, 0, column + 1)
        for i, name in enumerate(names):
            self._lay_out_trace(name, 2 * i + 1)
        self._grid.setColumnStretch(0, 1)
        for row in range(2 * len(names) + 2):
            self._grid.setRowStretch(row, 0)
        self._grid.setRowStretch(2 * len(names) + 1, 1)

    def _lay_out_trace(self, name: str, row: int) -> None:
        named = label(name)
        named.setFont(self._look.font(14))
        self._grid.addWidget(named, row, 0)
        for column, head in enumerate(HEADS):
            main = column == MAIN
            cell = label(rank="" if main else "soft")
            cell.setFont(self._look.font(15 if main else 14, bold=main))
            cell.setAlignment(_RIGHT)
            cell.setAccessibleName(f"{name} {head}")
            self._cells[name, column] = cell
            self._grid.addWidget(cell, row, column + 1)
        said = label(rank="danger")
        said.setFont(self._look.font(13))
        said.setAlignment(_RIGHT)
        self._cells[name, SAID] = said
        self._grid.addWidget(said, row + 1, 0, 1, len(HEADS) + 1)


_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


def _cells(trace: PastTrace, *, off: bool) -> tuple[str, ...]:
    low, high = (trace.lowest, trace.highest) if trace.ranges else (None, None)
    main = trace.at_off if off else trace.final
    return tuple(trace.shown(value) for value in (main, trace.final, low, high))


def _doubts(run: PastRun, trace: PastTrace) -> tuple[str, ...]:
    """Why each of the numbers is in doubt, in the order of the heads; empty where it is not."""
    off = math.inf if run.off_at is None else run.off_at
    low, high = (trace.lowest_t, trace.highest_t) if trace.ranges else (-1.0, -1.0)
    if trace.final is None:
        return ("",) * len(HEADS)
    return tuple(run.doubt_at(trace.plan.name, t) for t in (off, math.inf, low, high))


def _last_word(trace: PastTrace) -> str:
    """That the last exchange gave no number, where it did not: the final number is older than that."""
    if trace.last_word in ("", Outcome.OK):
        return ""
    return f"then {words.NO_NUMBER.get(Outcome(trace.last_word), trace.last_word)}"
