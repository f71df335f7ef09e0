"""`benchlog parts read`: a person at the probes, a round that goes on where it stopped; on a real recorder."""

import io
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.far_end import FarEnd, multimeter
from helpers.library import part_reading

from benchlog.__main__ import BAD_INPUT, ENDED_BY_OPERATOR, main
from benchlog.domain.partline import read_line
from benchlog.domain.unit import BoardEntry, RoundKind, UnitFile
from benchlog.store import edit, query_unit, rounds
from benchlog.store.library import Library

BENCH = """file = "benchlog bench 1"
name = "parts"
[[meter]]
job = "parts meter"
profile = "scpi-multimeter"
address = "{address}"
error = "0.1%"
"""


@pytest.fixture
def meter() -> Iterator[FarEnd]:
    far = FarEnd(multimeter(b"+1.00100000E+03\n"))
    yield far
    far.close()


@pytest.fixture
def library(tmp_path: Path) -> Path:
    parts = tuple(read_line(text).entry for text in ("R101 1k 5%", "R102 2k2 5%", "R201 1k 5%"))
    unit = UnitFile(name="Radio", mirror=("R1## <-> R2##",), board=(BoardEntry(name="Main", part=parts),))
    with Library.open(tmp_path / "library") as held:
        edit.create_unit(held, unit)
    return tmp_path / "library"


def read(monkeypatch: pytest.MonkeyPatch, library: Path, bench: Path, typed: str, *more: str) -> int:
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    given = ["--library", str(library), "parts", "read", "radio", "--bench", str(bench), *more]
    return main(given)


def kept(library: Path) -> list[tuple[str, str]]:
    unit = query_unit.find_unit(library, "radio")
    visit = query_unit.last_visit(library, unit.id)
    assert visit is not None
    (round_,) = query_unit.rounds(library, visit.id)
    found = query_unit.round_results(library, round_.id)
    return [(one.reading.designator, one.judgement.verdict if one.judgement else "") for one in found]


def test_parts_are_taken_one_by_one_and_a_round_goes_on_where_it_stopped(
    monkeypatch: pytest.MonkeyPatch,
    library: Path,
    tmp_path: Path,
    meter: FarEnd,
    capsys: pytest.CaptureFixture[str],
) -> None:
    with Library.open(library) as held:
        unit = query_unit.find_unit(library, "radio")
        visit = edit.open_visit(held, unit.id)
        round_ = edit.start_round(held, visit.id, RoundKind.AS_FOUND)
        first = next(line for line in query_unit.parts(library, unit.id) if line.part.designator == "R101")
        edit.keep_reading(
            held,
            part_reading(designator="R101", fitted=first.fitted.id, round=round_.id, visit=visit.id),
        )
    bench = tmp_path / "bench.toml"
    bench.write_text(BENCH.format(address=meter.address), "utf-8")
    assert read(monkeypatch, library, bench, "\nq\n") == ENDED_BY_OPERATOR
    heard = capsys.readouterr().out.splitlines()
    assert heard[0] == "> R201, should read 1k 5%  [Enter: take it, q: end]"
    assert heard[1].startswith("R201: 1.001 kΩ, ")
    assert heard[2].startswith("> R102")
    assert [name for name, _ in kept(library)] == ["R101", "R201"]


def test_a_round_over_what_words_find_is_kept_and_gone_on_with(
    monkeypatch: pytest.MonkeyPatch,
    library: Path,
    tmp_path: Path,
    meter: FarEnd,
    capsys: pytest.CaptureFixture[str],
) -> None:
    with Library.open(library) as held:
        unit = query_unit.find_unit(library, "radio")
        visit = edit.open_visit(held, unit.id)
        lines = {line.part.designator: line.part.id for line in query_unit.parts(library, unit.id)}
        rounds.begin(held, visit.id, RoundKind.WORKING, None, "1k", [lines["R201"], lines["R101"]])
    bench = tmp_path / "bench.toml"
    bench.write_text(BENCH.format(address=meter.address), "utf-8")
    assert read(monkeypatch, library, bench, "\n\n", "--json") == 0
    assert [json.loads(one)["designator"] for one in capsys.readouterr().out.splitlines()] == ["R201", "R101"]


def test_a_meter_that_is_none_of_the_bench_is_told(
    monkeypatch: pytest.MonkeyPatch, library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = tmp_path / "bench.toml"
    bench.write_text(BENCH.format(address="tcp://127.0.0.1:9"), "utf-8")
    assert read(monkeypatch, library, bench, "", "--meter", "other") == BAD_INPUT
    assert '"other": is no walking meter of this bench; there are: parts meter.' in capsys.readouterr().err
