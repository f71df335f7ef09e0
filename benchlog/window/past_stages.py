"""One run stage by stage, or two of them with their differences, as a table."""

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics, QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem

from benchlog.domain.plan_trace import shown
from benchlog.domain.reading import STATES
from benchlog.domain.stage_numbers import FOLLOWS, Pair, StageRow, paired
from benchlog.window.look import Look
from benchlog.window.past_row import clock

NUMBERS = ("final", "lowest", "highest", "settled")
ONE = ("stage", "trace", "final", "lowest", "highest", "settled after", "result")
TWO = tuple(head for name in ONE[2:6] for head in (name, f"{name}, other", "difference"))
NONE = "\N{EN DASH}"
SHORT = {FOLLOWS: NONE}
"""Why a trace has not settled, where a dash says it: what follows the mains has no rule of its own."""
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


class StageTable(QTableWidget):
    """A row for each trace at each stage; nothing in it can be changed, and Ctrl+C copies what is chosen, else all."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._heads: list[str] = []
        self.setStyleSheet("QTableWidget::item { padding: 0px 7px; }")
        self.setAccessibleName("the run stage by stage")
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(QFontMetrics(look.font(14)).lineSpacing() + 5)
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        self.horizontalHeader().setDefaultAlignment(
            Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        )
        self.setMinimumWidth(200)

    def show_run(self, rows: Sequence[StageRow]) -> None:
        """Show one run."""
        self._fill(
            ONE, [[*_named(row), *(_number(row, name) for name in NUMBERS), str(row.result)] for row in rows]
        )

    def show_two(self, one: Sequence[StageRow], two: Sequence[StageRow]) -> None:
        """Show two runs side by side; the difference is by how much the other one reads more."""
        self._fill((*ONE[:2], *TWO, "result", "result, other"), [_both(pair) for pair in paired(one, two)])

    def say_heading(self, row: int, text: str) -> None:
        """Say where a row that had not settled was heading."""
        item = self.item(row, ONE.index("settled after"))
        if item is not None:
            item.setText(text if item.text() == NONE else f"{item.text()}, {text}")

    def text(self) -> str:
        """The rows that are chosen, or all of them, under their heads: a tab between two cells."""
        some = sorted({index.row() for index in self.selectedIndexes()}) or range(self.rowCount())
        rows = [self._heads, *(self.row_texts(row) for row in some)]
        return "".join("\t".join(row) + "\n" for row in rows)

    def copy(self) -> None:
        """Put that where another program can take it."""
        QGuiApplication.clipboard().setText(self.text())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Copy, or walk through the rows."""
        if event.matches(QKeySequence.StandardKey.Copy):
            self.copy()
        else:
            super().keyPressEvent(event)

    def row_texts(self, row: int) -> list[str]:
        """A row as it stands there."""
        return [
            item.text()
            for column in range(self.columnCount())
            if (item := self.item(row, column)) is not None
        ]

    def _fill(self, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        self.clear()
        self._heads = list(heads)
        self.setColumnCount(len(heads))
        self.setHorizontalHeaderLabels(list(heads))
        self.setRowCount(len(rows))
        for j, head in enumerate(heads):
            item = self.horizontalHeaderItem(j)
            if item is not None and j >= 2 and "result" not in head:
                item.setTextAlignment(_RIGHT)
        before = ""
        for i, texts in enumerate(rows):
            for j, text in enumerate(texts):
                item = QTableWidgetItem(text)
                item.setFont(self._look.font(14, bold=j == 2))
                if j >= 2 and "result" not in heads[j]:
                    item.setTextAlignment(_RIGHT)
                if j == 0 and text == before:
                    item.setForeground(self._look.theme.soft)
                self.setItem(i, j, item)
            before = texts[0]


def _named(row: StageRow) -> tuple[str, str]:
    return row.span.called, row.trace


def _number(row: StageRow | None, name: str) -> str:
    if row is None:
        return NONE
    value = getattr(row, name)
    if name == "settled":
        return clock(value) if value is not None else SHORT.get(row.unsettled, row.unsettled)
    return _shown(row, value)


def _shown(row: StageRow, value: float | None) -> str:
    if value is None:
        return NONE
    if not row.unit:
        return STATES[int(value)].value if value.is_integer() and 0 <= value < len(STATES) else f"{value:g}"
    return shown(value, row.unit, row.role.digit if row.role is not None else 0.01)


def _both(pair: Pair) -> list[str]:
    texts = [*_named(pair.row)]
    for name in NUMBERS:
        texts += [_number(pair.one, name), _number(pair.two, name), _difference(pair, name)]
    results = (
        str(row.result) if row is not None else "no such stage or trace" for row in (pair.one, pair.two)
    )
    return [*texts, *results]


def _difference(pair: Pair, name: str) -> str:
    value = pair.difference(name)
    if value is None or not pair.row.unit:
        return NONE
    if name == "settled":
        return f"{'-' if value < 0 else '+'}{clock(abs(value))}"
    text = _shown(pair.row, value)
    return text if text.startswith("-") else f"+{text}"
