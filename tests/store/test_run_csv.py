"""A run as CSV: its conditions at the head, every reading, notes and events; never a formula, never half a file."""

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers.kept import head

from benchlog.domain.unit import UnitFile
from benchlog.errors import BadInput, Busy
from benchlog.store import csv_lines, edit, query, run_csv
from benchlog.store.append import SessionWriter
from benchlog.store.library import Library
from benchlog.store.records import EventRow, ReadingRow, RemarkRow, TakenRow, TraceRow
from benchlog.store.run_csv import Progress

S = 1_000_000_000
TRACES = (
    TraceRow(1, "+B", "V", "volts_dc", "rail", "", "rail meter", critical=True),
    TraceRow(2, "supply", "", "state", "supply_state"),
)
BENCH = """name = "by the window"
[[off_switch]]
kind = "relay"
job = "mains relay"
[[off_switch]]
kind = "hand"
"""


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """A library with a unit on a visit, and a run of it."""
    with Library.open(tmp_path / "library") as held:
        unit = edit.create_unit(held, UnitFile(name='=cmd|"x"!A1', serial="0815"))
        visit = edit.open_visit(held, unit.id, "-2 dB on the left")
        texts = {"unit": unit.id, "visit": visit.id, "bench": BENCH, "title": ""}
        writer = SessionWriter.create(held.sessions, head(**texts))
        writer.declare(TRACES)
        writer.append(
            readings=[
                ReadingRow(1, 1, 1, 40.123456789012345, "ok"),
                ReadingRow(2, 1, 1, 1.0, "ok"),
                ReadingRow(1, 2, 1_500_000_000, None, "overload"),
                ReadingRow(1, 3, 2 * S, -0.1, "ok"),
            ],
            events=[EventRow(2 * S, "closed", "all stages done", {"off": "verified off"})],
            remarks=[RemarkRow("a", 3 * S, '=HYPERLINK("x"), "hums"')],
            taken=[TakenRow("r", S, {"designator": "R1", "value": 4680.0, "unit": "ohm"})],
        )
        writer.close("completed", "@all stages done", 3 * S)
        edit.remark_late(held, writer.path, "it was the wrong bulb", 4 * S)
    return tmp_path / "library"


def the_run(library: Path) -> Path:
    (path,) = (library / "sessions").glob("*.db")
    return path


def rows_of(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.reader(file))


def test_conditions_stand_at_the_head_and_every_reading_below(library: Path, tmp_path: Path) -> None:
    target = tmp_path / "run.csv"
    progress = Progress()
    assert run_csv.write(library, the_run(library), target, progress)
    assert progress.done == 1.0
    rows = rows_of(target)
    conditions = {row[0]: row[1:] for row in rows[: rows.index([])]}
    assert conditions["unit"] == ['\'=cmd|"x"!A1, serial 0815']
    assert conditions["visit"] == ["visit 0001: -2 dB on the left"]
    assert conditions["plan"] == ["slowly"]
    assert conditions["bench"] == ["by the window"]
    assert conditions["off-switches"] == ["relay mains relay", "hand"]
    assert conditions["started"][0] == "2026-11-25T10:15:00.250Z"
    assert conditions["outcome"] == ["completed", "'@all stages done"]
    assert conditions["off-switch at the close"][0] == "verified off"
    assert "no reading of that trace at that time" in conditions["blank"][0]
    assert conditions["'+B"] == ["V", "volts_dc", "rail meter", "rail", "", "yes"]
    assert conditions["supply"][0].startswith("state (0 ")
    table = rows[rows.index([]) + 1 :]
    assert table == [
        ["seconds", "V at +B", "state at supply", "what happened"],
        ["0.000000001", repr(40.123456789012345), "1.0", ""],
        ["1", "", "", "part taken: R1 4680.0 ohm"],
        ["1.5", "", "", "'+B: overload"],
        ["2", "-0.1", "", "closed: all stages done"],
        ["3", "", "", 'note: =HYPERLINK("x"), "hums"'],
        ["4", "", "", "note (written later): it was the wrong bulb"],
    ]


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1", " =1", "\uff1d1", "\r=1"])
def test_a_free_text_is_never_a_formula(library: Path, tmp_path: Path, text: str) -> None:
    with Library.open(library) as held:
        unit = edit.create_unit(held, UnitFile(name=text))
        writer = SessionWriter.create(held.sessions, head(unit=unit.id, started="2026-11-26T10:00:00Z"))
        writer.close("completed", text, 0)
    target = tmp_path / "run.csv"
    run_csv.write(library, writer.path, target, Progress())
    rows = rows_of(target)
    assert [row[1] for row in rows if row[:1] == ["unit"]] == [f"'{text}"]
    assert [row[2] for row in rows if row[:1] == ["outcome"]] == [f"'{text}"]


