"""The benchmark's table: a figure counted wrong, or a missed goal shown as met, would mislead for years."""

import dataclasses
import json
import math
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from measure import __main__ as benchmark
from measure import table
from measure.far_end import Cut
from measure.processes import HANG, end
from measure.rows import ROWS, chosen
from measure.terms import Terms
from measure.turns import in_turns

FIGURES = st.lists(st.floats(0.0, 1e6), min_size=1, max_size=300)


@given(FIGURES)
def test_a_spread_names_values_that_were_there(values: list[float]) -> None:
    found = table.spread(values)
    assert found.count == len(values)
    assert min(values) <= found.p50 <= found.p99 <= found.highest == max(values)
    assert found.p99 in values
    assert sum(value <= found.p99 for value in values) >= 0.99 * len(values)


def test_percentiles_go_by_the_nearest_rank() -> None:
    hundred = [float(n) for n in range(1, 101)]
    assert table.percentile(hundred, 0.99) == 99.0
    assert table.percentile(hundred, 0.5) == 50.0
    assert table.median(hundred) == 50.5
    assert table.median([3.0, 1.0, 2.0]) == 2.0
    assert math.isnan(table.spread([]).p50)


@pytest.mark.parametrize(
    ("line", "met"),
    [
        (table.at_most("cut", "max", 10.0, "ms", 10.0), True),
        (table.at_most("cut", "max", 10.1, "ms", 10.0), False),
        (table.times_at_most("cut", "p50", 0.2, "ms", 0.1, 2.0), True),
        (table.times_at_most("cut", "p50", 0.21, "ms", 0.1, 2.0), False),
        (table.times_at_least("poll", "rate", 800.0, "/s", 1000.0, 0.8), True),
        (table.times_at_least("poll", "rate", 799.0, "/s", 1000.0, 0.8), False),
        (table.at_most("cut", "max", math.nan, "ms", 10.0), False),
    ],
)
def test_a_goal_is_met_up_to_its_bound_and_never_by_what_was_not_measured(
    line: table.Line, met: bool
) -> None:
    assert line.met is met
    assert table.shown(line).endswith(" met" if met else "NOT MET")


def test_a_line_shows_both_figures_their_ratio_and_the_goal_under_its_head() -> None:
    shown = table.shown(table.times_at_most("violation to cut", "p50", 0.125, "ms", 0.0625, 2.0))
    cells = ["violation", "to", "cut", "p50", "0.125", "ms", "0.0625", "ms", "2.00", "<=", "2", "x", "met"]
    assert shown.split() == cells
    assert shown.index("2.00") + len("2.00") == table.head().index("ratio") + len("ratio")
    told = table.shown(table.told("memory", "growth", None, "MB", "not measured here"))
    assert "not here" in told
    assert told.endswith("(not measured here)")


def test_as_json_a_line_holds_only_numbers_that_json_has() -> None:
    said = json.loads(table.as_json("cut", table.at_most("cut", "max", math.nan, "ms", 10.0)))
    assert said["row"] == "cut"
    assert said["ours"] is None
    assert said["met"] is False


def test_the_summary_names_what_was_missed() -> None:
    lines = [
        table.at_most("one", "max", 1.0, "s", 2.0),
        table.at_most("two", "p99", 3.0, "s", 2.0),
        table.told("three", "p50", 1.0, "s"),
    ]
    assert table.summary(lines) == "1 of 2 goals met; not met: two, p99."
    assert table.summary(lines[:1]) == "1 of 1 goals met."


def test_rows_are_chosen_by_name_and_keep_their_order() -> None:
    assert list(chosen([])) == list(ROWS)
    first, second, *_ = ROWS
    assert list(chosen([second, first])) == [first, second]


def test_a_cut_counts_from_the_second_violating_reply_and_from_no_other() -> None:
    cut = Cut(t=5_000_000, by="supply", meter=1, first=2_000_000, second=4_500_000, replies=2, silent_since=0)
    assert cut.decided_ms == 0.5
    for replies in (1, 3):
        with pytest.raises(RuntimeError, match=f"after {replies} violating"):
            _ = dataclasses.replace(cut, replies=replies).decided_ms


def test_what_would_go_on_beside_the_next_row_is_ended() -> None:
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as waiting:
        end(waiting.pid)
        assert waiting.wait(HANG) != 0


def test_turns_change_places_each_round() -> None:
    order: list[str] = []

    def turn(name: str) -> Callable[[int], str]:
        def take(n: int) -> str:
            order.append(name)
            return f"{name}{n}"

        return take

    assert in_turns(2, turn("a"), turn("b")) == [["a0", "a1"], ["b0", "b1"]]
    assert order == ["b", "a", "a", "b"]


def test_a_row_runs_and_prints_its_line_as_it_comes(tmp_path: Path) -> None:
    script = Path(table.__file__).parents[1] / "benchmark.py"
    argv = [sys.executable, str(script), "start", "--quick", "--json", "--folder", str(tmp_path)]
    paths = os.pathsep.join([str(script.parents[1]), os.environ.get("PYTHONPATH", "")])
    ran = subprocess.run(
        argv, env=os.environ | {"PYTHONPATH": paths}, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr
    (line,) = [json.loads(text) for text in ran.stdout.splitlines()]
    assert line["row"] == "start"
    assert line["ours"] > 0 < line["rival"]
    assert list(tmp_path.iterdir()) == []


def test_a_row_that_is_none_is_refused_with_those_that_are(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        benchmark.arguments(["speed"])
    assert ended.value.code == 2
    assert "there is no row 'speed'; there are cut, sessions," in capsys.readouterr().err


def test_quick_does_less(tmp_path: Path) -> None:
    assert Terms(tmp_path).many(50, 5) == 50
    assert Terms(tmp_path, quick=True).many(50, 5) == 5
