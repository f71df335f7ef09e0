"""When the client is gone, silent or done, and when the recorder itself stands still: off, kept, and an end."""

import signal
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.near import HANG, Inside, Person, bench_text, hands, nobody
from helpers.plans import short_plan
from helpers.until import until

from benchlog.domain.guard import Guard
from benchlog.domain.stages import State
from benchlog.errors import BadInput, Fault
from benchlog.recorder import messages, off_relay, process
from benchlog.recorder import run as running
from benchlog.recorder.arming import without_reading
from benchlog.store import query
from benchlog.store.ids import new_id
from benchlog.store.places import session_files
from benchlog.store.records import Ending

Start = Callable[..., Inside]


@pytest.fixture
def board() -> Iterator[LiveBench]:
    with live_bench("board") as far:
        yield far


@pytest.fixture
def amplifier() -> Iterator[LiveBench]:
    with live_bench("amplifier") as far:
        yield far


@pytest.fixture
def start() -> Iterator[Start]:
    made: list[Inside] = []

    def inside(person: Person = nobody, **more: list[str]) -> Inside:
        made.append(Inside(person, **more))
        return made[-1]

    yield inside
    for one in made:
        one.close()


def ended(path: Path) -> tuple[str, str]:
    """How a session ended, and why."""
    state = query.state(path)
    return state.outcome, state.reason


def switched_off(far: LiveBench) -> bool:
    return bool(far.control("state")["outputs"] == [False, False])


# --- nobody is left -------------------------------------------------------------------------------


def test_a_client_that_ends_has_a_live_run_cut_and_closed_after_its_tail(
    board: LiveBench, start: Start, tmp_path: Path
) -> None:
    near = start()
    path = near.live(board, "board", tmp_path, dwell=600.0)
    near.hang_up()
    near.gone()
    assert ended(path) == (Ending.ALONE, "the window or terminal of this run ended")
    assert query.events(path, "closed")[0].data["off"] == "verified off"
    assert query.events(path, "off")[0].t < query.events(path, "closed")[0].t
    assert switched_off(board)


