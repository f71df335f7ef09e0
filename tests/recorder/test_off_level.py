"""A relay held in by the level of a line falls at a cut, a doubt or a death; the proof says what it cannot do."""

import threading
from collections.abc import Callable, Iterator

import pytest
from helpers.far_lines import FarLines, far_lines
from helpers.until import until

from benchlog.errors import BadInput, LinkError
from benchlog.instruments.address import SerialAddress
from benchlog.instruments.line_port import HeldPort, LinePort
from benchlog.instruments.opening import open_lines
from benchlog.recorder import off_level, off_relay
from benchlog.recorder.off_level import LevelRelay

pytestmark = pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # pyserial's own

DROP_OUT = 0.1


class Bench:
    """A relay at the far end of a port; `high` is the level that holds it in."""

    def __init__(self, far: FarLines, *, high: bool = True) -> None:
        self.far = far
        self.high = high
        self.permitted = True
        self.lost: list[str] = []
        self.in_as_told = True
        self.tries = 0
        """How often its port was to be opened."""
        self.asked: list[tuple[str, bool, int]] = []
        """What was asked of the person, whether the relay was in then, and how often it had moved."""
        self.answers = iter([True] * 9)
        self.on_ask: Callable[[int], None] = lambda _n: None
        rest = frozenset[str]() if high else frozenset({"rts"})
        address = SerialAddress("", far.address)
        self.port = LinePort(lambda up: open_lines(address, "mains relay", up))
        self.relay = LevelRelay(
            "mains relay",
            lambda: self.open(rest),
            line="rts",
            high=high,
            drop_out=DROP_OUT,
            permit=lambda: self.permitted,
            on_lost=self.hears,
        )

    def hears(self, reason: str) -> None:
        """Who is told may wait for a lock: the line must be let go by then."""
        self.in_as_told = self.relay._held
        self.lost.append(reason)

    def open(self, rest: frozenset[str]) -> HeldPort:
        self.tries += 1
        return self.port.afresh(rest, falls=self.high)

    @property
    def pulled_in(self) -> bool:
        return self.far.levels["rts"] is self.high

    def ask(self, kind: str, text: str, _data: dict[str, object]) -> bool:
        if kind == "relay_clicked":
            self.asked.append((text, self.pulled_in, self.far.clicks()))
            self.on_ask(len(self.asked))
        return next(self.answers)

    def on(self) -> str:
        told: list[str] = []
        self.relay.switch_on(told.append)
        return told[0]


@pytest.fixture(autouse=True)
def soon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(off_level, "PULL_IN", 0.15)
    monkeypatch.setattr(off_relay, "MARGIN", 0.02)


@pytest.fixture(params=[True], ids=["high"])
def bench(request: pytest.FixtureRequest) -> Iterator[Bench]:
    with far_lines() as far:
        made = Bench(far, high=request.param)
        yield made
        made.relay.close()
        assert not made.relay._thread.is_alive()
        made.port.close()


either_level = pytest.mark.parametrize("bench", [True, False], ids=["high", "low"], indirect=True)


@either_level
def test_it_is_out_from_the_opening_in_when_switched_on_and_out_at_a_cut(bench: Bench) -> None:
    until(lambda: not bench.pulled_in, "its rest")
    assert bench.on() == ""
    until(lambda: bench.pulled_in, "the relay")
    bench.relay.fire()
    until(lambda: not bench.pulled_in, "its drop")
    assert bench.lost == []


def test_a_guard_that_stands_still_lets_it_go_and_never_back_in(bench: Bench) -> None:
    bench.on()
    until(lambda: bench.pulled_in, "the relay")
    bench.permitted = False
    until(lambda: not bench.pulled_in, "its drop")
    bench.permitted = True
    until(lambda: bench.lost, "who is told")
    assert not bench.in_as_told
    assert bench.lost == ["benchlog or a meter stood still, so its beat did, and it stays out"]
    moved = bench.far.clicks()
    bench.relay._thread.join(4 * off_level.BEAT)
    assert bench.far.clicks() == moved


