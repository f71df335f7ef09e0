"""A relay is held in by bytes alone: whatever ends them, a cut, a doubt or a death, lets it drop."""

import os
import select
import threading
import time
from collections.abc import Callable, Iterator

import pytest
from helpers.far_port import FarPort
from helpers.stand_ins import STILL_LIVE, UNKNOWN, VERIFIED, says
from helpers.until import until

from benchlog.domain.offproof import CutOutcome, Finding
from benchlog.errors import BadInput, Gone, Refused
from benchlog.instruments.address import SerialAddress
from benchlog.instruments.line_port import HeldPort, LinePort
from benchlog.instruments.opening import open_lines
from benchlog.recorder import off_relay
from benchlog.recorder.off_relay import BEAT, PumpedRelay

BEAT_SECONDS = 0.005
DROP_OUT = 0.4


class Pump:
    """The relay's end of the line: in while bytes come, out after as much silence as drops it."""

    def __init__(self) -> None:
        self.port = FarPort()
        self.heard = b""
        self._last = -1.0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._listen)
        self._thread.start()

    @property
    def pulled_in(self) -> bool:
        return time.monotonic() - self._last < DROP_OUT

    def close(self) -> None:
        self._stop.set()
        self._thread.join()
        self.port.close()

    def unplug(self) -> None:
        """Take the adapter away."""
        self.close()

    def _listen(self) -> None:
        while not self._stop.is_set():
            ready, _, _ = select.select([self.port._master], [], [], 0.01)
            if ready:
                self.heard += os.read(self.port._master, 4096)
                self._last = time.monotonic()


class Line:
    """Ports one after the other, as a person plugs them in, and who asked for them."""

    def __init__(self) -> None:
        self.pump = Pump()
        self.opened = 0
        self.missing = False
        self.permitted = True
        self.asked: list[str] = []
        self.lost: list[str] = []
        self.on_ask: Callable[[str], None] = lambda _kind: None
        self.answers: dict[str, bool] = {}
        self.in_at: dict[str, bool] = {}
        """Whether the relay was in when that was asked."""
        self._relays: list[PumpedRelay] = []

    def open(self) -> HeldPort:
        if self.missing:
            raise Refused("mains relay", "the port cannot be opened", "plug it in")
        self.opened += 1
        address = SerialAddress("", self.pump.port.device)
        return LinePort(lambda high: open_lines(address, "mains relay", high)).afresh()

    def relay(self) -> PumpedRelay:
        made = PumpedRelay(
            "mains relay",
            self.open,
            beat=BEAT_SECONDS,
            drop_out=DROP_OUT,
            permit=lambda: self.permitted,
            on_lost=self.lost.append,
        )
        self._relays.append(made)
        return made

    def ask(self, kind: str, text: str, data: dict[str, object]) -> bool:
        self.asked.append(kind)
        self.in_at[kind] = self.pump.pulled_in
        self.on_ask(kind)
        return self.answers.get(kind, True)

    def another_port(self) -> None:
        """The adapter is unplugged and plugged in again under another name."""
        self.pump.unplug()
        self.pump = Pump()

    def close(self) -> None:
        for relay in self._relays:
            relay.close()
            assert not relay._thread.is_alive()
        self.pump.close()


@pytest.fixture
def line(monkeypatch: pytest.MonkeyPatch) -> Iterator[Line]:
    monkeypatch.setattr(off_relay, "PULL_IN", 0.4)
    monkeypatch.setattr(off_relay, "MARGIN", 0.05)
    made = Line()
    yield made
    made.close()


def on(relay: PumpedRelay) -> str:
    told: list[str] = []
    relay.switch_on(told.append)
    return told[0]


# --- the beat -------------------------------------------------------------------------------------


def test_a_relay_stays_out_until_it_is_switched_on(line: Line) -> None:
    relay = line.relay()
    assert line.pump.heard == b""
    assert on(relay) == ""
    until(lambda: line.pump.pulled_in, "the relay")
    assert set(line.pump.heard) == set(BEAT)


def test_a_cut_lets_the_relay_drop(line: Line) -> None:
    relay = line.relay()
    on(relay)
    until(lambda: line.pump.pulled_in, "the relay")
    relay.fire()
    until(lambda: not line.pump.pulled_in, "its drop")