def test_a_long_run_is_written_in_pieces_and_nothing_is_left_out(library: Path, tmp_path: Path) -> None:
    writer = SessionWriter.create(library / "sessions", head(started="2026-11-26T10:00:00Z"))
    writer.declare(TRACES[:1])
    count = 130_000
    writer.append(readings=[ReadingRow(1, n, n * 1_000_000, float(n), "ok") for n in range(1, count + 1)])
    writer.close("completed", "", 0)
    target = tmp_path / "run.csv"
    run_csv.write(library, writer.path, target, Progress())
    rows = rows_of(target)
    assert [float(row[1]) for row in rows[rows.index([]) + 2 :]] == [float(n) for n in range(1, count + 1)]


def test_a_burst_in_a_long_run_is_not_held_in_memory_as_a_whole(
    library: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    writer = SessionWriter.create(library / "sessions", head(started="2026-11-26T10:00:00Z"))
    writer.declare(TRACES)
    burst = [ReadingRow(1, n, n * 1_000_000, float(n), "ok") for n in range(1, 100_001)]
    writer.append(readings=[*burst, *(ReadingRow(2, n, n * 3600 * S, 1.0, "ok") for n in range(1, 200))])
    writer.close("completed", "", 200 * 3600 * S)
    held: list[int] = []
    numbers = query.numbers

    def counted(*args: Any) -> csv_lines.Numbers:
        found = numbers(*args)
        held.append(len(found[0]))
        return found

    monkeypatch.setattr(query, "numbers", counted)
    target = tmp_path / "run.csv"
    run_csv.write(library, writer.path, target, Progress())
    assert max(held) <= 20_000
    rows = rows_of(target)
    lines = rows[rows.index([]) + 2 :]
    assert [float(row[1]) for row in lines if row[1]] == [float(n) for n in range(1, 100_001)]
    assert sum(bool(row[2]) for row in lines) == 199
    seconds = [float(row[0]) for row in lines]
    assert seconds == sorted(set(seconds))


class Stops(Progress):
    """A person who has seen enough after the first piece."""

    def wrote(self, share: float) -> None:
        super().wrote(share)
        self.cancelled = True


def test_stopped_in_the_midst_it_leaves_no_file_behind(library: Path, tmp_path: Path) -> None:
    writer = SessionWriter.create(library / "sessions", head(started="2026-11-26T10:00:00Z"))
    writer.declare(TRACES[:1])
    writer.append(readings=[ReadingRow(1, n, n * 1_000_000, float(n), "ok") for n in range(1, 70_000)])
    writer.close("completed", "", 0)
    progress, folder = Stops(), tmp_path / "away"
    folder.mkdir()
    assert not run_csv.write(library, writer.path, folder / "run.csv", progress)
    assert 0.0 < progress.done < 1.0
    assert list(folder.iterdir()) == []


def test_cancelled_it_leaves_no_file_behind(library: Path, tmp_path: Path) -> None:
    progress = Progress()
    progress.cancelled = True
    folder = tmp_path / "away"
    assert run_csv.write_each(library, [the_run(library)], folder, progress, lambda _: None) == []
    assert list(folder.iterdir()) == []


def test_what_a_killed_one_left_is_taken_away_by_the_next_and_what_is_being_written_stays(
    library: Path, tmp_path: Path
) -> None:
    left, other = tmp_path / f"old.csv{run_csv.PART}", tmp_path / "mine.part"
    for path in (left, other):
        path.write_text("half")
    target = tmp_path / "run.csv"
    with run_csv.part_of(target), pytest.raises(Busy, match="is being written just now"):
        run_csv.write(library, the_run(library), target, Progress())
    assert run_csv.write(library, the_run(library), target, Progress())
    assert sorted(path.name for path in tmp_path.iterdir()) == ["library", "mine.part", "run.csv"]


def test_readings_of_one_moment_stand_in_one_line_and_others_between() -> None:
    made = csv_lines.lines(
        ["a", "b"],
        [
            (np.array([-5, 0, 3_000_000_001]), np.array([1.5, 2.0, np.inf]), {3_000_000_001: "late"}),
            (np.array([0, 10 * S]), np.array([1e-9, -3.0]), {}),
        ],
        [(0, "on"), (3_000_000_001, "=x"), (20 * S, "off")],
    )
    assert made.split("\r\n") == [
        "-0.000000005,1.5,,",
        '0,2.0,1e-09,"on"',
        '3.000000001,,,"\'=x; a: late"',
        "10,,-3.0,",
        '20,,,"off"',
        "",
    ]
    assert csv_lines.lines(["a"], [(np.array([], dtype=np.int64), np.array([]), {})], []) == ""


def test_nothing_is_overwritten(library: Path, tmp_path: Path) -> None:
    run = the_run(library)
    first, second = run_csv.write_each(library, [run, run], tmp_path / "away", Progress(), lambda _: None)
    assert (first.name, second.name) == (f"{run.stem}.csv", f"{run.stem} (2).csv")
    before = first.read_bytes()
    with pytest.raises(BadInput, match="is there already"):
        run_csv.write(library, run, first, Progress())
    assert first.read_bytes() == before
