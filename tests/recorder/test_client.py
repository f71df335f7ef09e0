"""Real recorder processes that obey, refuse, fall silent, hang and die: the client knows, tells and cuts."""

import os
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from helpers.far_supply import FarSupply
from helpers.until import until

from benchlog import errors
from benchlog.recorder import client, messages, oneshot
from benchlog.recorder.client import Recorder
from benchlog.recorder.messages import Act, CutState, Notice, Outgoing

STUB = [sys.executable, "-m", "tests.helpers.stub_recorder"]
posix = pytest.mark.skipif(sys.platform == "win32", reason="needs signals")


class Owner:
    """Whoever started the recorder: keeps what it is told."""

    def __init__(self) -> None:
        self.heard: list[Outgoing] = []
        self.threads: set[str] = set()
        self.on_event: Callable[[], None] = lambda: None

    def take(self, message: Outgoing) -> None:
        self.threads.add(threading.current_thread().name)
        self.heard.append(message)
        if isinstance(message, messages.Event):
            self.on_event()

    @property
    def notices(self) -> list[Notice]:
        return [message for message in self.heard if isinstance(message, Notice)]

    @property
    def finals(self) -> list[CutState]:
        return [m for m in self.heard if isinstance(m, CutState) and m.outcome != "asked"]


@pytest.fixture
def owner() -> Owner:
    return Owner()


@pytest.fixture
def recorder(owner: Owner) -> Iterator[Recorder]:
    with Recorder.start(on_message=owner.take, command=STUB, alarm=False) as started:
        yield started


def do(recorder: Recorder, what: str) -> dict[str, Any]:
    return recorder.request(Act(id=0, what=what), timeout=30.0)


def gone(recorder: Recorder) -> bool:
    """Whether it is dead and everything about it is told."""
    return recorder._over.is_set() and not recorder._told.is_alive()


# --- in life --------------------------------------------------------------------------------------


