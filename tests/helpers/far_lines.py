"""The far end of a serial port whose lines matter, over RFC 2217: it sees RTS and DTR, and sets CTS and DSR.

A relay hangs on RTS or DTR, a contact between a line that feeds it and CTS or DSR.
"""

import contextlib
import socket
import threading
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any, cast

import serial
import serial.rfc2217

HANG = 30.0


class _Port:
    """What a serial server has for a port: settings that nobody looks at, and lines."""

    baudrate, bytesize, parity, stopbits = 9600, 8, serial.PARITY_NONE, 1
    xonxoff = rtscts = dsrdtr = break_condition = ri = cd = False

    def __init__(self, far: "FarLines") -> None:
        self._far = far

    def __getattr__(self, name: str) -> bool:
        if name in ("cts", "dsr"):
            return self._far.is_high(name)
        if name in ("rts", "dtr"):
            return self._far.levels[name]
        raise AttributeError(name)

    def __setattr__(self, name: str, value: Any) -> None:
        if name in ("rts", "dtr"):
            self._far.set_level(name, bool(value))
        else:
            object.__setattr__(self, name, value)

    def reset_input_buffer(self) -> None:
        """Nothing is kept."""

    reset_output_buffer = reset_input_buffer


class FarLines:
    """One port; `falls` says whether a port that closes lowers its lines, as most adapters do.

    Attributes:
        levels: RTS and DTR as they are.
        moves: every change of them, in order.
        heard: bytes that were sent.
        opened: how many times the port was opened.
    """

    def __init__(self, *, falls: bool = True) -> None:
        self.falls = falls
        self.levels = {"rts": False, "dtr": False}
        self.moves: list[tuple[str, bool]] = []
        self.heard = b""
        self.opened = 0
        self._contacts: dict[str, str] = {}
        self._lock = threading.RLock()
        self._peer: socket.socket | None = None
        self._manager: Any = None
        self._server = socket.create_server(("127.0.0.1", 0))
        self._port = self._server.getsockname()[1]
        self.address = f"rfc2217://127.0.0.1:{self._port}"
        self._thread = self._listen()

    # --- what hangs on it ---------------------------------------------------------------------------

    def close_contact(self, line: str = "cts", feed: str = "dtr") -> None:
        """A contact between these two lines closes."""
        self._change(line, feed)

    def open_contact(self, line: str = "cts") -> None:
        """It opens, or its wire breaks."""
        self._change(line, "")

    def is_high(self, line: str) -> bool:
        """How CTS or DSR is: as the line that feeds it through a closed contact."""
        feed = self._contacts.get(line, "")
        return bool(feed) and self.levels[feed]

    def set_level(self, line: str, high: bool) -> None:
        """RTS or DTR is set by the near side, or falls with its port."""
        with self._lock:
            if self.levels[line] != high:
                self.levels[line] = high
                self.moves.append((line, high))
                self._tell()

    def clicks(self, line: str = "rts") -> int:
        """How many times a relay on that line has moved."""
        return sum(moved == line for moved, _ in list(self.moves))

    def _change(self, line: str, feed: str) -> None:
        with self._lock:
            self._contacts[line] = feed
            self._tell()

    def _tell(self) -> None:
        if self._manager is not None:
            with contextlib.suppress(OSError):
                self._manager.check_modem_lines()

    # --- the server ---------------------------------------------------------------------------------

    def break_off(self) -> None:
        """The connection breaks; the server is there for the next one."""
        with self._lock:
            assert self._peer is not None
            self._peer.shutdown(socket.SHUT_RDWR)

    def unplug(self) -> None:
        """The server is gone, its lines with it."""
        self._server.close()
        with self._lock:
            if self._peer is not None:
                with contextlib.suppress(OSError):
                    self._peer.shutdown(socket.SHUT_RDWR)
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self._port), 1.0):
            pass  # One who still waits for a caller hears it.
        self._thread.join(HANG)
        assert not self._thread.is_alive()

    def plug_in(self) -> None:
        """It is back, where it was."""
        self._server = socket.create_server(("127.0.0.1", self._port))
        self._thread = self._listen()

    close = unplug

    def _listen(self) -> threading.Thread:
        thread = threading.Thread(target=self._run, args=(self._server,), daemon=True)
        thread.start()
        return thread

    def _run(self, server: socket.socket) -> None:
        while True:
            try:
                peer, _ = server.accept()
            except OSError:
                return
            with contextlib.suppress(OSError), peer:
                self._serve(peer)
            with self._lock:
                self._manager = self._peer = None
                for line in ("rts", "dtr") if self.falls else ():
                    self.set_level(line, False)

    def _serve(self, peer: socket.socket) -> None:
        with self._lock:
            self._peer = peer
            self.opened += 1
            connection = SimpleNamespace(write=peer.sendall)
            self._manager = serial.rfc2217.PortManager(cast(Any, _Port(self)), cast(Any, connection))
        while raw := peer.recv(4096):
            with self._lock:
                self.heard += b"".join(self._manager.filter(raw))


@contextlib.contextmanager
def far_lines(*, falls: bool = True) -> Iterator[FarLines]:
    """A port for the length of a test."""
    made = FarLines(falls=falls)
    try:
        yield made
    finally:
        made.close()
