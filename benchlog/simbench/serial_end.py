"""The far end of a serial line: a pseudo-terminal, or a TCP port where the system has none."""

import os
import sys
import time
from collections.abc import Callable
from typing import Protocol

from benchlog.simbench.loop import Loop
from benchlog.simbench.wire import Listener, TcpWire

if sys.platform != "win32":
    import fcntl
    import struct
    import termios
    import tty

HAS_TERMINALS = hasattr(os, "openpty")
CHUNK = 4096
UNREAD = 3500
"""Bytes nobody reads: a real adapter has dropped older ones long before."""
CLAIMED = 0.2
"""Real seconds for which the claim of a near end that died may outlive it."""


class SerialEnd(Protocol):
    """One serial line; `address` is what the near end opens."""

    address: str

    def send(self, data: bytes) -> int:
        """Send, and give the monotonic nanoseconds at which it leaves; 0 where it went nowhere."""

    def close(self) -> None:
        """Unplug it."""


class TerminalEnd:
    """A pseudo-terminal; both of its ends are kept open, so that a near end may come and go."""

    def __init__(self, loop: Loop, heard: Callable[[bytes], None]) -> None:
        self._loop = loop
        self._heard = heard
        self._master, self._slave = os.openpty()
        tty.setraw(self._master)
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.address = os.ttyname(self._slave)
        loop.watch(self._master, self._read)
        self._let_in()

    def send(self, data: bytes) -> int:
        """Send; a line nobody has read for long is emptied first."""
        waiting = fcntl.ioctl(self._slave, termios.FIONREAD, b"\0" * 4)
        if struct.unpack("i", waiting)[0] > UNREAD:
            termios.tcflush(self._slave, termios.TCIFLUSH)
        leaves = time.monotonic_ns()
        try:
            os.write(self._master, data)
        except OSError:
            return 0
        return leaves

    def close(self) -> None:
        """Unplug it."""
        self._timer.cancel()
        self._loop.unwatch(self._master)
        os.close(self._slave)
        os.close(self._master)

    def _let_in(self) -> None:
        """Void any claim: on a real line it ends with the program that made it, here our own end would keep it."""
        fcntl.ioctl(self._slave, termios.TIOCNXCL)
        self._timer = self._loop.after(CLAIMED, self._let_in)

    def _read(self) -> None:
        try:
            self._heard(os.read(self._master, CHUNK))
        except OSError:
            return


class SocketEnd:
    """A TCP port in a serial line's place; every near end that connects shares the line."""

    def __init__(self, loop: Loop, heard: Callable[[bytes], None]) -> None:
        self._heard = heard
        self._wires: list[TcpWire] = []
        self._listener = Listener(loop, self._meet)
        self.address = f"socket://127.0.0.1:{self._listener.port}"

    def send(self, data: bytes) -> int:
        """Send to whoever listens."""
        sent = [wire.send(data) for wire in list(self._wires)]
        return max(sent, default=0)

    def close(self) -> None:
        """Unplug it."""
        self._listener.close()
        for wire in list(self._wires):
            wire.close()

    def _meet(self, make: Callable[[Callable[[bytes], None], Callable[[], None]], TcpWire]) -> None:
        wire = make(self._heard, lambda: self._wires.remove(wire))
        self._wires.append(wire)


def open_serial(loop: Loop, heard: Callable[[bytes], None], *, sockets: bool = False) -> SerialEnd:
    """Open the far end of a serial line; `heard` gets what the near end writes."""
    if sockets or not HAS_TERMINALS:
        return SocketEnd(loop, heard)
    return TerminalEnd(loop, heard)