def test_a_relay_that_lost_its_permit_never_pulls_in_again_by_itself(line: Line) -> None:
    relay = line.relay()
    on(relay)
    until(lambda: line.pump.pulled_in, "the relay")
    line.permitted = False
    until(lambda: line.lost, "who is told")
    line.permitted = True
    until(lambda: not line.pump.pulled_in, "its drop")
    heard = len(line.pump.heard)
    relay._thread.join(20 * BEAT_SECONDS)
    assert len(line.pump.heard) == heard
    assert line.lost == ["benchlog or a meter stood still, so its beat did, and it stays out"]
    assert on(relay) == ""
    until(lambda: line.pump.pulled_in, "the relay, switched on anew")


def test_a_relay_that_slept_never_pulls_in_again_by_itself(
    line: Line, monkeypatch: pytest.MonkeyPatch
) -> None:
    relay = line.relay()
    on(relay)
    until(lambda: line.pump.pulled_in, "the relay")
    awake = off_relay._now
    monkeypatch.setattr(off_relay, "_now", lambda: awake() + 3600.0)
    until(lambda: line.lost, "who is told")
    # Whichever it finds first, depending on where in its beat it fell asleep.
    assert line.lost[0] in (
        "its beat stood still, as on a computer too busy or asleep, and it stays out",
        "its port did not take the beat in time, and it stays out",
    )
    until(lambda: not line.pump.pulled_in, "its drop")


def test_a_port_that_takes_the_beat_too_late_ends_it(line: Line, monkeypatch: pytest.MonkeyPatch) -> None:
    relay = line.relay()
    on(relay)
    until(lambda: line.pump.pulled_in, "the relay")
    awake, send = off_relay._now, relay._link.send

    def late(data: bytes) -> None:
        send(data)
        monkeypatch.setattr(off_relay, "_now", lambda: awake() + 3600.0)

    monkeypatch.setattr(relay._link, "send", late)
    until(lambda: line.lost, "who is told")
    assert line.lost[0].startswith(("its port did not take the beat in time", "its beat stood still"))
    assert not relay._on.is_set()


def test_a_short_withdrawal_of_the_permit_is_no_loss(line: Line) -> None:
    relay = line.relay()
    line.permitted = False
    on(relay)
    line.permitted = True
    until(lambda: line.pump.pulled_in, "the relay")
    assert line.lost == []


def test_the_end_of_a_relay_is_silence(line: Line) -> None:
    relay = line.relay()
    on(relay)
    until(lambda: line.pump.pulled_in, "the relay")
    relay.close()
    until(lambda: not line.pump.pulled_in, "its drop")


# --- the proof ------------------------------------------------------------------------------------


def test_its_proof_pulls_it_in_and_lets_it_drop_with_the_port_freshly_opened(line: Line) -> None:
    relay = line.relay()
    said = relay.prove(line.ask)
    assert said.startswith("mains relay, on a pumped line: in, out, and out with its port freshly opened; ")
    # What clicks do not tell is said.
    assert said.endswith("by ear alone: no meter has seen its contacts open, the dial was at zero")
    assert line.asked == ["set_dial", "relay_clicked"]
    assert line.in_at == {"set_dial": False, "relay_clicked": False}
    assert len(line.pump.heard) > 1
    assert line.opened == 2
    on(relay)
    heard = len(line.pump.heard)
    until(lambda: len(line.pump.heard) > heard, "its beat on the new port")


def test_it_is_not_pulled_in_before_the_transformer_is_said_to_be_at_zero(line: Line) -> None:
    line.answers["set_dial"] = False
    with pytest.raises(BadInput, match="is not proven while the variable transformer is up"):
        line.relay().prove(line.ask)
    assert line.pump.heard == b""


def test_a_relay_that_did_not_click_is_not_proven(line: Line) -> None:
    line.answers["relay_clicked"] = False
    with pytest.raises(BadInput, match="did not click in and out; check its line"):
        line.relay().prove(line.ask)
    assert not line.pump.pulled_in


def test_a_port_that_cannot_be_opened_again_is_no_proof_until_it_can(line: Line) -> None:
    relay = line.relay()
    line.missing = True
    for _ in range(2):
        with pytest.raises(Refused, match="the port cannot be opened"):
            relay.prove(line.ask)
    assert "the port cannot be opened" in on(relay)
    line.missing = False
    assert relay.prove(line.ask).startswith("mains relay, on a pumped line: in, out")


def test_a_relay_whose_adapter_was_plugged_in_again_can_be_proven_again(line: Line) -> None:
    relay = line.relay()
    line.another_port()
    with pytest.raises(Gone):
        relay.prove(line.ask)
    assert relay.prove(line.ask).startswith("mains relay, on a pumped line: in, out")
    assert on(relay) == ""
    until(lambda: line.pump.pulled_in, "the relay")


