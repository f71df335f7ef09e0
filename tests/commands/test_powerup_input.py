"""What a wrong plan, bench, address or library gets: every fault at once, status 2, and nothing touched."""

import re
import socket
import sqlite3
import sys
from pathlib import Path

import pytest
from helpers.plans import short_plan
from helpers.program import Ended, Running, benchlog
from helpers.until import until

from benchlog import resources
from benchlog.store.library import Library
from benchlog.store.places import LIBRARY_FILE


def refused(ended: Ended) -> list[str]:
    """The complaints of a command that was refused, each one a plain sentence."""
    assert ended.status == 2, ended.err
    assert "Traceback" not in ended.err
    assert all(line.endswith((".", "?")) for line in ended.complaints), ended.err
    return ended.complaints


def example_bench(example: str, address: str) -> str:
    """An example's bench with all its instruments at one address."""
    text = resources.path("examples", example, "bench.toml").read_text(encoding="utf-8")
    return re.sub(r'"simulated:[^"]*"', f'"{address}"', text)


def nobody() -> str:
    """An address at which nobody listens."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        return f"TCPIP::127.0.0.1::{server.getsockname()[1]}::SOCKET"


def files(home: Path, plan: str, bench: str) -> tuple[Path | str, ...]:
    """The arguments of a power-up, with its files written."""
    (home / "plan.toml").write_text(plan, encoding="utf-8")
    (home / "bench.toml").write_text(bench, encoding="utf-8")
    return ("powerup", home / "plan.toml", "--bench", home / "bench.toml")


def test_every_fault_of_both_files_is_named_at_once(tmp_path: Path) -> None:
    plan = short_plan("board", stages=2)
    plan = plan.replace("volts = 10.0", 'volts = "10 V"').replace(
        'role = "regulated"', 'role = "regulatd"', 1
    )
    plan = plan.replace('kind = "supply"', 'kind = "suply"', 1).replace("dwell = 1.0", "dwel = 1.0", 1)
    bench = example_bench("board", nobody())
    bench = bench.replace('profile = "scpi-supply"', 'profile = "scpi-suply"')
    bench = bench.replace("interval = 0.2", 'interval = "fast"', 1)
    said = refused(benchlog(*files(tmp_path, plan, bench), home=tmp_path))
    for place, word in (
        ("bench.toml: meter[1].interval", "fast"),
        ("bench.toml: supply[1].profile", "scpi-suply"),
        ("plan.toml: trace[7].role", "regulatd"),
        ("plan.toml: limit[1].kind", "suply"),
        ("plan.toml: stage[1].volts", "10 V"),
        ("plan.toml: stage[1].dwel", "dwell"),
    ):
        assert any(line.startswith(place) and word in line for line in said), (place, said)
    assert not (tmp_path / "library").exists()


def test_a_broken_file_is_told_with_its_line(tmp_path: Path) -> None:
    plan = short_plan("board").replace("[source]", "[source")
    (line,) = refused(benchlog(*files(tmp_path, plan, example_bench("board", nobody())), home=tmp_path))
    assert re.match(r"plan\.toml: line \d+", line)


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    (line,) = refused(benchlog("powerup", "no-plan.toml", "--bench", "no-bench.toml", home=tmp_path))
    assert "no-plan.toml" in line


def test_a_plan_of_a_newer_benchlog_is_told_by_name(tmp_path: Path) -> None:
    plan = short_plan("board").replace("benchlog plan 1", "benchlog plan 9")
    (line,) = refused(benchlog(*files(tmp_path, plan, example_bench("board", nobody())), home=tmp_path))
    assert line.startswith("plan.toml")
    assert "newer" in line


def test_a_plan_that_does_not_fit_its_bench_is_told_before_anything_is_on(tmp_path: Path) -> None:
    with Running(
        "benchlog", "simulate", "--example", "board", "--bench", tmp_path / "bench.toml", home=tmp_path
    ) as bench:
        until(lambda: bench.lines[:1], "the bench")
        plan = short_plan("board").replace('meter = "bench supply"\nchannel = "1"', 'meter = "another"', 1)
        (tmp_path / "plan.toml").write_text(plan, encoding="utf-8")
        arguments = ("powerup", tmp_path / "plan.toml", "--bench", tmp_path / "bench.toml")
        said = refused(benchlog(*arguments, home=tmp_path))
        assert said[0].startswith("plan.toml: trace[1].meter: no meter of the bench has the job 'another'")
        assert not [line for line in bench.lines[1:] if line["saw"] == "power"]


def test_every_address_that_nobody_answers_on_is_named(tmp_path: Path) -> None:
    arguments = files(tmp_path, short_plan("board"), example_bench("board", nobody()))
    said = refused(benchlog(*arguments, home=tmp_path))
    assert [line.split(":")[0] for line in said] == [
        "regulated +",
        "regulated -",
        "parts meter",
        "bench supply",
    ]
    assert all("nobody listens at 127.0.0.1" in line for line in said)


@pytest.mark.skipif(sys.platform == "win32", reason="ports have other names there")
def test_a_port_that_is_not_there_is_named(tmp_path: Path) -> None:
    missing = "/dev/ttyUSB97"
    arguments = files(tmp_path, short_plan("by-hand"), example_bench("by-hand", missing))
    said = refused(benchlog(*arguments, home=tmp_path))
    assert len(said) == 3
    assert all(f"{missing} cannot be opened" in line for line in said)


def test_a_hand_alone_may_not_go_up_by_itself(tmp_path: Path) -> None:
    arguments = files(tmp_path, short_plan("by-hand"), example_bench("by-hand", nobody()))
    (line,) = refused(benchlog(*arguments, "--yes", home=tmp_path))
    assert line == (
        "--yes: a hand is the only off-switch of this bench; "
        "stay with it and leave --yes out, or add a supply or a relay."
    )


def test_that_refusal_comes_along_with_the_faults_of_the_files(tmp_path: Path) -> None:
    plan = short_plan("by-hand").replace("fraction = 0.4", "fraction = 4.0")
    arguments = files(tmp_path, plan, example_bench("by-hand", nobody()))
    said = refused(benchlog(*arguments, "--yes", home=tmp_path))
    assert [line.split(":")[0] for line in said] == ["plan.toml", "--yes"]


def test_a_unit_that_the_library_does_not_know_is_told(tmp_path: Path) -> None:
    Library.open(tmp_path / "library").close()
    arguments = files(tmp_path, short_plan("board"), example_bench("board", nobody()))
    (line,) = refused(benchlog(*arguments, "--unit", "Hall amplifer", home=tmp_path))
    assert "Hall amplifer" in line


def test_a_newer_library_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    Library.open(tmp_path / "library").close()
    file = tmp_path / "library" / LIBRARY_FILE
    with sqlite3.connect(file) as connection:
        connection.execute("PRAGMA user_version = 999")
    connection.close()
    before = file.read_bytes()
    for arguments in (
        files(tmp_path, short_plan("board"), example_bench("board", nobody())),
        ("demo", "--headless", "--example", "board", "--library", tmp_path / "library"),
    ):
        (line,) = refused(benchlog(*arguments, home=tmp_path))
        assert str(tmp_path / "library") in line
        assert "newer" in line
    assert file.read_bytes() == before


def test_a_second_writer_is_refused_and_the_first_one_undisturbed(tmp_path: Path) -> None:
    library = tmp_path / "library"
    arguments = ("--example", "board", "--fault", "shorted-output", "--library", str(library))
    with Running("benchlog", "demo", "--headless", "--json", *arguments, home=tmp_path) as first:
        first.says('"is":"part"')
        (line,) = refused(benchlog("demo", "--headless", *arguments, home=tmp_path))
        assert line.startswith(f"{library}: is in use by another benchlog (process {first.pid} on ")
        assert line.endswith("; close that one first.")
        ended = first.wait()
        assert ended.status == 3
        assert ended.lines[-1]["parts"] == 16
