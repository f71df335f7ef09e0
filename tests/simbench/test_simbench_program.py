"""The program as others start it: its first line, its witness, its ends, and its bad input."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from helpers.live_bench import Line

from benchlog.simbench import ear

HANG = 60.0


@contextmanager
def program(
    *arguments: str, module: str = "benchlog.simbench"
) -> Iterator[tuple[subprocess.Popen[str], Any]]:
    """The program and its first line; it must be gone by itself at the end."""
    process = subprocess.Popen(
        [sys.executable, "-m", module, *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        yield process, json.loads(process.stdout.readline())
    finally:
        process.stdin.close()
        if process.poll() is None:
            process.kill()
        process.wait(HANG)
        process.stdout.close()


def line_to(address: str) -> Line:
    found = re.fullmatch(r"(?:TCPIP::|tcp://)([\d.]+):+(\d+)(?:::SOCKET)?", address)
    assert found is not None
    return Line(found[1], int(found[2]))


def test_first_line_then_the_witness_then_a_clean_end_at_sigterm() -> None:
    with program("--speed", "10") as (process, first):
        assert first["simulated"] == "amplifier"
        assert first["speed"] == 10.0
        assert {"lamp", "+B", "mains", "mains relay", "parts meter"} <= first["addresses"].keys()
        meter = line_to(first["addresses"]["+B"])
        reply = meter.ask("READ?")
        process.send_signal(signal.SIGTERM)
        assert process.stdout is not None
        seen = [json.loads(line) for line in process.stdout]
        assert process.wait(HANG) == 0
        meter.close()
    assert any(one["saw"] == "reply" and one["text"] == reply for one in seen)


def test_ctrl_c_ends_it_cleanly_too() -> None:
    with program("--example", "board") as (process, _):
        process.send_signal(signal.SIGINT)
        assert process.wait(HANG) == 0


def test_end_of_input_ends_it_where_asked_for() -> None:
    with program("--example", "board", "--until-eof") as (process, _):
        assert process.stdin is not None
        process.stdin.close()
        assert process.wait(HANG) == 0


def test_a_reader_who_goes_away_does_not_stop_the_bench() -> None:
    with program("--example", "by-hand", "--speed", "50") as (process, first):
        assert process.stdout is not None
        process.stdout.close()
        meter = line_to(first["addresses"]["lamp"])
        for _ in range(50):
            assert meter.ask("*IDN?").startswith("BENCHLOG-SIM")
        meter.close()
        process.send_signal(signal.SIGTERM)
        assert process.wait(HANG) == 0


def test_witness_and_bench_go_to_files(tmp_path: Path) -> None:
    witness, bench = tmp_path / "witness.jsonl", tmp_path / "bench.toml"
    with program("--example", "by-hand", "--witness", str(witness), "--bench", str(bench)) as (
        process,
        first,
    ):
        meter = line_to(first["addresses"]["lamp"])
        meter.ask("READ?")
        meter.close()
        process.send_signal(signal.SIGTERM)
        assert process.wait(HANG) == 0
    text = bench.read_text(encoding="utf-8")
    assert all(json.dumps(address) in text for address in first["addresses"].values())
    assert 'address = "simulated:' not in text
    seen = [json.loads(line) for line in witness.read_text(encoding="utf-8").splitlines()]
    assert {"command", "reply"} <= {one["saw"] for one in seen}


def test_the_ear_tells_that_it_heard() -> None:
    with program("--example", "by-hand") as (process, first):
        heard = subprocess.run(
            [sys.executable, "-m", "benchlog.simbench.ear", first["control"], "alarm.wav"],
            check=False,
            timeout=HANG,
        )
        assert heard.returncode == 0
        assert ear.main([first["control"]]) == 0
        process.send_signal(signal.SIGTERM)
        assert process.stdout is not None
        assert sum(json.loads(line)["saw"] == "alarm" for line in process.stdout) == 2


def test_an_ear_without_a_bench_has_not_heard() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    assert ear.main([f"tcp://127.0.0.1:{port}"]) == 1


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--example", "valve"], "amplifier"),
        (["--fault", "gremlins"], "runaway"),
        (["--speed", "0"], "--speed"),
        (["--speed", "nan"], "--speed"),
        (["--delay", "-1"], "--delay"),
        (["--witness", "/no/such/folder/file"], "/no/such/folder/file"),
        (["--bench", "/no/such/folder/file"], "/no/such/folder/file"),
    ],
)
def test_bad_input_is_one_sentence_and_status_2(arguments: list[str], said: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "benchlog.simbench", *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=HANG,
    )
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_the_command_is_the_same_program() -> None:
    arguments = [sys.executable, "-m", "benchlog", "simulate", "--example", "board", "--until-eof"]
    done = subprocess.run(arguments, input="", capture_output=True, text=True, check=False, timeout=HANG)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout.splitlines()[0])["simulated"] == "board"


# --- the bare far end ----------------------------------------------------------------------------


def test_the_bare_far_end_pairs_each_violation_with_its_cut() -> None:
    with program("--meters", "2", "--delay", "0.001", "--every", "5", module="benchlog.simbench.bare") as (
        process,
        first,
    ):
        meters = [line_to(address) for address in first["meters"]]
        supply = line_to(first["supply"])
        assert meters[0].ask("*IDN?").count(",") == 3
        supply.say("VOLT 15,(@1)\nCURR 0.2,(@1)\nOUTP ON,(@1,2)")
        assert supply.ask("OUTP? (@1,2)") == "1,1"
        assert supply.ask("VOLT? (@1)") == supply.ask("MEAS:VOLT? (@1)") == "+1.50000000E+01"
        assert supply.ask("STAT:QUES:INST:ISUM1:COND?") == "0"
        assert supply.ask("SYST:ERR?") == '+0,"No error"'
        cuts = 0
        while cuts < 20:
            for meter in meters:
                if float(meter.ask("READ?")) > 5.0:
                    supply.say("OUTP OFF,(@1,2)")
                    assert supply.ask("OUTP? (@1,2)") == "0,0"
                    cuts += 1
        control = line_to(first["control"])
        assert json.loads(control.ask('{"do": "count"}'))["cuts"] == 20
        assert json.loads(control.ask('{"do": "violate", "meter": 1}'))["ok"]
        assert float(meters[1].ask("READ?")) > 5.0
        assert json.loads(control.ask('{"do": "calm"}'))["ok"]
        assert float(meters[1].ask("READ?")) < 5.0
        for line in (*meters, supply, control):
            line.close()
        process.send_signal(signal.SIGTERM)
        assert process.stdout is not None
        seen = [json.loads(line) for line in process.stdout]
        assert process.wait(HANG) == 0
    assert len(seen) == 20
    assert all(one["by"] == "supply" and one["replies"] == 1 and one["first"] <= one["t"] for one in seen)


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")
def test_the_bare_relay_counts_silence_as_a_cut() -> None:
    with program("--meters", "1", "--delay", "0", module="benchlog.simbench.bare") as (process, first):
        fd = os.open(first["relay"], os.O_RDWR | os.O_NOCTTY)
        os.write(fd, b"\x55\x55\x55")
        assert process.stdout is not None
        cut = json.loads(process.stdout.readline())
        os.close(fd)
        assert cut["by"] == "relay"
        assert cut["t"] - cut["silent_since"] >= 0.5e9
        meter = line_to(first["meters"][0])
        assert float(meter.ask("READ?")) < 5.0
        meter.close()
