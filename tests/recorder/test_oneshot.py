"""The one-shot recorder switches off what the recipe names, says what came of it, and never says off unread."""

import io
import json
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.far_supply import FarSupply

from benchlog.recorder import lost, oneshot
from benchlog.recorder.messages import CutState, Recipe

SHORT = 1.5
"""Seconds of patience where giving up is what is tested."""


def cut(lines: list[oneshot.Line], seconds: float = 20.0) -> list[dict[str, object]]:
    said: list[dict[str, object]] = []
    verified = oneshot.cut(lines, seconds, said.append)
    finals = [state for state in said if state["outcome"] != "asked"]
    assert len(finals) == len(lines)
    assert verified == all(state["outcome"] == "verified off" for state in finals)
    return said


@pytest.fixture
def closed_port() -> Iterator[int]:
    """A port nobody listens on: bound, so that nobody else gets it meanwhile."""
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        yield holder.getsockname()[1]


def test_a_supply_is_asked_and_read_off() -> None:
    with FarSupply() as supply:
        asked, final = cut([supply.line])
    assert supply.heard == ["OUTP OFF", "OUTP?", "MEAS:VOLT?"]
    assert (asked["outcome"], asked["path"]) == ("asked", f"127.0.0.1:{supply.port}")
    assert (final["outcome"], final["text"]) == ("verified off", "its state reads 0, its outputs 0.0 V")
    assert final["asked_ns"] == asked["asked_ns"]
    assert isinstance(final["at_ns"], int)
    assert isinstance(asked["asked_ns"], int)
    assert final["at_ns"] >= asked["asked_ns"] > 0


@pytest.mark.parametrize("ending", [b"\n", b"\r\n", b" \r\n\r\n"])
def test_it_asks_again_until_the_supply_obeys(ending: bytes) -> None:
    with FarSupply(deaf=3, ending=ending) as supply:
        final = cut([supply.line])[-1]
    assert final["outcome"] == "verified off"
    assert supply.heard.count("OUTP OFF") == 4
    assert supply.connections == 1


@pytest.mark.parametrize("answers", ["OFF|0", "off|OFF,0| 0 "])
def test_every_answer_that_means_off_counts(answers: str) -> None:
    with FarSupply() as supply:
        final = cut([(*supply.line[:4], answers, supply.line[5])])[-1]
    assert final["outcome"] == "verified off"


@pytest.mark.parametrize("answers", ["OFF", "0,0", "OFF|0,0"])
def test_no_other_answer_counts(answers: str) -> None:
    with FarSupply() as supply:
        final = cut([(*supply.line[:4], answers, supply.line[5])], SHORT)[-1]
    assert (final["outcome"], final["text"]) == ("asked, still live", "its state reads 0")


def test_an_answer_that_stays_away_makes_it_connect_anew() -> None:
    with FarSupply(mute=1) as supply:
        final = cut([supply.line])[-1]
    assert final["outcome"] == "verified off"
    assert supply.connections == 2


def test_a_supply_that_hangs_up_is_asked_again() -> None:
    with FarSupply(hangs_up=1) as supply:
        final = cut([supply.line])[-1]
    assert final["outcome"] == "verified off"
    assert supply.connections == 2


def test_a_supply_that_serves_another_first_is_waited_for() -> None:
    with FarSupply(serves=1) as supply, socket.create_connection(("127.0.0.1", supply.port)) as other:
        other.sendall(b"OUTP?\n")
        assert other.recv(10) == b"1\n"
        freed = threading.Timer(0.3, other.close)
        freed.start()
        final = cut([supply.line])[-1]
        freed.join()
    assert final["outcome"] == "verified off"


def test_a_supply_that_stays_on_is_told_to_be_live() -> None:
    with FarSupply(deaf=1000) as supply:
        final = cut([supply.line], SHORT)[-1]
    assert (final["outcome"], final["text"]) == ("asked, still live", "its state reads 1")


def test_a_supply_that_says_off_while_its_terminals_stand_is_told_to_be_live() -> None:
    with FarSupply() as supply:
        supply.lies = True
        final = cut([supply.line], SHORT)[-1]
    text = "STILL LIVE: its state reads 0, its outputs 12.0 V"
    assert (final["outcome"], final["text"]) == ("asked, still live", text)


@pytest.mark.parametrize("questions", [[], ["OUTP?;*IDN?"]])
def test_its_word_alone_is_no_proof(questions: list[str]) -> None:
    with FarSupply() as supply:
        final = cut([(*supply.line[:5], questions)], SHORT)[-1]
    assert final["outcome"] == "unknown"


def test_without_an_answer_nothing_is_known() -> None:
    with FarSupply(mute=1000) as supply:
        final = cut([supply.line], SHORT)[-1]
        assert not supply.on  # It did switch off, but nobody saw it.
    assert final["outcome"] == "unknown"
    assert "asked, but no answer" in str(final["text"])


def test_without_a_question_nothing_is_known() -> None:
    with FarSupply() as supply:
        host, port, off, *_ = supply.line
        final = cut([(host, port, off, "", "", [])], 0.5)[-1]
        assert not supply.on
    assert final["outcome"] == "unknown"
    assert "no question" in str(final["text"])


def test_an_answer_without_end_is_none() -> None:
    with FarSupply(ending=b"0" * 5000) as supply:
        final = cut([supply.line], SHORT)[-1]
    assert final["outcome"] == "unknown"
    assert "its answer never ended" in str(final["text"])


def test_where_nobody_lets_it_in_it_is_refused(closed_port: int) -> None:
    (final,) = cut([("127.0.0.1", closed_port, "OUTP OFF", "OUTP?", "0", [])], 0.5)
    assert final["outcome"] == "refused"
    assert final["asked_ns"] == 0


