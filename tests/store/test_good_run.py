"""The good run of a unit is its first completed one on the same source, stage by stage."""

from pathlib import Path

import pytest
from helpers.kept import head
from helpers.watched import HALL, LAMP, PLUS, plan_of, plan_text

from benchlog.domain.reference import Reference, Stood
from benchlog.domain.unit import UnitFile
from benchlog.errors import BadInput
from benchlog.store import bin as deleted
from benchlog.store import edit, good_run, query
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


# --- a person's choice -----------------------------------------------------------------------------


def unit_of(folder: Path) -> str:
    with Library.open(folder) as held:
        return edit.create_unit(held, UnitFile(name="Hall amplifier")).id


def run_of(folder: Path, day: str) -> Path:
    return next(line.file for line in query.sessions(folder) if line.started.startswith(day))


def day_expected(folder: Path, unit: str) -> tuple[str, bool] | None:
    found = good_run.reference(folder, unit, PLAN)
    return (found.day, found.chosen) if found is not None else None


def test_a_person_chooses_the_reference_and_undo_takes_it_back(library: Path) -> None:
    unit = unit_of(library)
    keep(library, "2026-03-12", 40.0, unit=unit)
    keep(library, "2026-04-01", 44.0, unit=unit)
    keep(library, "2026-05-01", 45.0, unit=unit, ending=Ending.STOPPED)
    with Library.open(library) as held:
        good_run.choose(held, run_of(library, "2026-04-01"))
        assert day_expected(library, unit) == ("2026-04-01", True)
        good_run.choose(held, run_of(library, "2026-05-01"))
        assert day_expected(library, unit) == ("2026-05-01", True)
        good_run.let_go(held, run_of(library, "2026-05-01"))
        assert day_expected(library, unit) == ("2026-04-01", True)
        assert held.undo() == f"the run {run_of(library, '2026-05-01').stem} is no reference"
        assert day_expected(library, unit) == ("2026-05-01", True)
        held.undo()
        held.undo()
        assert day_expected(library, unit) == ("2026-03-12", False)


def test_a_reference_on_another_source_is_not_expected_here(library: Path) -> None:
    unit = unit_of(library)
    keep(library, "2026-03-12", 40.0, unit=unit)
    keep(
        library,
        "2026-04-01",
        44.0,
        unit=unit,
        plan=plan_text(LAMP, PLUS, source=HALL.replace("100.0", "60.0")),
    )
    with Library.open(library) as held:
        good_run.choose(held, run_of(library, "2026-04-01"))
    assert day_expected(library, unit) == ("2026-03-12", False)


def test_how_a_chosen_reference_is_named(library: Path) -> None:
    assert Reference("2026-04-01", ()).called == "the run of 1 April 2026"
    assert Reference("2026-04-01", (), chosen=True).called == "your reference, the run of 1 April 2026"


def test_what_is_no_good_run_is_refused_with_a_sentence(library: Path) -> None:
    unit = unit_of(library)
    keep(library, "2026-03-12", 40.0, unit=unit, ending=Ending.TRIPPED)
    keep(library, "2026-03-13", 40.0, unit="")
    keep(library, "2026-03-14", 40.0, unit=unit, plan="nobody = 'reads this'")
    with Library.open(library) as held:
        for day, problem in (
            ("2026-03-12", "did not end well"),
            ("2026-03-13", "belongs to no unit"),
            ("2026-03-14", "shows nothing"),
        ):
            with pytest.raises(BadInput, match=problem):
                good_run.choose(held, run_of(library, day))
        with pytest.raises(BadInput, match="there is no run here"):
            good_run.choose(held, library / "sessions" / "none.db")


def test_the_reference_is_deleted_only_where_a_person_says_so(library: Path) -> None:
    unit = unit_of(library)
    keep(library, "2026-03-12", 40.0, unit=unit)
    keep(library, "2026-04-01", 44.0, unit=unit)
    with Library.open(library) as held:
        first, second = run_of(library, "2026-03-12"), run_of(library, "2026-04-01")
        with pytest.raises(BadInput, match="is the reference that later plans"):
            deleted.delete(held, [second, first])
        good_run.choose(held, second)
        deleted.delete(held, [first])
        with pytest.raises(BadInput, match="is the reference that later plans"):
            deleted.delete(held, [second])
        deleted.delete(held, [second], even_reference=True)
        assert day_expected(library, unit) is None
        held.undo()
        assert day_expected(library, unit) == ("2026-04-01", True)
