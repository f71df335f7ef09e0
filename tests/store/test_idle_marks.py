"""The idles that the runs of a visit left marked as set, the last word on each counting."""

from pathlib import Path

import pytest
from helpers.kept import begin, change

from benchlog.store.idle_marks import set_in
from benchlog.store.library import Library
from benchlog.store.records import Ending, EventRow


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """An empty library."""
    Library.open(tmp_path).close()
    return tmp_path


def keep(library: Path, day: str, *marks: tuple[str, bool], visit: str = "v") -> Path:
    """A closed run in which these idles were marked, one after the other."""
    writer = begin(library / "sessions", started=f"{day}T10:00:00.000Z", visit=visit)
    events = [
        EventRow(n * 1_000, "idle", "", {"trace": name, "set": done}) for n, (name, done) in enumerate(marks)
    ]
    writer.append(events=events)
    writer.close(Ending.COMPLETED, "all stages done", 1_000_000)
    return writer.path


def test_the_last_word_on_each_idle_counts_over_all_runs_of_the_visit(library: Path) -> None:
    keep(library, "2026-03-11", ("idle L", True), ("idle R", True))
    keep(library, "2026-03-12", ("idle R", False))
    keep(library, "2026-03-13")
    assert set_in(library, "v") == ("idle L",)
    keep(library, "2026-03-14", ("idle L", False), ("idle R", True))
    assert set_in(library, "v") == ("idle R",)


def test_another_visit_says_nothing_and_without_one_there_is_nothing(library: Path) -> None:
    keep(library, "2026-03-11", ("idle L", True), visit="another")
    keep(library, "2026-03-12", ("idle L", True), visit="")
    assert set_in(library, "v") == set_in(library, "") == ()


def test_a_run_that_cannot_be_read_is_passed_over(library: Path) -> None:
    keep(library, "2026-03-11", ("idle L", True))
    path = keep(library, "2026-03-12", ("idle L", False))
    change(path, "PRAGMA user_version = 999")
    assert set_in(library, "v") == ("idle L",)