@pytest.mark.parametrize("moment", ["set_dial", "relay_clicked"])
def test_a_cut_during_the_proof_ends_it_and_the_relay_stays_out(line: Line, moment: str) -> None:
    relay = line.relay()
    line.on_ask = lambda kind: relay.fire() if kind == moment else None
    with pytest.raises(BadInput, match="was cut while it was being proven"):
        relay.prove(line.ask)
    if moment == "set_dial":
        assert line.pump.heard == b""
    until(lambda: not line.pump.pulled_in, "out")
    line.on_ask = lambda _kind: None
    assert relay.prove(line.ask).startswith("mains relay, on a pumped line: in, out")


def test_a_cut_while_the_relay_is_in_for_its_proof_drops_it_at_once(
    line: Line, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(off_relay, "PULL_IN", 30.0)
    relay = line.relay()
    failed: list[str] = []

    def prove() -> None:
        try:
            relay.prove(line.ask)
        except BadInput as error:
            failed.append(str(error))

    proving = threading.Thread(target=prove)
    proving.start()
    until(lambda: line.pump.pulled_in, "the relay")
    relay.fire()
    proving.join(20.0)
    assert len(failed) == 1
    until(lambda: not line.pump.pulled_in, "its drop")


def test_a_relay_that_was_not_held_in_is_not_proven_and_no_run_is_cut(line: Line) -> None:
    relay = line.relay()
    line.permitted = False
    with pytest.raises(BadInput, match="was not held in: benchlog or a meter stood still"):
        relay.prove(line.ask)
    assert line.lost == []


def test_a_cut_at_the_very_moment_the_proof_pulls_it_in_goes_before(line: Line) -> None:
    relay = line.relay()
    start = relay._start

    def overtaken() -> None:
        relay._cancelled.set()
        start()

    relay._start = overtaken  # type: ignore[method-assign]
    with pytest.raises(BadInput, match="was cut while it was being proven"):
        relay.prove(line.ask)
    assert not relay._on.is_set()


class SlowPort:
    """A port that takes what is sent only when it may."""

    def __init__(self) -> None:
        self.sending = threading.Event()
        self.takes = threading.Event()

    def send(self, data: bytes) -> None:
        self.sending.set()
        self.takes.wait(30.0)

    def close(self) -> None:
        self.takes.set()


def test_after_a_cut_nobody_is_told_that_the_relay_dropped() -> None:
    lost: list[str] = []
    port = SlowPort()
    relay = PumpedRelay(
        "mains relay",
        lambda: port,  # type: ignore[arg-type,return-value]
        beat=BEAT_SECONDS,
        drop_out=DROP_OUT,
        permit=lambda: True,
        on_lost=lost.append,
    )
    on(relay)
    until(port.sending.is_set, "the beat")
    until(relay._late, "the end of the relay's patience")
    relay.fire()
    began = relay._sent
    port.takes.set()
    until(lambda: relay._sent > began, "the end of that beat")
    relay.close()
    assert lost == []


# --- when the line is gone ------------------------------------------------------------------------


def test_a_line_that_is_gone_drops_the_relay_and_keeps_it_from_being_switched_on(line: Line) -> None:
    relay = line.relay()
    on(relay)
    until(lambda: line.pump.pulled_in, "the relay")
    line.another_port()
    until(lambda: not relay._on.is_set(), "the end of the beat")
    until(lambda: line.lost, "who is told")
    assert line.lost[0].startswith("the port broke")
    assert "the port broke" in on(relay)
    assert line.pump.heard == b""


def test_only_the_traces_tell_what_a_relay_did(line: Line) -> None:
    relay = line.relay()
    assert relay.confirm(says(UNKNOWN)) is UNKNOWN
    on(relay)
    line.another_port()
    until(lambda: not relay._on.is_set(), "the end of the beat")
    found = relay.confirm(says(UNKNOWN))
    assert found.outcome is CutOutcome.UNKNOWN
    assert found.text.startswith("off not proven (the port broke")
    assert relay.confirm(says(STILL_LIVE)) is STILL_LIVE
    assert relay.confirm(says(VERIFIED)) is VERIFIED


def test_the_traces_are_asked_what_it_did_within_its_own_time(line: Line) -> None:
    asked: list[float] = []

    def evidence(acts: float = 0.0) -> Finding:
        asked.append(acts)
        return STILL_LIVE

    line.relay().confirm(evidence)
    assert asked == [DROP_OUT + off_relay.MARGIN]


def test_its_patience_is_its_drop_out_and_time_for_the_meters(line: Line) -> None:
    relay = line.relay()
    assert relay.patience(1.0) == DROP_OUT + 1.5
    assert relay.patience(10.0) == DROP_OUT + off_relay.LEAST_PATIENCE
