"""Off-switches that fail when they are needed, each at the far end's wire: proven before, and then not."""

import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.until import until

from benchlog.simbench import hand, supply
from benchlog.simbench.board import Board
from benchlog.simbench.relay import Relay

BOTH = "(@1,2)"


@contextmanager
def supply_on(fault: str) -> Iterator[LiveBench]:
    """The board's supply after a switching off that worked, on again above the volts where it fails."""
    with live_bench("board", fault) as live:
        say(live, f"VOLT 10,{BOTH}", f"OUTP ON,{BOTH}", f"OUTP OFF,{BOTH}")
        assert live.ask("bench supply", f"OUTP? {BOTH}") == "0,0"
        say(live, f"VOLT 15,{BOTH}", f"OUTP ON,{BOTH}")
        live.wait_for("off fails")
        yield live


def say(live: LiveBench, *lines: str) -> None:
    for line in lines:
        live.line("bench supply").say(line)


def outputs_on(live: LiveBench) -> list[bool]:
    board = live.bench.model
    assert isinstance(board, Board)
    return [output.on for output in board.outputs]


@pytest.mark.parametrize("off", [f"OUTP OFF,{BOTH}", "*RST"])
def test_a_supply_that_refuses_says_so_in_its_error_queue_and_stays_on(off: str) -> None:
    with supply_on("supply-refuses") as live:
        say(live, "*CLS", off)
        assert live.ask("bench supply", "SYST:ERR?") == '-221,"Settings conflict"'
        assert live.ask("bench supply", f"OUTP? {BOTH}") == "1,1"
        assert outputs_on(live) == [True, True]


def test_a_supply_that_is_late_goes_off_and_answers_when_its_time_has_come(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(supply, "LATE", 0.2)
    with supply_on("supply-late") as live:
        began = time.monotonic()
        say(live, f"OUTP OFF,{BOTH}")
        assert live.ask("bench supply", f"OUTP? {BOTH}") == "0,0"
        assert time.monotonic() - began >= 0.4
        assert outputs_on(live) == [False, False]


@pytest.mark.parametrize("off", [f"OUTP OFF,{BOTH}", "*RST"])
def test_a_supply_that_lies_says_off_while_its_terminals_are_live(off: str) -> None:
    with supply_on("supply-lies") as live:
        until(lambda: volts(live) > 14.0)
        say(live, off)
        assert live.ask("bench supply", f"OUTP? {BOTH}") == "0,0"
        assert live.ask("bench supply", "SYST:ERR?").endswith('"No error"')
        assert volts(live) > 14.0
        assert outputs_on(live) == [True, True]
        say(live, f"OUTP ON,{BOTH}")
        assert live.ask("bench supply", f"OUTP? {BOTH}") == "1,1"


def volts(live: LiveBench) -> float:
    return float(live.ask("bench supply", "MEAS:VOLT? (@1)"))


def test_a_supply_that_vanishes_hangs_up_at_the_off_and_takes_no_new_call() -> None:
    with supply_on("supply-vanishes") as live:
        assert live.ask("bench supply", "*IDN?")
        say(live, f"OUTP OFF,{BOTH}")
        assert live.line("bench supply").hear() == ""
        with pytest.raises(ConnectionRefusedError):
            live.another_line("bench supply")
        assert outputs_on(live) == [True, True]


def test_another_fault_lets_the_off_work_again() -> None:
    with supply_on("supply-lies") as live:
        say(live, f"OUTP OFF,{BOTH}")
        assert live.ask("bench supply", f"OUTP? {BOTH}") == "0,0"
        live.control("fault", name="healthy")
        assert live.ask("bench supply", f"OUTP? {BOTH}") == "1,1"
        say(live, f"OUTP OFF,{BOTH}")
        until(lambda: outputs_on(live) == [False, False])


# --- relay and hand ------------------------------------------------------------------------------


def test_a_welded_relay_stays_in_when_its_line_falls_silent() -> None:
    with live_bench(fault="welded-relay", sockets=True) as live:
        relay = live.bench.relay
        assert isinstance(relay, Relay)
        pull_in(live)
        live.control("turn", fraction=0.4)
        # Before its moment it falls as it should, and can be proven.
        until(lambda: not live.control("state")["relay"])
        live.control("turn", fraction=0.6)
        until(lambda: live.control("state")["dial"] == 0.6)
        pull_in(live)
        since = live.wait_for("off fails", how="welded")["t"]
        until(lambda: [one for one in live.saw("beat", first=False) if one["t"] > since])
        assert relay.closed
        assert live.control("state")["live"] is True
        assert not [one for one in live.saw("relay", closed=False) if one["t"] > since]
        live.control("fault", name="healthy")
        assert live.control("state")["live"] is False


def pull_in(live: LiveBench) -> None:
    """Pump the line until the relay is in, then let it fall silent."""
    line = live.line("mains relay")

    def pulled_in() -> bool:
        line.say("U")
        return bool(live.control("state")["relay"])

    until(pulled_in)


def test_a_hand_that_does_not_hear_stays_away_from_the_switch() -> None:
    with live_bench("by-hand", "deaf-hand", speed=50.0) as live:
        live.control("alarm")
        assert live.control("prompt", kind="heard_alarm")["yes"] is True
        live.control("prompt", kind="switch_on")
        live.control("prompt", kind="set_dial", fraction=0.6)
        live.wait_for("off fails", how="deaf")
        live.control("alarm")
        # Longer than it takes at most where it hears.
        began = live.bench.plan_now()
        until(lambda: live.bench.plan_now() > began + 2.0 * hand.SWITCHES[1])
        assert live.control("state")["live"] is True
        assert live.control("state")["alarms"] == 2
        assert not live.saw("hand", why="alarm")