def test_a_host_that_does_not_exist_is_unknown() -> None:
    (final,) = cut([("no such host.invalid", 1, "OUTP OFF", "OUTP?", "0", [])], 0.5)
    assert final["outcome"] == "unknown"
    assert "not asked, no connection" in str(final["text"])


def test_a_dead_path_does_not_hold_up_the_other(closed_port: int) -> None:
    with FarSupply() as supply:
        said = cut([("127.0.0.1", closed_port, "OUTP OFF", "OUTP?", "0", []), supply.line], 3.0)
    assert {str(s["path"]).split(":")[1]: s["outcome"] for s in said} == {
        str(closed_port): "refused",
        str(supply.port): "verified off",
    }
    assert said[0]["path"] == f"127.0.0.1:{supply.port}"


# --- the process ----------------------------------------------------------------------------------


def recipe_of(*supplies: FarSupply) -> Recipe:
    return Recipe(lines=[supply.line for supply in supplies])


@pytest.mark.parametrize("how", [["-m", "benchlog.recorder.oneshot"], ["-I", "-S", oneshot.__file__]])
def test_the_process_reads_a_recipe_and_prints_cut_states(how: list[str]) -> None:
    with FarSupply() as supply:
        line = json.dumps({"is": "recipe", "lines": [supply.line]}) + "\n"
        done = subprocess.run(
            [sys.executable, *how, "20"], input=line, capture_output=True, text=True, check=False
        )
    assert (done.returncode, done.stderr) == (0, "")
    assert [json.loads(said)["outcome"] for said in done.stdout.splitlines()] == ["asked", "verified off"]
    assert not supply.on


def test_it_cuts_though_nobody_reads_what_it_says() -> None:
    with FarSupply(deaf=1) as supply:
        process = subprocess.Popen(
            [sys.executable, oneshot.__file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        with process:
            assert process.stdin is not None
            assert process.stdout is not None
            process.stdout.close()
            process.stdin.write(json.dumps({"lines": [supply.line]}) + "\n")
            process.stdin.close()
        assert not supply.on


class Deaf(io.StringIO):
    """A standard output whose reader is gone."""

    def flush(self) -> None:
        raise BrokenPipeError


def test_main_says_by_its_status_whether_all_is_off(
    monkeypatch: pytest.MonkeyPatch, closed_port: int, capsys: pytest.CaptureFixture[str]
) -> None:
    with FarSupply() as supply:
        monkeypatch.setattr(sys, "stdin", io.StringIO(json.dumps({"lines": [supply.line]})))
        assert oneshot.main([]) == 0
    line = ["127.0.0.1", closed_port, "OUTP OFF", "OUTP?", "0", []]
    monkeypatch.setattr(sys, "stdin", io.StringIO(json.dumps({"lines": [line]})))
    monkeypatch.setattr(sys, "stdout", Deaf())
    assert oneshot.main(["0.2"]) == 1


@pytest.mark.parametrize(
    "said", ["", "rubbish", "[]", "{}", '{"lines":[["h","x","o","q","a"]]}', '{"lines":[1]}']
)
def test_without_a_recipe_it_says_so(
    said: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(said))
    assert oneshot.main([]) == 2
    assert "standard input holds no recipe" in capsys.readouterr().err


# --- from the client ------------------------------------------------------------------------------


def test_the_client_hears_what_the_process_says() -> None:
    states: list[CutState] = []
    with FarSupply() as one, FarSupply(deaf=2) as other:
        lost.cut_without_recorder(recipe_of(one, other), states.append)
        assert not one.on
        assert not other.on
    finals = {state.path: state.outcome for state in states if state.outcome != "asked"}
    assert set(finals.values()) == {"verified off"}
    assert len(finals) == 2


def test_where_no_process_can_be_started_it_cuts_all_the_same(tmp_path: Path) -> None:
    states: list[CutState] = []
    with FarSupply() as supply:
        python = str(tmp_path / "no-python")
        lost.cut_without_recorder(recipe_of(supply), states.append, python=python)
        assert not supply.on
    assert [state.outcome for state in states] == ["asked", "verified off"]


def test_a_process_that_says_nothing_leaves_it_unknown() -> None:
    states: list[CutState] = []
    with FarSupply() as supply:
        lost.cut_without_recorder(recipe_of(supply), states.append, python="true")
    assert [state.outcome for state in states] == ["unknown"]
    assert states[0].path == f"127.0.0.1:{supply.port}"


@pytest.mark.parametrize("words", ["rubbish", '{"is":"beat","n":1}'])
def test_a_process_that_says_something_else_leaves_it_unknown(
    words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    script = tmp_path / "other.py"
    script.write_text(f"print({words!r})")
    monkeypatch.setattr(lost, "_SCRIPT", script)
    states: list[CutState] = []
    with FarSupply() as supply:
        lost.cut_without_recorder(recipe_of(supply), states.append)
    assert [state.outcome for state in states] == ["unknown"]


def test_a_process_that_does_not_end_is_ended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    script = tmp_path / "other.py"
    script.write_text("import os, time; os.close(0); os.close(1); time.sleep(60)")
    monkeypatch.setattr(lost, "_SCRIPT", script)
    states: list[CutState] = []
    with FarSupply() as supply:
        lost.cut_without_recorder(recipe_of(supply), states.append)
    assert [state.outcome for state in states] == ["unknown"]


def test_of_an_empty_recipe_nothing_is_told() -> None:
    states: list[CutState] = []
    lost.cut_without_recorder(Recipe(lines=[]), states.append)
    assert states == []