def test_requests_are_answered_each_for_itself(recorder: Recorder) -> None:
    assert do(recorder, "know")["pid"] == recorder.pid
    answers: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
    threads = [threading.Thread(target=lambda: answers.put(do(recorder, "know"))) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert answers.qsize() == 8
    assert recorder.alive
    assert not recorder.armed


def test_a_refusal_is_raised_with_every_fault(recorder: Recorder) -> None:
    with pytest.raises(errors.BadInput) as caught:
        do(recorder, "refuse")
    assert str(caught.value) == "plan.toml: stage[1]: is wrong; mend it.\nplan.toml: stage[2]: is too."


def test_a_request_without_answer_times_out_and_the_next_is_answered(recorder: Recorder) -> None:
    with pytest.raises(errors.TimedOut, match=r"did not answer within 0\.01 s \(act\)"):
        recorder.request(Act(id=0, what="ignore"), timeout=0.01)
    assert do(recorder, "know")


def test_the_answer_to_a_post_comes_to_the_owner(recorder: Recorder, owner: Owner) -> None:
    done, refused = (recorder.post(Act(id=0, what=what)) for what in ("hush", "refuse"))
    until(lambda: len(owner.heard) == 2, "both answers")
    assert owner.heard[0] == messages.Done(id=done)
    assert isinstance(owner.heard[1], messages.Refused)
    assert owner.heard[1].id == refused


def test_the_owner_may_ask_from_within_its_callback(recorder: Recorder, owner: Owner) -> None:
    known: list[dict[str, Any]] = []
    owner.on_event = lambda: known.append(do(recorder, "know"))
    do(recorder, "event 5")
    until(lambda: known, "the answer")
    assert owner.threads == {"recorder messages"}


def test_a_slow_owner_holds_up_neither_beats_nor_answers_and_loses_readings_only(
    recorder: Recorder, owner: Owner
) -> None:
    free = threading.Event()
    owner.on_event = lambda: None if free.wait(60.0) else pytest.fail("never freed")
    do(recorder, "event 0")
    for number in range(1, 2100):
        do(recorder, f"event {number}")
    do(recorder, "readings 10")
    beats = do(recorder, "know")["beats"]
    until(lambda: do(recorder, "know")["beats"] > beats + 2, "further beats")
    free.set()
    until(lambda: len(owner.heard) >= 2100, "all events")
    assert [m.t for m in owner.heard if isinstance(m, messages.Event)] == list(range(2100))
    assert not any(isinstance(message, messages.Readings) for message in owner.heard)


def test_readings_come_to_the_owner(recorder: Recorder, owner: Owner) -> None:
    do(recorder, "readings 10")

    def seqs() -> list[int]:
        batches = [b for m in owner.heard if isinstance(m, messages.Readings) for b in m.batches]
        return [row[0] for batch in batches for row in batch.rows]

    until(lambda: len(seqs()) == 10, "the readings")
    assert seqs() == list(range(10))


def test_a_bad_line_of_the_recorder_is_told_and_survived(
    recorder: Recorder, owner: Owner, caplog: pytest.LogCaptureFixture
) -> None:
    with pytest.raises(
        errors.BadInput, match="watch: said something that cannot be understood; update benchlog"
    ):
        do(recorder, "garble kind")
    recorder.post(Act(id=0, what="garble json"))
    recorder.post(Act(id=0, what="garble long"))
    until(lambda: len(owner.notices) == 2, "two notices")
    assert [notice.place for notice in owner.notices] == [errors.WATCH, errors.WATCH]
    assert {notice.problem for notice in owner.notices} == {"said something that cannot be understood"}
    told = [record.message for record in caplog.records]
    assert "is not JSON" in told[1]
    assert "too long" in told[2]
    assert do(recorder, "know")


def test_stray_prints_of_the_recorder_do_not_reach_the_channel(recorder: Recorder, owner: Owner) -> None:
    assert do(recorder, "print") == {"stdin": ""}
    assert do(recorder, "know")
    assert owner.heard == []


def test_beats_stop_while_the_owner_does_not_live(owner: Owner) -> None:
    living = threading.Event()
    living.set()
    with Recorder.start(on_message=owner.take, command=STUB, alive=living.is_set) as recorder:
        until(lambda: do(recorder, "know")["beats"] > 1, "beats")
        living.clear()
        until(lambda: do(recorder, "know")["beats"] == do(recorder, "know")["beats"], "no beats")
        beats = do(recorder, "know")["beats"]
        living.set()
        until(lambda: do(recorder, "know")["beats"] > beats, "beats again")


def test_the_recorder_is_started_with_what_it_must_know(owner: Owner, tmp_path: Path) -> None:
    with Recorder.start(
        on_message=owner.take, command=STUB, alarm=False, log_dir=tmp_path / "log", player=["ear", "--loud"]
    ) as recorder:
        argv = do(recorder, "know")["argv"]
        do(recorder, "print")
    assert argv == ["--no-alarm", "--log-dir", str(tmp_path / "log"), "--", "ear", "--loud"]
    assert "stray words" in (tmp_path / "log" / "recorder-errors.log").read_text()


@posix
def test_the_recorder_is_out_of_reach_of_the_terminals_keys(recorder: Recorder) -> None:
    assert os.getpgid(recorder.pid) == recorder.pid
    assert os.getsid(recorder.pid) == os.getsid(0)


# --- coming up ------------------------------------------------------------------------------------


def test_a_recorder_that_dies_at_once_is_told_with_its_last_words(owner: Owner) -> None:
    with pytest.raises(errors.Gone, match=r"ended before it said hello \(ValueError: no luck\)"):
        Recorder.start(on_message=owner.take, command=[*STUB, "--die"])


def test_a_recorder_that_says_nothing_is_not_waited_for(owner: Owner) -> None:
    with pytest.raises(errors.TimedOut, match=r"watch: did not answer within 0\.2 s; start it again"):
        Recorder.start(on_message=owner.take, command=[*STUB, "--mute"], greeting=0.2)


def test_a_recorder_of_another_version_is_refused(owner: Owner) -> None:
    with pytest.raises(
        errors.Refused, match=r"watch \(9\.9\): is of another benchlog: it speaks by version 99"
    ):
        Recorder.start(on_message=owner.take, command=[*STUB, "--newer"])


def test_a_recorder_that_cannot_be_started_is_refused(owner: Owner, tmp_path: Path) -> None:
    with pytest.raises(errors.Refused, match="no-such-program could not be started"):
        Recorder.start(on_message=owner.take, command=[str(tmp_path / "no-such-program")])


# --- the end --------------------------------------------------------------------------------------


def test_a_quit_is_orderly_and_final(recorder: Recorder, owner: Owner) -> None:
    recorder.close()
    recorder.close()
    assert not recorder.alive
    assert owner.heard == []
    with pytest.raises(errors.Gone, match="is no longer running"):
        recorder.post(Act(id=0, what="know"))
    with pytest.raises(errors.Gone):
        do(recorder, "know")


def test_a_recorder_that_does_not_quit_is_killed(recorder: Recorder, owner: Owner) -> None:
    do(recorder, "stubborn")
    recorder.close(timeout=0.2)
    assert gone(recorder)
    (notice,) = owner.notices
    assert notice.problem == "did not end within 0.2 s"
    assert not notice.grave


def test_a_recorder_that_is_heard_finishes_its_run_before_it_must_end(
    recorder: Recorder, owner: Owner
) -> None:
    do(recorder, "recipe")
    do(recorder, "stubborn")
    closing = threading.Thread(target=recorder.close, args=(0.2,))
    closing.start()
    closing.join(1.0)  # Five times as long as it has after its run.
    assert recorder.alive
    do(recorder, "closed")
    closing.join(30.0)
    assert gone(recorder)
    (notice,) = owner.notices
    assert notice.problem == "did not end within 0.2 s"
    assert not notice.grave


def test_no_run_takes_for_ever_to_end(
    recorder: Recorder, owner: Owner, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(client, "LONGEST_TAIL", 0.3)
    do(recorder, "recipe")
    do(recorder, "stubborn")
    recorder.close()
    assert gone(recorder)
    (notice,) = owner.notices
    assert notice.problem == "did not end within 0.3 s"
    assert notice.grave
    assert "an alarm that sounds goes on for ten minutes at most" in notice.fix


def test_a_recorder_that_quits_with_a_run_on_is_cut_for(owner: Owner) -> None:
    with FarSupply() as supply, Recorder.start(on_message=owner.take, command=STUB) as recorder:
        do(recorder, f"recipe {supply.port}")
        recorder.close()
        assert not supply.on
    assert [final.outcome for final in owner.finals] == ["verified off"]
    assert owner.notices[0].grave


def test_close_from_the_owners_own_callback_does_not_wait_for_itself(
    recorder: Recorder, owner: Owner
) -> None:
    closed = threading.Event()

    def close() -> None:
        recorder.close()
        closed.set()

    owner.on_event = close
    recorder.post(Act(id=0, what="event 1"))
    assert closed.wait(30.0)


# --- death ----------------------------------------------------------------------------------------


@posix
def test_a_killed_recorder_is_cut_for(owner: Owner) -> None:
    with (
        FarSupply() as supply,
        FarSupply(deaf=2) as other,
        Recorder.start(on_message=owner.take, command=STUB) as recorder,
    ):
        do(recorder, f"recipe {supply.port} {other.port}")
        assert recorder.armed
        do(recorder, "event 5000")
        os.kill(recorder.pid, signal.SIGKILL)
        until(lambda: gone(recorder), "the cut")
        assert not supply.on
        assert not other.on
    assert {final.outcome for final in owner.finals} == {"verified off"}
    assert {final.t for final in owner.finals} == {5000}
    assert len(owner.finals) == 2
    (notice,) = owner.notices
    assert notice.grave
    assert notice.problem == "ended by signal 9"
    assert "pull the plug" in notice.fix


def test_the_cut_of_a_dead_recorder_can_be_sent_again(owner: Owner) -> None:
    with FarSupply() as supply, Recorder.start(on_message=owner.take, command=STUB) as recorder:
        assert recorder.cut_again() == ()
        do(recorder, f"recipe {supply.port}")
        recorder.post(Act(id=0, what="exit 1"))
        until(lambda: gone(recorder), "the first cut")
        supply.on = True
        assert recorder.cut_again() == (f"127.0.0.1:{supply.port}",)
        until(lambda: len(owner.finals) == 2, "the second cut")
        assert not supply.on
    assert [final.outcome for final in owner.finals] == ["verified off"] * 2


def test_without_a_supply_on_the_network_no_cut_can_be_sent_again(owner: Owner) -> None:
    with Recorder.start(on_message=owner.take, command=STUB) as recorder:
        do(recorder, "recipe")
        recorder.post(Act(id=0, what="exit 1"))
        until(lambda: gone(recorder), "its end")
        assert recorder.cut_again() == ()


@posix
def test_a_frozen_recorder_is_killed_and_cut_for(owner: Owner) -> None:
    with FarSupply() as supply, Recorder.start(on_message=owner.take, command=STUB) as recorder:
        do(recorder, f"recipe {supply.port}")
        os.kill(recorder.pid, signal.SIGSTOP)
        until(lambda: gone(recorder), "the cut")
        assert not supply.on
        with pytest.raises(ProcessLookupError):
            os.kill(recorder.pid, 0)
    assert [final.outcome for final in owner.finals] == ["verified off"]
    assert owner.notices[0].problem == "was silent for 1 s and was ended"


def test_a_silent_recorder_is_cut_for_and_its_waiters_are_told(owner: Owner) -> None:
    with FarSupply() as supply, Recorder.start(on_message=owner.take, command=STUB) as recorder:
        do(recorder, f"recipe {supply.port}")
        do(recorder, "hush")
        with pytest.raises(errors.Gone):
            recorder.request(Act(id=0, what="ignore"), timeout=60.0)
        until(lambda: gone(recorder), "the cut")
        assert not supply.on


def test_a_recorder_that_hangs_up_is_killed_and_cut_for(owner: Owner) -> None:
    with FarSupply() as supply, Recorder.start(on_message=owner.take, command=STUB) as recorder:
        do(recorder, f"recipe {supply.port}")
        do(recorder, "hush")
        recorder.post(Act(id=0, what="hang_up"))
        until(lambda: gone(recorder), "the cut")
        assert not supply.on
    assert owner.notices[0].grave


def test_a_recorder_that_dies_of_itself_says_how(recorder: Recorder, owner: Owner) -> None:
    recorder.post(Act(id=0, what="print"))
    recorder.post(Act(id=0, what="exit 7"))
    until(lambda: gone(recorder), "the end")
    (notice,) = owner.notices
    assert notice.problem == "ended with exit status 7 (stray words)"
    assert notice.fix == "start it again; no run was on"
    assert not notice.grave


def test_after_the_session_is_closed_a_death_is_not_cut_for(owner: Owner) -> None:
    with FarSupply() as supply, Recorder.start(on_message=owner.take, command=STUB) as recorder:
        do(recorder, f"recipe {supply.port}")
        do(recorder, "closed")
        assert not recorder.armed
        recorder.post(Act(id=0, what="exit 0"))
        until(lambda: gone(recorder), "the end")
        assert supply.heard == []
    assert not owner.notices[0].grave


def test_without_a_network_supply_the_hand_is_called_for(recorder: Recorder, owner: Owner) -> None:
    do(recorder, "recipe")
    recorder.post(Act(id=0, what="exit 1"))
    until(lambda: gone(recorder), "the end")
    (notice,) = owner.notices
    assert notice.grave
    assert notice.fix.startswith("switch off by hand now and pull the plug")
    assert owner.finals == []


def test_a_supply_that_stays_on_is_not_told_to_be_off(owner: Owner, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(oneshot, "PATIENCE", 2.0)
    with FarSupply(deaf=10_000) as supply, Recorder.start(on_message=owner.take, command=STUB) as recorder:
        do(recorder, f"recipe {supply.port}")
        recorder.post(Act(id=0, what="exit 1"))
        until(lambda: gone(recorder), "the end of all attempts", limit=60.0)
    assert [final.outcome for final in owner.finals] == ["asked, still live"]


PARENT = """
import sys, time
from benchlog.recorder.client import Recorder
recorder = Recorder.start(on_message=lambda message: None, command={stub!r})
print(recorder.pid, flush=True)
time.sleep(120)
"""


@posix
def test_a_recorder_whose_client_was_killed_sees_the_end() -> None:
    script = PARENT.format(stub=STUB)
    with subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True) as parent:
        assert parent.stdout is not None
        pid = int(parent.stdout.readline())
        parent.kill()
        parent.wait()
        # The stub ends itself when its pipe does; it is nobody's child any more.
        until(lambda: not running(pid), "the stub's end")


def running(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{pid}/stat")
    return not (state.exists() and state.read_text().rpartition(")")[2].split()[0] == "Z")
