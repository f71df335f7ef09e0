"""The wires a faulty instrument hangs on: TCP, a pty, and serial servers on a network."""

import contextlib
import errno
import os
import select
import socket
import struct
import sys
import threading
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any, Protocol, cast

import serial
import serial.rfc2217
from helpers.faulty import Faulty

from benchlog.instruments.link_serial import Port

if sys.platform != "win32":
    import tty

SERIAL_NUMBER = "FAULTY1"


class Wire(Protocol):
    """Where a faulty instrument can be reached."""

    address: str

    def ports(self) -> list[Port]:
        """The serial ports there are."""

    def close(self) -> None:
        """End it."""


class FaultyTcp:
    """On a network: plain, or as a serial server; one connection at a time, one thread."""

    def __init__(self, mind: Faulty, scheme: str) -> None:
        self._mind = mind
        self._server = socket.create_server(("127.0.0.1", 0))
        self.address = f"{scheme}://127.0.0.1:{self._server.getsockname()[1]}"
        self._serve = self._serve_rfc2217 if scheme == "rfc2217" else self._serve_plain
        self._peer: socket.socket | None = None
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def ports(self) -> list[Port]:
        """None of this computer's own."""
        return []

    def close(self) -> None:
        """End it."""
        self._mind.ended.set()
        with contextlib.suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()
        if self._peer is not None:
            with contextlib.suppress(OSError):
                self._peer.shutdown(socket.SHUT_RDWR)
        self._thread.join(30.0)

    def _run(self) -> None:
        while True:
            try:
                self._peer, _ = self._server.accept()
            except OSError:
                return
            with contextlib.suppress(OSError), self._peer:
                end = self._serve(self._peer)
                if end in ("reset", "unplug"):
                    self._peer.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))

    def _serve_plain(self, peer: socket.socket) -> str:
        return answer(self._mind, lambda: peer.recv(4096), peer.sendall)

    def _serve_rfc2217(self, peer: socket.socket) -> str:
        with serial.serial_for_url("loop://", timeout=0) as port:
            connection = SimpleNamespace(write=peer.sendall)
            manager = serial.rfc2217.PortManager(cast(Any, port), cast(Any, connection))

            def receive() -> bytes:
                while raw := peer.recv(4096):
                    if data := b"".join(manager.filter(raw)):
                        return data
                return b""

            return answer(self._mind, receive, lambda data: peer.sendall(b"".join(manager.escape(data))))


class FaultyPort:
    """On a serial adapter, which is unplugged where a wire would end, and comes back under another name."""

    address = f"usb:0403:6001:{SERIAL_NUMBER}"

    def __init__(self, mind: Faulty) -> None:
        self._mind = mind
        self._master, self._slave = _pty()
        self._device = os.ttyname(self._slave)
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def ports(self) -> list[Port]:
        """The adapter, where it is now."""
        device = self._device
        return [Port(device, "", 0x403, 0x6001, SERIAL_NUMBER)] if device else []

    def close(self) -> None:
        """End it; the near side must be closed before."""
        self._mind.ended.set()
        self._thread.join(30.0)

    def _run(self) -> None:
        while not self._mind.ended.is_set():
            end = answer(self._mind, self._receive, self._send)
            self._device = ""
            os.close(self._slave)
            os.close(self._master)
            if not end:
                return
            self._master, self._slave = _pty()
            self._device = os.ttyname(self._slave)

    def _receive(self) -> bytes:
        while not self._mind.ended.is_set():
            if select.select([self._master], [], [], 0.05)[0]:
                return os.read(self._master, 4096)
        return b""

    def _send(self, data: bytes) -> None:
        while data and not self._mind.ended.is_set():
            if select.select([], [self._master], [], 0.05)[1]:
                try:
                    data = data[os.write(self._master, data) :]
                except BlockingIOError:
                    continue


def _pty() -> tuple[int, int]:
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    os.set_blocking(master, False)
    return master, slave


def answer(mind: Faulty, receive: Callable[[], bytes], send: Callable[[bytes], None]) -> str:
    """Answer lines until the wire ends; gives how the instrument ended it, empty where the near side did."""
    rest = b""
    while True:
        try:
            data = receive()
        except OSError as error:
            if error.errno in (errno.EIO, errno.ECONNRESET, errno.EPIPE):
                return ""
            raise
        if not data:
            return ""
        *lines, rest = (rest + data).split(b"\n")
        for line in lines:
            if end := mind.play(line.decode("ascii"), send):
                return end


@contextlib.contextmanager
def faulty_wire(kind: str, mind: Faulty) -> Iterator[Wire]:
    """The instrument on a wire of that kind: tcp, socket, rfc2217 or pty."""
    made: Wire = FaultyPort(mind) if kind == "pty" else FaultyTcp(mind, kind)
    try:
        yield made
    finally:
        made.close()
