"""The page of a run from its file: its stages, what moved, cold to hot, and the run of its unit before."""

import argparse
import json
from pathlib import Path

import pytest
from helpers.kept import head
from helpers.watched import IDLE, MAINS, plan_text

from benchlog.commands import show
from benchlog.domain.unit import UnitFile
from benchlog.store import edit
from benchlog.store.append import SessionWriter
from benchlog.store.library import Library
from benchlog.store.places import SESSIONS
from benchlog.store.records import EventRow, ReadingRow, RemarkRow, TraceRow
from benchlog.store.run_page import page_of

S = 1_000_000_000
SOAK = plan_text(MAINS, IDLE, stages=("name='soak', fraction=1.0, dwell=3600.0",)).replace(
    "cold = []", 'kind = "soak"\ncold = []'
)
HOUR = 3600


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """A library with two soaks of an hour of one unit, a year apart; in the second one idle is higher."""
    folder = tmp_path / "library"
    with Library.open(folder) as opened:
        unit = edit.create_unit(opened, UnitFile(name="Hall amplifier"))
        for started, idle in (("2025-01-20T10:00:00Z", 0.016), ("2026-03-02T10:00:00Z", 0.020)):
            visit = edit.open_visit(opened, unit.id)
            path = soaked(folder / SESSIONS, started, idle, unit.id, visit.id)
            edit.put_session_in_index(opened, path)
            edit.close_visit(opened, visit.id)
    return folder


def soaked(folder: Path, started: str, idle: float, unit: str, visit: str) -> Path:
    told = head(started=started, plan=SOAK, plan_name="Soak", unit=unit, visit=visit)
    writer = SessionWriter.create(folder, told)
    writer.declare(
        [TraceRow(1, "mains", "V", "volts_ac", "mains"), TraceRow(2, "idle L", "V", "volts_dc", "idle")]
    )
    silent = range(2000, 2040)
    seconds = [s for s in range(10, HOUR) if s not in silent]
    rows = [ReadingRow(1, s, s * S, 230.0, "ok") for s in seconds]
    rows += [ReadingRow(2, s, s * S, idle + (2e-3 if s == 1500 else 0.0), "ok") for s in seconds]
    events = [
        EventRow(1 * S, "cold", "presets at minimum: not looked at, overridden", {"holds": None}),
        EventRow(5 * S, "on", "switched on", {"done": True}),
        EventRow(8 * S, "stage", "soak: dwelling", {"state": "dwelling", "index": 0}),
        EventRow(HOUR * S, "off", "all stages done", {}),
        EventRow((HOUR + 9) * S, "closed", "all stages done", {"off": "verified off", "reservoirs": {}}),
    ]
    writer.append(readings=rows, events=events, remarks=[RemarkRow("r", 60 * S, "lid on")])
    writer.close("completed", "all stages done", (HOUR + 10) * S)
    return writer.path


def newest(library: Path) -> Path:
    return max((library / SESSIONS).glob("*.db"))


def test_the_page_of_a_soak_says_what_was_run_what_moved_and_what_the_last_visit_read(library: Path) -> None:
    said = page_of(library, newest(library))
    lines = [" ".join(line.split()) for line in said.splitlines()]
    assert lines[0] == "Hall amplifier, visit 0002"
    assert "It went through: all stages done." in lines
    assert "Off-switch: seen off." in lines
    assert "1:00 note: lid on" in lines
    (moved,) = [line for line in lines[lines.index("WHAT MOVED") :] if line.startswith("idle L 20")]
    assert moved == "idle L 20.00 mV 20.00 mV +0.00 mV 20.00 mV 1:05 22.00 mV 25:00"
    assert "idle L: 1 silence of 0:41 from 33:19" in lines
    assert "idle L from 2025-01-20: 20.00 mV against 16.00 mV, 20 % more" in lines
    assert "- Cold check still open: presets at minimum: not looked at, overridden." in lines
    (hot,) = [line for line in lines[lines.index("COLD TO HOT") :] if line.startswith("idle L")][:1]
    assert hot == "idle L 20.00 mV 20.00 mV 20.00 mV 20.00 mV -"


def test_a_run_on_no_unit_and_of_a_plan_nobody_can_read_has_a_page_too(tmp_path: Path) -> None:
    folder = tmp_path / "library"
    with Library.open(folder):
        pass
    writer = SessionWriter.create(folder / SESSIONS, head(plan="not a plan at all"))
    writer.close("ended by the operator", "closed before it was on", 5 * S)
    said = page_of(folder, writer.path)
    assert "No unit was in hand" in said
    assert "It was ended by the operator: closed before it was on." in said


def test_show_prints_the_same_page(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wanted = page_of(library, newest(library))
    for arguments in (["--json"], []):
        parser = argparse.ArgumentParser()
        show.add_arguments(parser)
        given = parser.parse_args([newest(library).stem, *arguments])
        given.library = library
        assert show.run(given) == 0
        said = capsys.readouterr().out
        assert (json.loads(said)["text"] if arguments else said) == wanted
