"""A recorder in a process of its own: its end is in good order, or loud, and either way the unit is off."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers import buggy_recorder
from helpers.far_lines import far_lines
from helpers.live_bench import LiveBench, live_bench
from helpers.near import HANG, Apart, Near, bench_text
from helpers.plans import short_plan
from helpers.until import until

from benchlog.recorder import messages
from benchlog.recorder.framing import encode
from benchlog.store import query
from benchlog.store.ids import new_id
from benchlog.store.records import Ending

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs signals")

Start = Callable[..., Apart]


@pytest.fixture
def board() -> Iterator[LiveBench]:
    with live_bench("board") as far:
        yield far


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    made: list[Apart] = []

    def apart(*command: str) -> Apart:
        made.append(Apart(tmp_path / "log", command=command or ("-m", "benchlog.recorder")))
        made[-1].greet()
        return made[-1]

    yield apart
    for one in made:
        one.close()


def offs(far: LiveBench) -> int:
    """How often the supply was told to switch off."""
    return sum(str(one["text"]).startswith("OUTP OFF") for one in far.saw("command", job="bench supply"))


def switched_off(far: LiveBench) -> bool:
    return bool(far.control("state")["outputs"] == [False, False])


def ended(path: Path) -> tuple[str, str]:
    state = query.state(path)
    return state.outcome, state.reason


# --- in good order --------------------------------------------------------------------------------


def test_told_to_end_it_cuts_closes_with_the_reason_and_ends_well(
    board: LiveBench, start: Start, tmp_path: Path
) -> None:
    near = start()
    path = near.live(board, "board", tmp_path / "sessions", dwell=600.0)
    near.process.send_signal(signal.SIGTERM)
    assert near.status() == 0
    assert ended(path) == (Ending.ALONE, "benchlog was told to end")
    assert near.wait(messages.Closed).reason == "benchlog was told to end"
    assert switched_off(board)


def test_interrupts_of_the_terminal_are_not_for_it(board: LiveBench, start: Start, tmp_path: Path) -> None:
    near = start()
    path = near.live(board, "board", tmp_path / "sessions", dwell=600.0)
    for number in (signal.SIGINT, signal.SIGHUP):
        near.process.send_signal(number)
    beats = len(near.of(messages.Beat))
    until(lambda: len(near.of(messages.Beat)) > beats + 2, "its heartbeats")
    near.request(messages.Quit(id=0))
    assert near.status() == 0
    assert ended(path) == (Ending.STOPPED, "ended by the operator")


def test_its_clients_end_is_its_own(board: LiveBench, start: Start, tmp_path: Path) -> None:
    near = start()
    path = near.live(board, "board", tmp_path / "sessions", dwell=600.0)
    near.hang_up()
    assert near.status() == 0
    assert ended(path) == (Ending.ALONE, "the window or terminal of this run ended")
    assert switched_off(board)


def test_a_client_that_is_silent_for_five_seconds_is_as_good_as_gone(
    board: LiveBench, start: Start, tmp_path: Path
) -> None:
    near = start()
    path = near.live(board, "board", tmp_path / "sessions", dwell=600.0)
    near.beats = False
    near.wait(messages.Closed)
    assert ended(path) == (Ending.ALONE, "the window fell silent for 5 s")
    assert switched_off(board)


def test_a_client_of_another_version_is_not_let_in(tmp_path: Path) -> None:
    hello = encode(messages.Hello(version=messages.VERSION + 1, program="benchlog of tomorrow"))
    own = [sys.executable, "-m", "benchlog.recorder", "--log-dir", str(tmp_path)]
    ended = subprocess.run(own, input=hello, capture_output=True, timeout=HANG, check=False)
    assert ended.returncode == 2
    assert b'"is":"hello"' in ended.stdout
    log = (tmp_path / "recorder.log").read_text(encoding="utf-8")
    said = f"is of another benchlog: it speaks by version {messages.VERSION + 1}"
    assert f"the window or terminal (benchlog of tomorrow): {said}" in log


def test_it_runs_without_a_folder_for_its_log(own_folders: Path) -> None:
    own = [sys.executable, "-m", "benchlog.recorder", "--", "a-player", "with", "words"]
    ended = subprocess.run(own, input=b"", capture_output=True, timeout=HANG, check=False)
    assert ended.returncode == 2
    assert "ended before it said hello" in (own_folders / "log" / "recorder.log").read_text(encoding="utf-8")


# --- a bug ----------------------------------------------------------------------------------------


def provoke(near: Near, thread: str) -> None:
    """Have the thread do what the bug is in; meters, watch and writer do by themselves."""
    if thread == "client":
        near.post(messages.Remark(id=0, remark=new_id(), text="hum"))
    elif thread == "worker":
        near.post(
            messages.Take(id=0, reading=new_id(), job="parts meter", designator="R1", function="volts_dc")
        )
    elif thread in ("cut", "fire"):
        near.post(messages.Cut(id=0))
    elif thread == "supply":
        near.wait(messages.Stage, lambda stage: stage.state == "ready")
        near.post(messages.Act(id=0, what="next"))


@pytest.mark.parametrize("thread", sorted(buggy_recorder.WHERE))
def test_a_bug_in_any_thread_cuts_is_logged_and_ends_it_loudly(
    thread: str, board: LiveBench, start: Start, tmp_path: Path
) -> None:
    shows = tmp_path / "shows"
    near = start("-m", "tests.helpers.buggy_recorder", thread, str(shows))
    path = near.live(board, "board", tmp_path / "sessions", stages=2)
    before = offs(board)
    shows.touch()
    provoke(near, thread)
    assert near.status() == 1
    assert near.ended.wait(HANG)
    if thread != "fire":
        until(lambda: offs(board) > before, "the cut")
        until(lambda: switched_off(board), "off")
    log = near.log.read_text(encoding="utf-8")
    assert "ends the recorder" in log
    assert f"ZeroDivisionError: a bug in {buggy_recorder.WHERE[thread][1]}" in log
    # Its file is there for the next sweep, with what was stored.
    assert query.state(path).outcome == ""
    assert query.events(path, "armed")


@pytest.mark.parametrize("when", ["live", "in a proof"])
def test_a_bug_waits_until_a_relay_held_by_a_level_is_let_go(
    when: str, board: LiveBench, tmp_path: Path
) -> None:
    def person(prompt: messages.Prompt) -> bool | None:
        """Hears everything, but, in a proof, is never done with the port that was closed."""
        waits = when == "in a proof" and "its port was closed" in prompt.text
        return None if waits else True

    shows = tmp_path / "shows"
    with far_lines(falls=False) as far:  # An adapter that keeps its lines as they were when the program dies.
        relay = f'\n[[off_switch]]\nkind = "relay"\njob = "mains relay"\naddress = "{far.address}"\nline = "rts"\n'
        command = ("-m", "tests.helpers.buggy_recorder", "client", str(shows))
        near = Apart(tmp_path / "log", person, command=command)
        near.greet()
        near.open_bench(bench_text(board, "board", relay), board.bench.speed)
        near.load(short_plan("board"))
        proof = near.post(messages.Prove(id=0))
        if when == "live":
            proof.get(timeout=HANG)
            near.arm(tmp_path / "sessions")
            near.act("next")
        else:
            near.wait(messages.Prompt, lambda prompt: "its port was closed" in prompt.text)
        until(lambda: far.levels["rts"], "the relay")
        shows.touch()
        near.post(messages.Remark(id=0, remark=new_id(), text="hum"))
        assert near.status() == 1
        assert not far.levels["rts"]
        near.close()


def test_a_bug_before_there_is_a_run_ends_it_as_loudly(
    board: LiveBench, start: Start, tmp_path: Path
) -> None:
    near = start("-m", "tests.helpers.buggy_recorder", "meter", str(tmp_path / "shows"))
    near.open_bench(bench_text(board, "board"), board.bench.speed)
    near.load(short_plan("board"))
    (tmp_path / "shows").touch()
    assert near.status() == 1
    assert "a bug in thread poll" in near.log.read_text(encoding="utf-8")


def test_a_recorder_that_nobody_speaks_to_holds_nothing_open(tmp_path: Path, board: LiveBench) -> None:
    near = Apart(tmp_path / "log")
    near.greet()
    near.open_bench(bench_text(board, "board"), board.bench.speed)
    near.load(short_plan("board"))
    os.kill(near.process.pid, signal.SIGTERM)
    assert near.status() == 0
    near.close()
