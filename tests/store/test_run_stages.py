"""A kept run stage by stage, as its file has it."""

from pathlib import Path

from helpers.kept import head
from helpers.watched import LAMP, PLUS, plan_text

from benchlog.domain.stage_numbers import Result
from benchlog.store.append import SessionWriter
from benchlog.store.records import EventRow, ReadingRow, TraceRow
from benchlog.store.run_stages import stages

S = 1_000_000_000
HIGH = 'trace = "+B", kind = "high", value = 60.0'


def test_each_trace_at_each_stage(tmp_path: Path) -> None:
    writer = SessionWriter.create(tmp_path, head(plan=plan_text(LAMP, PLUS, limits=[HIGH])))
    writer.declare([TraceRow(1, "lamp", "V", "volts_ac", "lamp"), TraceRow(2, "+B", "V", "volts_dc", "rail")])
    rows = [ReadingRow(n, s + 1, s * S, float(10 * n + s), "ok") for s in range(20) for n in (1, 2)]
    stage = [(1, "moving", 0), (3, "dwelling", 0), (10, "moving", 1)]
    events = [
        EventRow(t * S, "stage", f"{'40 %' if index else '10 %'}: {state}", {"state": state, "index": index})
        for t, state, index in stage
    ]
    events += [
        EventRow(4 * S, "trust", "lamp does not move", {"trace": "lamp", "doubt": "frozen"}),
        EventRow(12 * S, "trust", "lamp is believed again", {"trace": "lamp", "doubt": ""}),
        EventRow(15 * S, "trip", "+B too high", {"trace": "+B"}),
        EventRow(15 * S, "off", "+B too high", {}),
    ]
    writer.append(readings=rows, events=events)
    writer.close("tripped", "+B too high", 20 * S)
    found = [(row.span.name, row.trace, row.final, row.lowest, row.result) for row in stages(writer.path)]
    assert found == [
        ("10 %", "lamp", 20.0, 12.0, Result.DOUBTED),
        ("10 %", "+B", 30.0, 22.0, Result.HELD),
        ("40 %", "lamp", 25.0, 21.0, Result.UNWATCHED),
        ("40 %", "+B", 35.0, 31.0, Result.TRIPPED),
    ]


def test_a_run_without_stages_or_plan_has_no_rows(tmp_path: Path) -> None:
    writer = SessionWriter.create(tmp_path, head())
    writer.close("completed", "", 0)
    assert stages(writer.path) == ()