def test_a_client_that_falls_silent_has_a_live_run_cut_and_may_come_back(
    board: LiveBench, start: Start, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(process, "CLIENT_SILENT", 0.5)
    near = start()
    path = near.live(board, "board", tmp_path, dwell=600.0)
    near.beats = False
    near.wait(messages.Closed)
    near.beats = True
    assert ended(path) == (Ending.ALONE, "the window fell silent for 0.5 s")
    assert switched_off(board)
    cuts = [
        one for one in board.saw("command", job="bench supply") if str(one["text"]).startswith("OUTP OFF")
    ]
    assert len(cuts) == 2  # The proof's and the cut's.
    near.open_bench(bench_text(board, "board"), board.bench.speed)


def test_a_recorder_told_to_end_cuts_closes_with_the_reason_and_ends(
    board: LiveBench, start: Start, tmp_path: Path
) -> None:
    near = start()
    path = near.live(board, "board", tmp_path, dwell=600.0)
    near.recorder.terminate(signal.SIGTERM, None)
    near.gone()
    assert ended(path) == (Ending.ALONE, "benchlog was told to end")
    assert near.wait(messages.Closed).reason == "benchlog was told to end"
    assert switched_off(board)
    assert near.ended.wait(HANG)


def test_the_operator_who_quits_ends_the_run(board: LiveBench, start: Start, tmp_path: Path) -> None:
    near = start()
    path = near.live(board, "board", tmp_path, dwell=600.0)
    near.request(messages.Quit(id=0))
    near.gone()
    assert ended(path) == (Ending.STOPPED, "ended by the operator")


def test_only_the_first_reason_to_end_is_kept(board: LiveBench, start: Start, tmp_path: Path) -> None:
    near = start()
    path = near.live(board, "board", tmp_path, dwell=600.0)
    near.request(messages.Quit(id=0))
    near.recorder.terminate(signal.SIGTERM, None)
    near.hang_up()
    near.gone()
    assert ended(path) == (Ending.STOPPED, "ended by the operator")


def test_a_run_that_was_never_on_is_closed_at_once(board: LiveBench, start: Start, tmp_path: Path) -> None:
    near = start()
    path = near.ready(board, "board", tmp_path, tail=600.0)
    near.hang_up()
    near.gone()
    assert ended(path) == (Ending.ALONE, "the window or terminal of this run ended")
    assert query.events(path, "cut") == ()


def test_a_recorder_without_a_run_just_ends(board: LiveBench, start: Start) -> None:
    near = start()
    near.open_bench(bench_text(board, "board"), board.bench.speed)
    near.request(messages.Quit(id=0))
    near.gone()


def test_a_client_that_ends_during_a_proof_leaves_no_recorder_behind(
    amplifier: LiveBench, start: Start
) -> None:
    near = start()  # Nobody answers.
    near.open_bench(bench_text(amplifier, "amplifier"), 20.0)
    near.load(short_plan("amplifier"))
    near.post(messages.Prove(id=0))
    near.wait(messages.Prompt)
    near.hang_up()
    near.gone()
    assert not amplifier.saw("relay", closed=True)


def test_an_operator_who_cuts_during_a_proof_ends_it(amplifier: LiveBench, start: Start) -> None:
    near = start()
    near.open_bench(bench_text(amplifier, "amplifier"), 20.0)
    near.load(short_plan("amplifier"))
    proof = near.post(messages.Prove(id=0))
    near.wait(messages.Prompt)
    near.request(messages.Cut(id=0))
    refused = proof.get(timeout=HANG)
    assert isinstance(refused, messages.Refused)
    assert refused.faults[0][1] == "is not proven while the variable transformer is up"


def test_a_client_that_ends_while_its_run_is_armed_leaves_it_closed_with_the_reason(
    board: LiveBench, start: Start, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    near = start()
    near.open_bench(bench_text(board, "board"), board.bench.speed)
    near.load(short_plan("board"))
    near.request(messages.Prove(id=0))
    arming, goes_on = threading.Event(), threading.Event()

    def slowly(guard: Guard) -> list[Fault]:
        arming.set()
        goes_on.wait(HANG)
        return without_reading(guard)

    monkeypatch.setattr(running, "without_reading", slowly)
    near.post(messages.Arm(id=0, session=new_id(), folder=str(tmp_path / "sessions")))
    assert arming.wait(HANG)
    near.hang_up()
    until(near.recorder._leaving.is_set, "the end of the pipe")
    goes_on.set()
    near.gone()
    (path,) = session_files(tmp_path)
    assert ended(path) == (Ending.ALONE, "the window or terminal of this run ended")


def test_a_run_that_was_still_going_up_when_the_end_came_is_cut_all_the_same(
    board: LiveBench, start: Start, tmp_path: Path
) -> None:
    near = start()
    path = near.live(board, "board", tmp_path, dwell=600.0)
    # The end was noted while somebody else held the run.
    near.recorder._why_leaving = ("benchlog was told to end", Ending.ALONE)
    near.recorder._leaving.set()
    near.gone()
    assert ended(path) == (Ending.ALONE, "benchlog was told to end")
    assert switched_off(board)


# --- the relay drops by itself --------------------------------------------------------------------


@pytest.fixture
def quick_proof(monkeypatch: pytest.MonkeyPatch) -> None:
    """Prove a relay in less time than a person would want for counting clicks."""
    monkeypatch.setattr(off_relay, "PULL_IN", 0.2)
    monkeypatch.setattr(off_relay, "MARGIN", 0.1)


@pytest.fixture
def held_in(
    amplifier: LiveBench, start: Start, quick_proof: None, patient_relay: None, tmp_path: Path
) -> Inside:
    """A live run that holds the mains relay in."""
    near = start(hands(amplifier))
    near.live(amplifier, "amplifier", tmp_path, dwell=600.0)
    return near


def drops(far: LiveBench) -> bool:
    return bool(far.saw("relay", closed=True)) and far.bench.relay is not None and not far.bench.relay.closed


def lost_its_relay(near: Inside) -> bool:
    """Whether the run ended because its relay let go."""
    closed = near.wait(messages.Closed)
    return closed.outcome == Ending.TRIPPED and "mains relay: " in closed.reason


def run_again(far: LiveBench) -> bool:
    """Whether the relay pulled in once more after its drop in the live run."""
    return far.bench.relay is not None and far.bench.relay.closed


def test_the_relay_drops_when_the_watch_stands_still(held_in: Inside, amplifier: LiveBench) -> None:
    run = held_in.recorder._run
    assert run is not None
    (relay,) = run.off.switches
    assert isinstance(relay, off_relay.PumpedRelay)
    assert not drops(amplifier)
    relay._gap = 0.3  # As its drop-out would have it.
    with run.lock:
        until(lambda: drops(amplifier), "its drop")
    assert lost_its_relay(held_in)


def test_the_relay_drops_when_the_thread_of_a_guarded_meter_hangs(
    held_in: Inside, amplifier: LiveBench
) -> None:
    desk = held_in.recorder._desk
    assert desk is not None
    goes_on = threading.Event()
    desk.meters["+B"].do(lambda _: goes_on.wait(HANG))
    until(lambda: drops(amplifier), "its drop")
    goes_on.set()
    held_in.request(messages.Cut(id=0))


def test_the_relay_stays_in_while_a_meter_that_is_not_guarded_hangs(
    held_in: Inside, amplifier: LiveBench
) -> None:
    desk = held_in.recorder._desk
    assert desk is not None
    goes_on = threading.Event()
    hanging = desk.meters["sink L"].do(lambda _: goes_on.wait(HANG))
    until(lambda: desk.quiet_for("sink L") > 2.0, "its silence")
    assert not drops(amplifier)
    goes_on.set()
    hanging.result(HANG)
    held_in.request(messages.Cut(id=0))


def test_nothing_is_permitted_without_a_run() -> None:
    near = Inside()
    assert not near.recorder._permit()
    near.close()


# --- a hand, and an alarm that is a process -------------------------------------------------------


def test_by_hand_the_alarm_is_heard_the_drill_done_and_the_cut_obeyed(start: Start, tmp_path: Path) -> None:
    with live_bench("by-hand") as far:
        ear = [sys.executable, "-m", "benchlog.simbench.ear", far.address("control")]
        near = start(hands(far), player=ear)
        path = near.live(far, "by-hand", tmp_path, dwell=5.0)
        near.wait(messages.Event, lambda event: event.kind == "drill")
        assert near.events("drill")[0].data["seen"] is True
        near.wait(messages.Stage, lambda stage: stage.state == State.READY)
        assert far.saw("alarm")
        near.request(messages.Cut(id=0))
        near.wait(messages.Closed)
        near.close()
        assert far.control("state")["switch"] is False
    assert ended(path) == (Ending.STOPPED, "cut by the operator")
    kinds = [prompt.kind for prompt in near.of(messages.Prompt)]
    assert kinds[:5] == ["heard_alarm", "set_dial", "switch_on", "switch_off", "switch_on"]


def test_an_off_that_nobody_has_seen_keeps_its_alarm_when_everything_else_has_ended(
    start: Start, tmp_path: Path
) -> None:
    heard = tmp_path / "heard"
    rings = f"import pathlib; pathlib.Path({str(heard)!r}).open('a').write('x')"
    with live_bench("by-hand") as far:
        does = hands(far)
        near = start(
            lambda prompt: prompt.kind == "heard_alarm" or does(prompt),
            player=[sys.executable, "-I", "-S", "-c", rings],
        )
        path = near.live(far, "by-hand", tmp_path / "sessions", dwell=600.0)
        near.hang_up()  # Nobody obeys the alarm: its player tells no hand.
        near.gone()
        assert far.control("state")["switch"] is True
    assert ended(path)[0] == Ending.ALONE
    assert query.events(path, "closed")[0].data["off"] == "asked, still live"
    before = heard.stat().st_size
    until(lambda: heard.stat().st_size > before, "the alarm that goes on")
    near.recorder._alarm.close()


def test_a_hand_alone_is_refused_where_no_alarm_can_sound(start: Start) -> None:
    with live_bench("by-hand") as far:
        near = start(hands(far))
        near.open_bench(bench_text(far, "by-hand"), 20.0)
        assert near.load(short_plan("by-hand"))["player"] == "none"
        with pytest.raises(BadInput, match="no player for the alarm was found"):
            near.request(messages.Prove(id=0))
        near.close()
