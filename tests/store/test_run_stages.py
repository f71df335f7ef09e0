"""A kept run stage by stage, as its file has it."""

import math
from pathlib import Path

import numpy as np
import pytest
from helpers.kept import change, head
from helpers.watched import LAMP, PLUS, plan_text

from benchlog.domain.stage_numbers import Result
from benchlog.store import run_stages
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


@pytest.mark.parametrize("how", ["levels", "without levels", "one by one"])
def test_extremes_end_and_settling_of_long_stays_are_those_of_every_reading(
    tmp_path: Path, how: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if how != "one by one":
        monkeypatch.setattr(run_stages, "_ONE_BY_ONE", 100)
    chance = np.random.default_rng(1)
    t = np.arange(1, 4001) * (S // 2)
    value = 5e-3 * np.exp(-t / (200.0 * S)) + 1e-4 * chance.standard_normal(len(t))
    value[chance.integers(0, 200, 20)] = math.nan
    value[300] = math.nan
    writer = SessionWriter.create(tmp_path, head())
    writer.declare([TraceRow(1, "offset", "V", "volts_dc", "offset")])
    writer.append(
        readings=[
            ReadingRow(1, n + 1, int(when), *((float(one), "ok") if math.isfinite(one) else (None, "late")))
            for n, (when, one) in enumerate(zip(t, value, strict=True))
        ],
        events=[
            EventRow(at, "stage", f"{name}: dwelling", {"state": "dwelling", "index": index})
            for index, (at, name) in enumerate([(0, "10 %"), (100 * S, "40 %")])
        ],
    )
    writer.close("completed", "", int(t[-1]))
    if how == "without levels":
        change(writer.path, "DELETE FROM level")
    first, second = stages(writer.path)
    for row, inside in ((first, t <= 100 * S), (second, t > 100 * S)):
        numbers = value[inside & np.isfinite(value)]
        assert (row.final, row.lowest, row.highest) == (numbers[-1], np.min(numbers), np.max(numbers))
    assert (first.settled, first.unsettled) == (None, "too short")
    # No two readings after this one are further than 1 mV apart within ten minutes.
    unrest = [
        k for k in range(200, len(t)) if np.ptp(value[k : k + 1201][np.isfinite(value[k : k + 1201])]) > 1e-3
    ]
    wanted = (t[max(unrest[-1], 300) + 1] - 100 * S) / S
    assert second.settled == pytest.approx(wanted, abs=0.0 if how == "one by one" else 20.0)


def test_a_run_without_stages_or_plan_has_no_rows(tmp_path: Path) -> None:
    writer = SessionWriter.create(tmp_path, head())
    writer.close("completed", "", 0)
    assert stages(writer.path) == ()
