"""The good run of a unit is its first completed one on the same source, stage by stage."""

from pathlib import Path

import pytest
from helpers.kept import head
from helpers.watched import HALL, LAMP, PLUS, plan_of, plan_text

from benchlog.domain.reference import Stood
from benchlog.store import good_run
from benchlog.store.append import SessionWriter
from benchlog.store.library import Library
from benchlog.store.records import Ending, EventRow, ReadingRow, TraceRow

TEXT = plan_text(LAMP, PLUS)
PLAN = plan_of(LAMP, PLUS)
SECOND = 1_000_000_000
TRACES = (
    TraceRow(1, "lamp", "V", "volts_ac", "lamp", "", "lamp", critical=True),
    TraceRow(2, "+B", "V", "volts_dc", "rail", "", "+B", critical=True),
)
STAGES = (
    (0, "moving", 0),
    (2, "dwelling", 0),
    (14, "ready", 0),
    (20, "setting", 1),
    (24, "moving", 1),
    (30, "dwelling", 1),
)


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """An empty library."""
    Library.open(tmp_path).close()
    return tmp_path


def volts(second: int, full: float) -> float:
    """40 % until the source is turned, then up to the full value; in the middle of a dwell it is still warming."""
    if second < 20:
        return 0.4 * full + (1.0 if second < 8 else 0.0)
    return full if second >= 40 else 0.5 * full


def keep(
    library: Path,
    day: str,
    rail: float,
    *,
    unit: str = "u",
    plan: str = TEXT,
    ending: Ending = Ending.COMPLETED,
) -> None:
    """A run of a minute, closed."""
    writer = SessionWriter.create(
        library / "sessions", head(started=f"{day}T10:00:00.000Z", unit=unit, plan=plan)
    )
    writer.declare(TRACES)
    rows = []
    for second in range(60):
        for trace, full in ((1, 20.0), (2, rail)):
            rows.append(ReadingRow(trace, second + 1, second * SECOND, volts(second, full), "ok", ""))
    events = [
        EventRow(t * SECOND, "stage", "", {"state": state, "index": index}) for t, state, index in STAGES
    ]
    writer.append(readings=rows, events=[*events, EventRow(60 * SECOND, "off", "", {})])
    writer.close(ending, "all stages done", 61 * SECOND)


def test_the_first_completed_run_tells_what_its_stages_read_at_their_end(library: Path) -> None:
    keep(library, "2026-03-12", 40.0)
    keep(library, "2026-04-01", 44.0)
    found = good_run.reference(library, "u", PLAN)
    assert found is not None
    assert found.day == "2026-03-12"
    low, high = found.stood
    assert low == Stood(92.0, 100.0, 8.0, None, {"+B": 16.0})
    assert high == Stood(230.0, 100.0, 20.0, None, {"+B": 40.0})


@pytest.mark.parametrize("ending", [Ending.TRIPPED, Ending.STOPPED])
def test_a_run_that_did_not_complete_is_none(library: Path, ending: Ending) -> None:
    keep(library, "2026-03-12", 30.0, ending=ending)
    assert good_run.reference(library, "u", PLAN) is None
    keep(library, "2026-03-13", 40.0)
    found = good_run.reference(library, "u", PLAN)
    assert found is not None
    assert found.day == "2026-03-13"


def test_neither_another_units_run_counts_nor_one_behind_another_lamp(library: Path) -> None:
    keep(library, "2026-03-12", 40.0, unit="other")
    keep(library, "2026-03-12", 40.0, plan=plan_text(LAMP, PLUS, source=HALL.replace("100.0", "60.0")))
    keep(library, "2026-03-12", 40.0, plan="nobody = 'reads this'")
    assert good_run.reference(library, "u", PLAN) is None
    assert good_run.reference(library, "", PLAN) is None


def test_a_plan_that_nobody_can_read_has_none(library: Path) -> None:
    keep(library, "2026-03-12", 40.0)
    assert good_run.of_text(library, "u", TEXT) is not None
    assert good_run.of_text(library, "u", "wrong = ") is None
