"""An instrument that speaks HiSLIP, by IVI-6.1: what a client needs to connect, ask and clear, and faults."""

import contextlib
import socket
import struct
import threading
from collections.abc import Callable, Iterator

_HEAD = struct.Struct("!2sBBIQ")
INITIALIZE, INITIALIZE_RESPONSE, ERROR, DATA, DATA_END = 0, 1, 3, 6, 7
CLEAR_COMPLETE, CLEAR_ACKNOWLEDGE = 8, 9
MAX_SIZE, MAX_SIZE_RESPONSE, ASYNC_INITIALIZE, ASYNC_INITIALIZE_RESPONSE = 15, 16, 17, 18
ASYNC_CLEAR, STATUS_QUERY, STATUS_RESPONSE, ASYNC_CLEAR_ACKNOWLEDGE = 19, 21, 22, 23

Play = Callable[[str, Callable[[bytes], None]], str]
"""Given a line and what sends bytes, do what is to be done; gives how the wire ends, or nothing."""


def answering(answers: dict[str, bytes]) -> Play:
    """The usual answers of a healthy instrument."""

    def play(line: str, send: Callable[[bytes], None]) -> str:
        if reply := answers.get(line):
            send(reply)
        return ""

    return play


class FarHislip:
    """A HiSLIP server on a port of its own; one thread for each channel.

    `heard` are the messages. With `silent` it accepts connections and says nothing at all.
    """

    def __init__(self, play: Play, *, silent: bool = False) -> None:
        self.play = play
        self.heard: list[str] = []
        self.sessions = 0
        self._silent = silent
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._server.getsockname()[1]
        self._channels: list[socket.socket] = []
        self._threads = [threading.Thread(target=self._accept)]
        self._threads[0].start()

    @property
    def address(self) -> str:
        """Where it is."""
        return f"TCPIP::127.0.0.1::hislip0,{self.port}::INSTR"

    def hang_up(self) -> None:
        """Close every open channel."""
        for channel in self._channels:
            with contextlib.suppress(OSError):
                channel.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        """End it."""
        with contextlib.suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()
        self.hang_up()
        for thread in self._threads:
            thread.join()

    def _accept(self) -> None:
        while True:
            try:
                channel, _ = self._server.accept()
            except OSError:
                return
            self._channels.append(channel)
            serving = threading.Thread(target=self._serve, args=(channel,))
            self._threads.append(serving)
            serving.start()

    def _serve(self, channel: socket.socket) -> None:
        with contextlib.suppress(OSError), channel:
            while head := _exactly(channel, _HEAD.size):
                _, kind, control, number, length = _HEAD.unpack(head)
                body = _exactly(channel, length)
                if self._silent:
                    continue
                if self._take(channel, kind, control, number, body):
                    self.hang_up()
                    return

    def _take(self, channel: socket.socket, kind: int, control: int, number: int, body: bytes) -> str:
        """Answer one message; gives how the wire ends."""
        if kind == INITIALIZE:
            self.sessions += 1
            # Protocol version 1.0 and the session's number; synchronized mode.
            _say(channel, INITIALIZE_RESPONSE, 0, (0x0100 << 16) | (self.sessions & 0xFFFF))
        elif kind == ASYNC_INITIALIZE:
            _say(channel, ASYNC_INITIALIZE_RESPONSE, 0, 0x5858)
        elif kind == MAX_SIZE:
            _say(channel, MAX_SIZE_RESPONSE, 0, 0, struct.pack("!Q", 1 << 20))
        elif kind == ASYNC_CLEAR:
            _say(channel, ASYNC_CLEAR_ACKNOWLEDGE, 0, 0)
        elif kind == CLEAR_COMPLETE:
            _say(channel, CLEAR_ACKNOWLEDGE, control, 0)
        elif kind == STATUS_QUERY:
            _say(channel, STATUS_RESPONSE, 0, 0)
        elif kind in (DATA, DATA_END):
            return self._hear(channel, number, body)
        else:
            _say(channel, ERROR, 1, 0, b"unrecognized message type")
        return ""

    def _hear(self, channel: socket.socket, number: int, body: bytes) -> str:
        line = body.decode("ascii").rstrip("\r\n")
        self.heard.append(line)

        def send(data: bytes) -> None:
            # What ends a line ends the message; what does not is a part of one.
            _say(channel, DATA_END if data.endswith(b"\n") else DATA, 0, number, data)

        return self.play(line, send)


def _say(channel: socket.socket, kind: int, control: int, number: int, body: bytes = b"") -> None:
    channel.sendall(_HEAD.pack(b"HS", kind, control, number, len(body)) + body)


def _exactly(channel: socket.socket, length: int) -> bytes:
    """So many bytes; fewer where the other end closed."""
    got = b""
    while len(got) < length and (data := channel.recv(length - len(got))):
        got += data
    return got


@contextlib.contextmanager
def far_hislip(play: Play, *, silent: bool = False) -> Iterator[FarHislip]:
    """A HiSLIP instrument for the length of a test."""
    made = FarHislip(play, silent=silent)
    try:
        yield made
    finally:
        made.close()
