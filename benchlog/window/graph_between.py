"""The table below a graph: what each trace did between the two cursors."""

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from benchlog.domain.between import Between
from benchlog.domain.plan_trace import shown
from benchlog.window.graph_scene import TraceLine
from benchlog.window.look import Look
from benchlog.window.page import label

HEADS = ("difference", "slope", "mean", "lowest", "highest", "readings")
NONE = "\N{EN DASH}"
STEADY = "steady"
"""In place of a slope by which the last digit does not change over the whole stretch."""
TEXT = 14
LONG = 120.0
"""Seconds from which a slope is told by the minute, as warming up is; below, by the second."""
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


class BetweenTable(QScrollArea):
    """A row for each trace; while the numbers of a stretch are not there yet it shows none of another."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._seconds = 0.0
        self._lines: tuple[TraceLine, ...] = ()
        self._cells: dict[tuple[str, str], QLabel] = {}
        self._stretch = label(rank="soft")
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 2, 2, 0)
        column.setSpacing(2)
        column.addWidget(self._stretch)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(1)
        column.addLayout(self._grid)
        column.addStretch(1)
        self.setWidget(inside)
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName("between the cursors")
        self.hide()

    def show_stretch(self, words: str, seconds: float, lines: Sequence[TraceLine]) -> None:
        """Show a stretch by its words; its numbers come after."""
        if tuple(lines) != self._lines:
            self._lay_out(tuple(lines))
        self._seconds = seconds
        self._stretch.setText(words)
        for cell in self._cells.values():
            cell.setText(NONE)
        self.show()

    def say(self, words: str) -> None:
        """Other words for the stretch that stands there."""
        self._stretch.setText(words)

    def show_numbers(self, name: str, found: Between) -> None:
        """Show what a trace did in the stretch that stands there."""
        line = next(line for line in self._lines if line.name == name)
        for head, text in zip(HEADS, texts_of(line, found, self._seconds), strict=True):
            self._cells[name, head].setText(text)
        inside = self.widget()
        if inside is not None:
            inside.adjustSize()

    def row(self, name: str) -> tuple[str, ...]:
        """The texts of a trace as they stand there."""
        return tuple(self._cells[name, head].text() for head in HEADS)

    @property
    def stretch(self) -> str:
        """The words of the stretch."""
        return self._stretch.text()

    def limit_height(self, most: int) -> None:
        """No higher than that; the rest by scrolling."""
        inside = self.widget()
        wanted = inside.sizeHint().height() + 4 if inside is not None else most
        self.setFixedHeight(max(1, min(wanted, most)))

    def _lay_out(self, lines: tuple[TraceLine, ...]) -> None:
        while (item := self._grid.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self._cells, self._lines = {}, lines
        for j, head in enumerate(HEADS):
            made = label(head, "soft")
            made.setAlignment(_RIGHT)
            self._grid.addWidget(made, 0, j + 1)
        for i, line in enumerate(lines):
            named = label(line.name)
            named.setFont(self._look.font(TEXT, bold=True))
            self._grid.addWidget(named, i + 1, 0)
            for j, head in enumerate(HEADS):
                cell = label()
                cell.setFont(self._look.font(TEXT))
                cell.setAlignment(_RIGHT)
                cell.setAccessibleName(f"{line.name} {head}")
                self._cells[line.name, head] = cell
                self._grid.addWidget(cell, i + 1, j + 1)
        self._grid.setColumnStretch(len(HEADS) + 1, 1)


def texts_of(line: TraceLine, found: Between, seconds: float) -> tuple[str, ...]:
    """The cells of one trace, in the order of the heads."""
    readings = f"{found.count}"
    if found.missing:
        readings += f", {found.missing} without a number"
    return (
        _signed(line, found.difference),
        _slope(line, found.slope, seconds),
        *(
            NONE if value is None else shown(value, line.unit, line.digit)
            for value in (found.mean, found.lowest, found.highest)
        ),
        readings,
    )


def _signed(line: TraceLine, value: float | None, digit: float | None = None) -> str:
    if value is None:
        return NONE
    text = shown(value, line.unit, line.digit if digit is None else digit)
    return text if text.startswith("-") else f"+{text}"


def _slope(line: TraceLine, slope: float | None, seconds: float) -> str:
    """By the second, or the minute: to what the last digit comes to over the whole stretch, and no closer."""
    if slope is None or seconds <= 0.0:
        return NONE
    if abs(slope) * seconds < line.digit / 2.0:
        return STEADY
    per, word = (60.0, "min") if seconds >= LONG else (1.0, "s")
    return f"{_signed(line, slope * per, line.digit * per / seconds)}/{word}"