def test_a_computer_that_slept_lets_it_go(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.on()
    until(lambda: bench.pulled_in, "the relay")
    awake = off_relay._now
    monkeypatch.setattr(off_relay, "_now", lambda: awake() + 3600.0)
    until(lambda: not bench.pulled_in, "its drop")
    until(lambda: bench.lost, "who is told")
    assert len(bench.lost) == 1


def test_a_port_that_is_gone_is_told(bench: Bench) -> None:
    bench.on()
    until(lambda: bench.pulled_in, "the relay")
    bench.far.unplug()
    until(lambda: bench.lost, "who is told")
    assert "the port broke" in bench.lost[0]
    told: list[str] = []
    bench.relay.switch_on(told.append)
    assert "the port broke" in told[0]
    bench.far.plug_in()


@either_level
def test_a_connection_that_broke_with_the_relay_in_is_opened_anew_to_let_go(bench: Bench) -> None:
    bench.far.falls = False
    bench.on()
    until(lambda: bench.pulled_in, "the relay")
    bench.far.break_off()
    until(lambda: bench.lost, "who is told")
    until(lambda: not bench.pulled_in, "its drop")
    assert bench.far.opened == 2
    until(lambda: not bench.relay._held, "that it is known")
    told: list[str] = []
    bench.relay.switch_on(told.append)
    assert "the port broke" in told[0]  # What was proven was another opening of its port.
    assert bench.relay.prove(bench.ask)
    assert bench.on() == ""


def test_a_server_that_is_away_is_asked_until_it_is_back_and_lets_go(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(off_level, "AGAIN", 0.05)
    bench.far.falls = False
    bench.on()
    until(lambda: bench.pulled_in, "the relay")
    bench.far.unplug()
    bench.relay.fire()
    tries = bench.tries
    until(lambda: bench.tries > tries + 2, "more than one try")
    assert bench.pulled_in
    assert bench.relay._held
    bench.far.plug_in()
    until(lambda: not bench.pulled_in, "its drop")


def test_whoever_is_told_may_take_its_time_and_the_line_falls_meanwhile(bench: Bench) -> None:
    bench.far.falls = False
    goes_on = threading.Event()
    bench.relay._on_lost = lambda reason: (bench.lost.append(reason), goes_on.wait(30.0))  # type: ignore[assignment,func-returns-value]
    bench.on()
    until(lambda: bench.pulled_in, "the relay")
    bench.far.break_off()
    until(lambda: bench.lost, "who is told")
    until(lambda: not bench.pulled_in, "its drop")
    goes_on.set()


def test_a_bug_in_the_thread_of_its_beat_lets_it_go(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bugs: list[threading.ExceptHookArgs] = []
    monkeypatch.setattr(threading, "excepthook", bugs.append)
    bench.far.falls = False
    bench.on()
    until(lambda: bench.pulled_in, "the relay")
    monkeypatch.setattr(bench.relay, "_permit", lambda: 1 // 0)
    until(lambda: bugs, "the bug")
    until(lambda: not bench.pulled_in, "its drop")


def test_it_has_been_let_go_once_that_is_waited_for_and_not_before(bench: Bench) -> None:
    bench.far.falls = False
    assert bench.relay.was_let_go(0.0)
    bench.on()
    until(lambda: bench.pulled_in, "the relay")
    assert not bench.relay.was_let_go(0.0)
    bench.relay.fire()
    assert bench.relay.was_let_go(30.0)
    assert not bench.pulled_in


def test_closing_it_lowers_the_line_first(bench: Bench) -> None:
    bench.far.falls = False
    bench.on()
    until(lambda: bench.pulled_in, "the relay")
    bench.relay.close()
    assert not bench.pulled_in


# --- the proof ------------------------------------------------------------------------------------


def test_the_proof_is_out_in_out_in_and_out_with_the_port_freshly_opened(bench: Bench) -> None:
    said = bench.relay.prove(bench.ask)
    # Clicked in and out; in and out by its port that closed; and no more when that was opened again.
    assert [(pulled_in, moves) for _, pulled_in, moves in bench.asked] == [(False, 2), (False, 4), (False, 4)]
    assert bench.far.opened == 2
    assert "held by the level of RTS (second best)" in said
    assert "a program that dies lets it go" in said
    assert "one that hangs, or a computer that sleeps, holds it in" in said
    assert bench.on() == ""
    until(lambda: bench.pulled_in, "the relay")


def test_a_port_that_keeps_its_line_when_it_closes_is_told_of(bench: Bench) -> None:
    bench.far.falls = False
    bench.answers = iter([True, True, False, True])
    said = bench.relay.prove(bench.ask)
    assert [pulled_in for _, pulled_in, _ in bench.asked] == [False, True, False]
    assert "a PROGRAM THAT DIES HOLDS IT IN" in said


@pytest.mark.parametrize("at", [1, 3])
def test_what_the_person_did_not_hear_is_not_proven(bench: Bench, at: int) -> None:
    bench.answers = iter([True, *(n != at for n in (1, 2, 3))])
    with pytest.raises(BadInput, match="mains relay"):
        bench.relay.prove(bench.ask)
    until(lambda: not bench.pulled_in, "its rest")


def test_a_dial_that_is_up_ends_it_at_once(bench: Bench) -> None:
    bench.answers = iter([False])
    with pytest.raises(BadInput, match="while the variable transformer is up"):
        bench.relay.prove(bench.ask)
    assert bench.far.moves == []


@pytest.mark.parametrize("at", [1, 2])
def test_a_cut_while_it_is_proven_leaves_it_out(bench: Bench, at: int) -> None:
    bench.far.falls = False
    bench.on_ask = lambda n: bench.relay.fire() if n == at else None
    with pytest.raises(BadInput, match="was cut while it was being proven"):
        bench.relay.prove(bench.ask)
    until(lambda: not bench.pulled_in, "its rest")
    assert bench.on() == ""


def test_a_port_that_does_not_open_again_in_a_proof_is_tried_until_the_line_is_let_go(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(off_level, "AGAIN", 0.05)
    bench.far.falls = False
    bench.on_ask = lambda n: bench.far.unplug() if n == 2 else None
    with pytest.raises(LinkError):
        bench.relay.prove(bench.ask)
    assert bench.pulled_in
    bench.far.plug_in()
    until(lambda: not bench.pulled_in, "its drop")


def test_a_port_that_does_not_open_again_is_no_proof(bench: Bench) -> None:
    bench.on_ask = lambda n: bench.far.unplug() if n == 2 else None
    with pytest.raises(LinkError):
        bench.relay.prove(bench.ask)
    assert bench.on() != ""
    bench.far.plug_in()
    bench.on_ask = lambda _n: None
    assert bench.relay.prove(bench.ask)
