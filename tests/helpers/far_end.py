"""The far end of an instrument's wire for tests: answers over loopback TCP as the test says."""

import contextlib
import socket
import struct
import threading
from collections.abc import Callable, Iterator

Answer = Callable[[str], bytes | None]
"""Given a line, the bytes to answer with; None for silence."""

IDENTITY = b"FAR END,METER,0,1\n"
NO_ERROR = b'+0,"No error"\n'


def multimeter(reading: bytes = b"+1.25000000E+00\n") -> Answer:
    """The usual answers of a healthy meter."""
    answers = {"*IDN?": IDENTITY, "SYST:ERR?": NO_ERROR, "READ?": reading}
    return answers.get


class FarEnd:
    """A TCP instrument: one thread, one connection at a time.

    `answer` may be replaced while it runs. `heard` are the lines it received. `say` sends bytes
    that nobody asked for, `hang_up` closes the connection that is open.
    """

    def __init__(self, answer: Answer) -> None:
        self.answer = answer
        self.heard: list[str] = []
        self.connected = threading.Semaphore(0)
        self.connections = 0
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._server.getsockname()[1]
        self._peer: socket.socket | None = None
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    @property
    def address(self) -> str:
        """Where it is."""
        return f"tcp://127.0.0.1:{self.port}"

    def say(self, data: bytes) -> None:
        """Send without being asked."""
        assert self._peer is not None
        self._peer.sendall(data)

    def hang_up(self, *, reset: bool = False) -> None:
        """Close the open connection, politely or with a reset."""
        peer = self._peer
        assert peer is not None
        if reset:
            peer.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        # Ends the wait of the thread that serves it, which then closes it.
        peer.shutdown(socket.SHUT_RD if reset else socket.SHUT_RDWR)

    def close(self) -> None:
        """End it."""
        with contextlib.suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()
        if self._peer is not None:
            with contextlib.suppress(OSError):
                self._peer.shutdown(socket.SHUT_RDWR)
        self._thread.join()

    def _run(self) -> None:
        while True:
            try:
                self._peer, _ = self._server.accept()
            except OSError:
                return
            self.connections += 1
            self.connected.release()
            with contextlib.suppress(OSError), self._peer:
                self._serve(self._peer)

    def _serve(self, peer: socket.socket) -> None:
        rest = b""
        while data := peer.recv(4096):
            *lines, rest = (rest + data).split(b"\n")
            for line in lines:
                text = line.decode("ascii")
                self.heard.append(text)
                reply = self.answer(text)
                if reply:
                    peer.sendall(reply)


@contextlib.contextmanager
def far_end(answer: Answer) -> Iterator[FarEnd]:
    """A TCP instrument for the length of a test."""
    made = FarEnd(answer)
    try:
        yield made
    finally:
        made.close()
