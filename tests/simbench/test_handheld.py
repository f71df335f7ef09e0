"""The free-running handheld: what its display shows, and its lines on a terminal and on a socket."""

import os

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.until import until

from benchlog.simbench.amplifier import Amplifier
from benchlog.simbench.handheld import display
from benchlog.simbench.serial_end import HAS_TERMINALS

needs_terminals = pytest.mark.skipif(not HAS_TERMINALS, reason="this system has no pseudo-terminals")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "+000.000 V AC"),
        (-0.0001, "+000.000 V AC"),
        (5.4321, "+005.432 V AC"),
        (23.414, "+023.41 V AC"),
        (-38.9, "-038.90 V AC"),
        (230.08, "+230.1 V AC"),
        (-599.9, "-599.9 V AC"),
        (600.0, "+OL V AC"),
        (-1000.0, "-OL V AC"),
    ],
)
def test_a_display_of_6000_counts(value: float, text: str) -> None:
    assert display(value, "V AC") == text


def switch_on(live: LiveBench) -> None:
    assert isinstance(live.bench.model, Amplifier)
    live.bench.model.switched_on = True
    live.bench.model.relay_in = True
    live.bench.model.dial = 1.0


def volts(line: str) -> float:
    """The number of a whole line."""
    assert line.endswith((" V AC", " V DC"))
    return float(line.split(maxsplit=1)[0])


@needs_terminals
def test_it_writes_to_a_terminal_unasked() -> None:
    with live_bench(speed=50.0) as live:
        fd = os.open(live.address("mains"), os.O_RDWR | os.O_NOCTTY)
        try:
            switch_on(live)
            os.write(fd, b"anything at all\r\n")
            heard = bytearray()

            def near_mains() -> bool:
                heard.extend(os.read(fd, 4096))
                whole = heard.decode("ascii").split("\r\n")[:-1]
                return bool(whole) and 220.0 < volts(whole[-1]) < 240.0

            until(near_mains)
        finally:
            os.close(fd)
        whole = "|".join(heard.decode("ascii").split("\r\n")[:-1])
        # Nothing is missing and nothing is doubled: what was read stands in the witness in one piece.
        until(lambda: whole in "|".join(one["text"] for one in live.saw("reply", job="mains")))


@needs_terminals
def test_a_line_nobody_reads_does_not_stop_the_bench() -> None:
    with live_bench("by-hand", speed=100.0) as live:
        until(lambda: len(live.saw("reply", job="+B")) > 400)
        fd = os.open(live.address("+B"), os.O_RDWR | os.O_NOCTTY)
        try:
            # A real adapter holds no more than a few thousand bytes.
            assert len(os.read(fd, 65536)) < 5000
        finally:
            os.close(fd)


def test_it_writes_to_a_socket_where_there_is_no_terminal() -> None:
    with live_bench("by-hand", speed=50.0, sockets=True) as live:
        switch_on(live)
        line = live.line("+B")
        until(lambda: 33.0 < volts(line.hear()) < 37.0)
        other = live.another_line("+B")
        assert other.hear()
        other.close()
        assert line.hear()


def test_a_silent_handheld_writes_nothing_more() -> None:
    with live_bench("by-hand", speed=50.0, sockets=True) as live:
        line = live.line("+B")
        assert line.hear()
        live.loop.after(0.0, lambda: setattr(live.bench._plugged["+B"].thing, "silent", True))
        until(lambda: line.silent_for(0.2))
