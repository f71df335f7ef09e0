"""What every wire of the far end offers, and the TCP one."""

import socket
import time
from collections.abc import Callable
from typing import Protocol

from benchlog.simbench.loop import Loop

CHUNK = 65536
RETRY = 0.002
"""Seconds until a full wire is tried again."""
BACKLOG = 1 << 20


class Wire(Protocol):
    """One open connection."""

    def send(self, data: bytes) -> int:
        """Send, and give the monotonic nanoseconds at which it leaves; 0 where nobody takes it."""

    def close(self) -> None:
        """Close it."""


class TcpWire:
    """One accepted connection; `heard` gets each chunk, `gone` is called once when it has ended."""

    def __init__(
        self, loop: Loop, sock: socket.socket, heard: Callable[[bytes], None], gone: Callable[[], None]
    ) -> None:
        self._loop = loop
        self._sock = sock
        self._heard = heard
        self._gone = gone
        self._left = b""
        self._open = True
        sock.setblocking(False)
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        loop.watch(sock.fileno(), self._read)

    def send(self, data: bytes) -> int:
        """Send now, or as soon as the wire takes it."""
        if not self._open or len(self._left) > BACKLOG:
            return 0
        # Before it is out: whoever hears it may act before this process is at work again.
        leaves = time.monotonic_ns()
        waiting = bool(self._left)
        self._left += data
        return leaves if waiting or self._push() else 0

    def close(self) -> None:
        """Close it; `gone` is called as if the other side had."""
        if not self._open:
            return
        self._open = False
        self._loop.unwatch(self._sock.fileno())
        self._sock.close()
        self._gone()

    def _push(self) -> bool:
        """Send what the wire takes; whether it is still open."""
        try:
            while self._left:
                self._left = self._left[self._sock.send(self._left) :]
        except BlockingIOError:
            self._loop.after(RETRY, self._again)
        except OSError:
            self.close()
            return False
        return True

    def _again(self) -> None:
        if self._open and self._left:
            self._push()

    def _read(self) -> None:
        try:
            data = self._sock.recv(CHUNK)
        except BlockingIOError:
            return
        except OSError:
            data = b""
        if data:
            self._heard(data)
        else:
            self.close()


Meet = Callable[[Callable[[Callable[[bytes], None], Callable[[], None]], TcpWire]], None]
"""Called for each new connection with a function that makes its wire of `heard` and `gone`."""


class Listener:
    """Accepts connections on a free port of this machine alone."""

    def __init__(self, loop: Loop, meet: Meet) -> None:
        self._loop = loop
        self._meet = meet
        self._sock = socket.create_server(("127.0.0.1", 0))
        self._sock.setblocking(False)
        self.port: int = self._sock.getsockname()[1]
        loop.watch(self._sock.fileno(), self._accept)

    def close(self) -> None:
        """Accept no more."""
        self._loop.unwatch(self._sock.fileno())
        self._sock.close()

    def _accept(self) -> None:
        try:
            sock, _ = self._sock.accept()
        except OSError:
            return
        self._meet(lambda heard, gone: TcpWire(self._loop, sock, heard, gone))
