"""A past run says of what had not settled where it was heading as each stage was left."""

import math
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.foretelling import AtOnce
from helpers.kept import begin
from pytestqt.qtbot import QtBot

from benchlog.store.records import EventRow, ReadingRow
from benchlog.store.run_stages import stages
from benchlog.window.forecasts import Forecasts
from benchlog.window.past_forecasts import PastForecasts
from benchlog.window.past_stages import StageTable
from benchlog.window.work import Work

S = 1_000_000_000
PATIENCE = 30_000


@pytest.fixture
def run(tmp_path: Path) -> Path:
    """A run of five minutes: a rail that creeps up to 39.8 V, an offset that goes straight on."""
    writer = begin(tmp_path)
    rows = []
    for s in range(300):
        rail = round(39.8 - 6.0 * math.exp(-s / 90.0) + 0.01 * math.sin(2.3 * s), 2)
        rows += [ReadingRow(1, s + 1, s * S, rail, "ok"), ReadingRow(2, s + 1, s * S, 1e-5 * s, "ok")]
    stay = EventRow(0, "stage", "40 %: dwelling", {"state": "dwelling", "index": 0})
    writer.append(readings=rows, events=[stay, EventRow(300 * S, "off", "done", {"why": "off"})])
    writer.close("completed", "done", 300 * S)
    return writer.path


@pytest.fixture
def table(work: Work, qtbot: QtBot) -> Iterator[tuple[StageTable, PastForecasts, AtOnce]]:
    shown = StageTable(work.look)
    qtbot.addWidget(shown)
    far = AtOnce()
    work.forecasts = Forecasts(work, far)
    yield shown, PastForecasts(work, shown), far
    far.close()


def test_where_a_stage_was_heading(
    run: Path, table: tuple[StageTable, PastForecasts, AtOnce], qtbot: QtBot
) -> None:
    shown, forecasts, far = table
    rows = stages(run)
    shown.show_run(rows)
    forecasts.show(run, rows)
    settled = 5
    qtbot.waitUntil(lambda: len(far.asked) == 2, timeout=PATIENCE)
    at = {texts[1]: texts[settled] for texts in map(shown.row_texts, range(2))}
    assert at["+B"].startswith("was heading for 39.8")
    assert " V in " in at["+B"]
    # A straight line heads for nothing anybody could name.
    assert at["offset L"] == "too short"


def test_an_answer_to_rows_that_are_no_longer_shown_is_dropped(
    run: Path, table: tuple[StageTable, PastForecasts, AtOnce], qtbot: QtBot
) -> None:
    shown, forecasts, far = table
    rows = stages(run)
    shown.show_run(rows)
    forecasts.show(run, rows)
    forecasts.show(run, ())
    forecasts.show(run, rows[:1])
    qtbot.waitUntil(lambda: len(far.asked) >= 1, timeout=PATIENCE)
    assert [question.key for question in far.asked] == ["past/0"]
