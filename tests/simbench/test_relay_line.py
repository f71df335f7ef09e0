"""The mains relay on its pumped line: in while bytes come, out half a real second after the last."""

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from helpers.far_port import claimed
from helpers.live_bench import LiveBench, live_bench
from helpers.until import until

from benchlog.simbench.relay import DROP_OUT
from benchlog.simbench.serial_end import HAS_TERMINALS

if sys.platform != "win32":
    import fcntl
    import termios


@contextmanager
def relay_line(live: LiveBench) -> Iterator[Callable[[], object]]:
    """A near end that pumps one byte a call."""
    if live.address("mains relay").startswith("socket://"):
        line = live.line("mains relay")
        yield lambda: line._file.write(b"\x55")
        return
    fd = os.open(live.address("mains relay"), os.O_RDWR | os.O_NOCTTY)
    try:
        yield lambda: os.write(fd, b"\x55")
    finally:
        os.close(fd)


@pytest.mark.parametrize(
    "sockets", [True, pytest.param(False, marks=pytest.mark.skipif(not HAS_TERMINALS, reason="-"))]
)
@pytest.mark.parametrize("speed", [1.0, 50.0])
def test_in_while_pumped_and_out_after_silence(speed: float, sockets: bool) -> None:
    with live_bench(speed=speed, sockets=sockets) as live, relay_line(live) as pump:
        assert live.control("state")["relay"] is False

        def pumped_in() -> bool:
            pump()
            time.sleep(0.02)
            return bool(live.saw("relay", closed=True))

        until(pumped_in)
        for _ in range(40):
            pump()
            time.sleep(0.02)
        assert not live.saw("relay", closed=False)
        assert live.saw("mains", on=True)
        out = live.wait_for("relay", closed=False)
        # Real time, whatever the speed of plan time.
        assert out["t"] - out["last"] >= DROP_OUT * 1e9
        live.wait_for("mains", on=False)
        assert live.saw("beat", first=True)
        live.wait_for("beat", first=False)
        assert live.control("state")["clicks"] == 2


def test_one_byte_alone_does_not_pull_it_in() -> None:
    with live_bench(sockets=True) as live, relay_line(live) as pump:
        pump()
        live.wait_for("beat", first=False, bytes=1)
        assert not live.saw("relay")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux tells of a claim")
def test_a_line_whose_near_end_died_can_be_opened_again() -> None:
    with live_bench() as live:
        fd = os.open(live.address("mains relay"), os.O_RDWR | os.O_NOCTTY)
        # A near end that is killed takes nothing back.
        fcntl.ioctl(fd, termios.TIOCEXCL)
        until(lambda: not claimed(fd), "the end of the claim")
        os.close(fd)
