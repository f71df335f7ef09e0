"""An instrument that speaks VXI-11 over ONC RPC: links, messages, reads with their time, device clear.

It keeps what was not read when the next message comes, as a conforming instrument would not: only a device
clear throws it away.
"""

import contextlib
import socket
import struct
import threading
import time
from collections.abc import Iterator

from helpers.far_hislip import Play

CREATE_LINK, WRITE, READ, CLEAR, DESTROY_LINK = 10, 11, 12, 15, 23
REQUESTED, END = 1, 4
TIMED_OUT, NOT_SUPPORTED = 15, 8
LAST = 0x80000000


class FarVxi11:
    """A server on a port of its own, one connection at a time; `heard` are the messages, `clears` counts."""

    def __init__(self, play: Play) -> None:
        self.play = play
        self.heard: list[str] = []
        self.clears = 0
        self._said = threading.Condition()
        self._out = b""
        self._turn = 0
        self._server = socket.create_server(("127.0.0.1", 0))
        self._peer: socket.socket | None = None
        self.address = f"TCPIP::127.0.0.1,{self._server.getsockname()[1]}::inst0::INSTR"
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    @property
    def waits(self) -> bool:
        """Whether something waits to be read."""
        return bool(self._out)

    def close(self) -> None:
        """End it."""
        with contextlib.suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()
        self.hang_up()
        self._thread.join()

    def hang_up(self) -> None:
        """Close the connection."""
        if self._peer is not None:
            with contextlib.suppress(OSError):
                self._peer.shutdown(socket.SHUT_RDWR)

    def _run(self) -> None:
        while True:
            try:
                self._peer, _ = self._server.accept()
            except OSError:
                return
            with contextlib.suppress(OSError), self._peer, self._peer.makefile("rb") as calls:
                while head := calls.read(4):
                    (mark,) = struct.unpack("!I", head)
                    reply = self._call(calls.read(mark & ~LAST))
                    self._peer.sendall(struct.pack("!I", LAST | len(reply)) + reply)

    def _call(self, call: bytes) -> bytes:
        number, _, _, _, _, procedure = struct.unpack_from("!6I", call)
        at = 24
        for _ in range(2):  # credentials and verifier
            _, length = struct.unpack_from("!2I", call, at)
            at += 8 + length + -length % 4
        return struct.pack("!6I", number, 1, 0, 0, 0, 0) + self._obey(procedure, call[at:])

    def _obey(self, procedure: int, given: bytes) -> bytes:
        if procedure == CREATE_LINK:
            return struct.pack("!4I", 0, 1, 0, 65536)
        if procedure == WRITE:
            _, _, _, _, length = struct.unpack_from("!5I", given)
            self._hear(given[20 : 20 + length].decode("ascii").rstrip("\r\n"))
            return struct.pack("!2I", 0, length)
        if procedure == READ:
            _, count, wait = struct.unpack_from("!3I", given)
            return self._give(count, wait / 1000.0)
        if procedure == CLEAR:
            with self._said:
                self.clears += 1
                self._turn += 1
                self._out = b""
            return struct.pack("!I", 0)
        return struct.pack("!I", 0 if procedure == DESTROY_LINK else NOT_SUPPORTED)

    def _hear(self, line: str) -> None:
        self.heard.append(line)
        turn = self._turn

        def send(data: bytes) -> None:
            with self._said:
                if turn == self._turn:
                    self._out += data
                    self._said.notify_all()

        # In a thread: an answer takes its time, and the link is not held up by it.
        threading.Thread(target=self._act, args=(line, send), daemon=True).start()

    def _act(self, line: str, send: object) -> None:
        if self.play(line, send):  # type: ignore[arg-type]
            self.hang_up()

    def _give(self, count: int, wait: float) -> bytes:
        until = time.monotonic() + wait
        with self._said:
            while not self._out and (left := until - time.monotonic()) > 0:
                self._said.wait(left)
            if not self._out:
                return struct.pack("!3I", TIMED_OUT, 0, 0)
            message, end, rest = self._out.partition(b"\n")
            whole = message + end
            given, left_over = whole[:count], whole[count:]
            self._out = left_over + rest
        reason = END if end and not left_over else REQUESTED if len(given) == count else 0
        return struct.pack("!3I", 0, reason, len(given)) + given + bytes(-len(given) % 4)


@contextlib.contextmanager
def far_vxi11(play: Play) -> Iterator[FarVxi11]:
    """A VXI-11 instrument for the length of a test."""
    made = FarVxi11(play)
    try:
        yield made
    finally:
        made.close()
