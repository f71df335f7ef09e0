"""Where the traces of a past run were heading as each stage was left, told to the table of its stages."""

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QObject

from benchlog.domain.plan_trace import shown
from benchlog.domain.stage_numbers import StageRow
from benchlog.electronics.asked import SETTLE, Answer, Question
from benchlog.store.run_stages import stretches
from benchlog.window.forecasts import LEAST, SETTLES
from benchlog.window.foretold import digit_of, in_time
from benchlog.window.kept_readings import MOST, KeptReadings
from benchlog.window.past_stages import StageTable
from benchlog.window.work import Work

_PAST = "past/"
"""Before the keys of its questions."""


class PastForecasts(QObject):
    """Asks about every row that had not settled, and writes what comes of it beside that."""

    def __init__(self, work: Work, table: StageTable) -> None:
        super().__init__(table)
        self._work = work
        self._table = table
        self._rows: tuple[StageRow, ...] = ()

    def show(self, file: Path, rows: Sequence[StageRow]) -> None:
        """Ask about a run that is shown alone in the table; with no rows about none."""
        foretells = self._work.forecasts
        self._rows = tuple(rows)
        if foretells is None:
            return
        foretells.forget(_PAST)
        wanted = {at: row for at, row in enumerate(rows) if row.settled is None and row.role in SETTLES}
        if wanted:
            self._work.shelf.read(
                lambda _: _questions(file, wanted),
                lambda questions: self._ask(self._rows, questions),
                self._work.say_error,
                owner=self,
                key="past run, forecasts",
            )

    def _ask(self, rows: tuple[StageRow, ...], questions: Sequence[Question]) -> None:
        for question in questions:
            if self._work.forecasts is not None and rows is self._rows:
                self._work.forecasts.ask(question, lambda answer: self._came(rows, answer))

    def _came(self, rows: tuple[StageRow, ...], answer: Answer) -> None:
        at = int(answer.key.removeprefix(_PAST))
        if rows is self._rows and answer.value is not None:
            self._table.say_heading(at, _was_heading(rows[at], answer))


def _questions(file: Path, wanted: dict[int, StageRow]) -> list[Question]:
    """One for each row with enough readings; its key says which row."""
    asked = []
    read = stretches(file, tuple(wanted.values()), MOST)
    for (at, row), items in zip(wanted.items(), read, strict=True):
        if len(items) >= LEAST:
            asked.append(KeptReadings.of(items).question(f"{_PAST}{at}", SETTLE, row.role))
    return asked


def _was_heading(row: StageRow, answer: Answer) -> str:
    value, low, high = answer.value or (0.0, 0.0, 0.0)
    said = f"was heading for {shown(value, row.unit, digit_of(row.role, high - low))}"
    return f"{said} in {in_time(answer.after[0])}" if answer.after and answer.after[0] > 0.0 else said
