"""A plan made from six numbers at the command line: kept where it was named, or refused with every fault."""

import re
from pathlib import Path

import pytest
from helpers.program import benchlog

from benchlog import resources, textfile
from benchlog.commands.six_numbers import make
from benchlog.domain.plan import Plan
from benchlog.errors import BadInput, Full

HALL = ("2", "230", "+/-44", "2", "16.5", "0.33", "100")
BOARD = ("3", "-", "+/-20", "1", "5", "0.5", "-")


def bench_of(example: str, folder: Path) -> Path:
    """An example's bench with addresses that nobody opens here."""
    text = resources.path("examples", example, "bench.toml").read_text(encoding="utf-8")
    path = folder / "bench.toml"
    path.write_text(re.sub(r'"simulated:[^"]*"', '"socket://127.0.0.1:9"', text), encoding="utf-8")
    return path


def test_it_is_kept_where_it_was_named_with_the_meters_of_the_bench(tmp_path: Path) -> None:
    make(HALL, tmp_path / "hall.toml", bench_of("amplifier", tmp_path), [])
    plan = textfile.read(tmp_path / "hall.toml", Plan)
    assert plan.source.lamp_watts == 100.0
    assert {"lamp", "+B", "-B", "idle L", "offset R"} <= {trace.name for trace in plan.trace}
    assert "parts meter" not in {trace.job for trace in plan.trace}


def test_a_board_takes_the_supply_of_its_bench(tmp_path: Path) -> None:
    make(BOARD, tmp_path / "board.toml", bench_of("board", tmp_path), [])
    assert textfile.read(tmp_path / "board.toml", Plan).source.supply == "bench supply"


def test_a_file_that_is_there_is_never_written_over(tmp_path: Path) -> None:
    (tmp_path / "hall.toml").write_text("mine", "utf-8")
    with pytest.raises(BadInput, match="is there already"):
        make(HALL, tmp_path / "hall.toml", bench_of("amplifier", tmp_path), [])
    assert (tmp_path / "hall.toml").read_text("utf-8") == "mine"


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(Full, match="cannot be written"):
        make(HALL, tmp_path / "no" / "hall.toml", bench_of("amplifier", tmp_path), [])


def test_every_number_that_cannot_be_is_named_and_nothing_written(tmp_path: Path) -> None:
    bench = bench_of("amplifier", tmp_path)
    plan = tmp_path / "hall.toml"
    numbers = ("2", "9999", "44", "3", "16.5", "0.33", "100")
    ended = benchlog("powerup", plan, "--bench", bench, "--make", *numbers, home=tmp_path)
    assert ended.status == 2
    assert [line.split(":")[0] for line in ended.complaints] == ["rail", "channels"]
    assert not plan.exists()


def test_the_switch_is_called_as_the_bench_calls_it(tmp_path: Path) -> None:
    make(HALL, tmp_path / "hall.toml", bench_of("amplifier", tmp_path), [])
    assert textfile.read(tmp_path / "hall.toml", Plan).source.chain[0] == "mains relay"


def test_of_two_supplies_the_one_that_feeds_the_board_is_named(tmp_path: Path) -> None:
    bench = bench_of("board", tmp_path)
    entry = re.search(r"\[\[supply\]\].*?(?=\[\[)", bench.read_text("utf-8"), re.DOTALL)
    assert entry is not None
    other = entry[0].replace('"bench supply"', '"old supply"').replace("127.0.0.1:9", "127.0.0.1:8")
    bench.write_text(f"{bench.read_text('utf-8')}\n{other}", "utf-8")
    with pytest.raises(BadInput, match=r"--supply: is missing.*bench supply, old supply"):
        make(BOARD, tmp_path / "board.toml", bench, [])
    with pytest.raises(BadInput, match='no "new supply"'):
        make(BOARD, tmp_path / "board.toml", bench, [], "new supply")
    make(BOARD, tmp_path / "board.toml", bench, [], "old supply")
    assert textfile.read(tmp_path / "board.toml", Plan).source.supply == "old supply"
