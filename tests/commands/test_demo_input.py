"""What the demo and the simulated bench say to names and numbers they do not know, and how they begin and end."""

import signal
import sys
from pathlib import Path

import pytest
from helpers.program import Running, benchlog

FAULTS = ("healthy", "missing-rail", "runaway", "shorted-output", "silent-meter")


@pytest.mark.parametrize("command", ["demo", "simulate"])
def test_an_unknown_example_is_answered_with_those_there_are(command: str, tmp_path: Path) -> None:
    ended = benchlog(command, "--example", "toaster", home=tmp_path)
    assert ended.status == 2
    (line,) = ended.complaints
    assert "toaster" in line
    assert all(name in line for name in ("amplifier", "by-hand", "board"))


@pytest.mark.parametrize("command", ["demo", "simulate"])
def test_an_unknown_fault_is_answered_with_those_there_are(command: str, tmp_path: Path) -> None:
    ended = benchlog(command, "--example", "board", "--fault", "gremlins", home=tmp_path)
    assert ended.status == 2
    (line,) = ended.complaints
    assert "gremlins" in line
    assert all(name in line for name in FAULTS)


@pytest.mark.parametrize("speed", ["0", "-1", "1000", "nan", "inf", "fast"])
@pytest.mark.parametrize("command", ["demo", "simulate"])
def test_a_speed_that_means_nothing_is_refused(command: str, speed: str, tmp_path: Path) -> None:
    ended = benchlog(command, "--speed", speed, home=tmp_path)
    assert ended.status == 2
    assert len(ended.complaints) == 1
    assert "--speed" in ended.err


def test_a_demo_that_is_refused_leaves_nothing_behind(tmp_path: Path) -> None:
    library = tmp_path / "library"
    benchlog("demo", "--headless", "--fault", "gremlins", "--library", library, home=tmp_path)
    assert not library.exists()


def test_a_simulated_bench_says_where_it_is_then_what_it_sees_and_ends_with_its_input(tmp_path: Path) -> None:
    with Running("benchlog", "simulate", "--example", "board", "--until-eof", home=tmp_path) as bench:
        bench.says('"simulated"')
        (first, *_) = bench.lines
        assert first["simulated"] == "board"
        assert first["speed"] == 1.0
        assert set(first["addresses"]) == {"bench supply", "regulated +", "regulated -", "parts meter"}
        assert first["control"].startswith("tcp://127.0.0.1:")
        read = benchlog("read", first["addresses"]["regulated +"], "--count", "2", home=tmp_path)
        assert read.status == 0, read.err
        bench.says('"reply"', '"regulated +"')
        bench.hears_no_more()
        assert bench.wait().status == 0


@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_simulated_bench_ends_when_told_to(number: signal.Signals, tmp_path: Path) -> None:
    files = ("--witness", str(tmp_path / "seen.jsonl"), "--bench", str(tmp_path / "bench.toml"))
    with Running("benchlog", "simulate", "--example", "by-hand", *files, home=tmp_path) as bench:
        bench.says('"simulated"')
        bench.send(number)
        ended = bench.wait()
        assert ended.status == 0
        assert not ended.err
        assert len(ended.lines) == 1
        text = (tmp_path / "bench.toml").read_text(encoding="utf-8")
        assert all(f'address = "{address}"' in text for address in ended.lines[0]["addresses"].values())


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    for option in ("--witness", "--bench"):
        ended = benchlog(
            "simulate", "--example", "board", option, tmp_path / "no" / "such" / "folder", home=tmp_path
        )
        assert ended.status == 2
        assert len(ended.complaints) == 1


def test_an_ended_demo_in_words_says_what_a_person_wants_to_know(tmp_path: Path) -> None:
    arguments = ("--example", "board", "--fault", "shorted-output", "--speed", "20")
    ended = benchlog(*("demo", "--headless", *arguments, "--library", tmp_path / "library"), home=tmp_path)
    assert ended.status == 3
    for words in (
        "Out of a hall amplifier whose protection relay never clicks.",
        "16 parts read: ",
        "Stages reached: 10 V.",
        "Run tripped: the supply is in current limit (raw + state).",
        "Off-switch bench supply: verified off (the supply answers: off",
        "violating reading to cut on the wire ",
        "cut to verified off ",
        "Run kept in ",
        f"Library: {tmp_path / 'library'}",
    ):
        assert words in ended.out, words


@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
def test_ctrl_c_in_a_demo_is_the_operators_cut(tmp_path: Path) -> None:
    arguments = ("--example", "board", "--library", str(tmp_path / "library"))
    with Running("benchlog", "demo", "--headless", "--json", *arguments, home=tmp_path) as demo:
        demo.says('"is":"stage"', '"state":"dwelling"')
        demo.send(signal.SIGINT)
        ended = demo.wait()
        assert ended.status == 4
        assert ended.lines[-1]["reason"] == "cut by the operator"
        assert ended.lines[-1]["off"][0]["outcome"] == "verified off"
