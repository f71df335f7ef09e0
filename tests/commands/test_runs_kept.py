"""`benchlog sessions` and `benchlog export`: runs found by words, and taken away as CSV."""

import json
from pathlib import Path

import pytest
from helpers.kept import begin, some_readings

from benchlog.__main__ import main
from benchlog.domain.unit import UnitFile
from benchlog.store import edit
from benchlog.store.library import Library
from benchlog.store.records import RemarkRow


@pytest.fixture
def runs(tmp_path: Path) -> list[Path]:
    """Two runs of a unit, the second one tripped."""
    made = []
    with Library.open(tmp_path / "library") as held:
        unit = edit.create_unit(held, UnitFile(name="Hall amplifier"))
        for day, outcome in ((1, "completed"), (2, "tripped")):
            started = f"2026-11-{day:02}T10:00:00.000Z"
            writer = begin(held.sessions, started=started, unit=unit.id)
            writer.append(readings=some_readings(), remarks=[RemarkRow(str(day), 0, f"it hums {day}")])
            writer.close(outcome, "for a reason", 1)
            edit.put_session_in_index(held, writer.path)
            made.append(writer.path)
    return made


def listed(capsys: pytest.CaptureFixture[str], tmp_path: Path, *words: str) -> list[str]:
    assert main(["--library", str(tmp_path / "library"), "sessions", *words]) == 0
    return capsys.readouterr().out.splitlines()


def test_runs_are_listed_and_narrowed_by_words(
    runs: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old, new = (run.stem for run in runs)
    assert [line.split()[0] for line in listed(capsys, tmp_path)] == [new, old]
    assert listed(capsys, tmp_path, "hall", "tripped") == [
        f"{new}  tripped  Hall amplifier  slowly  for a reason"
    ]
    (one,) = listed(capsys, tmp_path, "completed", "--json")
    found = json.loads(one)
    assert (found["file"], found["unit"], found["readings"], found["reference"]) == (
        f"{old}.db",
        "Hall amplifier",
        5,
        False,
    )
    main(["--library", str(tmp_path / "library"), "sessions", "zebra"])
    heard = capsys.readouterr()
    assert heard.out == ""
    assert "no run knows" in heard.err


def test_one_run_goes_to_a_file_and_several_to_a_folder(runs: list[Path], tmp_path: Path) -> None:
    library = ["--library", str(tmp_path / "library")]
    one, folder = tmp_path / "one.csv", tmp_path / "all"
    assert main([*library, "export", runs[0].stem, "-o", str(one)]) == 0
    assert "note: it hums 1" in one.read_text("utf-8")
    assert main([*library, "export", *(run.stem for run in runs), "-o", str(folder)]) == 0
    assert sorted(path.stem for path in folder.iterdir()) == [run.stem for run in runs]


@pytest.mark.parametrize(
    ("given", "problem"),
    [
        (["nothing", "-o", "x.csv"], "is no run in this library"),
        (["RUN", "-o", "missing/x.csv"], "a folder that is not there"),
        (["RUN", "RUN", "-o", "taken.csv"], "is a file, and several runs go to a folder"),
        (["RUN", "-o", "taken.csv"], "is there already"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(
    runs: list[Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    given: list[str],
    problem: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("taken.csv").write_text("kept")
    words = [runs[0].stem if word == "RUN" else word for word in given]
    assert main(["--library", str(tmp_path / "library"), "export", *words]) == 2
    assert problem in capsys.readouterr().err
    assert Path("taken.csv").read_text() == "kept"
