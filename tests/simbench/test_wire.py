"""The TCP wire of the far end when the near end is slow, rude or gone."""

import contextlib
import socket
from collections.abc import Callable, Iterator

from helpers.until import until

from benchlog.simbench.loop import Loop
from benchlog.simbench.wire import BACKLOG, Listener, TcpWire


class Port:
    """A listening port on a loop that turns only when the test says so."""

    def __init__(self) -> None:
        self.loop = Loop()
        self.wires: list[TcpWire] = []
        self.heard: list[bytes] = []
        self.gone: list[bool] = []
        self.listener = Listener(self.loop, self._meet)

    def _meet(self, make: Callable[[Callable[[bytes], None], Callable[[], None]], TcpWire]) -> None:
        self.wires.append(make(self.heard.append, lambda: self.gone.append(True)))

    def turn_until(self, condition: Callable[[], object]) -> None:
        """Let the loop turn until something has happened."""

        def turned() -> object:
            self.loop.turn(0.01)
            return condition()

        until(turned)

    def connect(self) -> socket.socket:
        """A near end."""
        known = len(self.wires)
        near = socket.create_connection(("127.0.0.1", self.listener.port), timeout=30.0)
        self.turn_until(lambda: len(self.wires) > known)
        return near


@contextlib.contextmanager
def port() -> Iterator[Port]:
    made = Port()
    try:
        yield made
    finally:
        made.listener.close()
        for wire in made.wires:
            wire.close()


def test_a_slow_reader_gets_everything_in_order_up_to_a_backlog() -> None:
    chunk = bytes(range(256)) * 256
    with port() as far, far.connect() as near:
        taken = 0
        while far.wires[0].send(chunk):
            taken += 1
        assert taken * len(chunk) > BACKLOG
        near.settimeout(0.01)
        heard = bytearray()

        def whole() -> bool:
            with contextlib.suppress(TimeoutError):
                heard.extend(near.recv(1 << 20))
            return len(heard) >= taken * len(chunk)

        far.turn_until(whole)
        assert bytes(heard) == chunk * taken


def test_who_hangs_up_is_forgotten() -> None:
    with port() as far:
        near = far.connect()
        near.sendall(b"hello")
        far.turn_until(lambda: far.heard == [b"hello"])
        near.close()
        far.turn_until(lambda: far.gone)
        assert far.wires[0].send(b"x") == 0


def test_who_resets_the_connection_is_forgotten_too() -> None:
    with port() as far:
        near = far.connect()
        near.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\0\0\0\0\0\0\0")
        near.close()
        far.turn_until(lambda: far.gone)


def test_a_reset_found_while_sending_ends_the_wire() -> None:
    with port() as far:
        near = far.connect()
        near.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\0\0\0\0\0\0\0")
        near.close()
        until(lambda: far.wires[0].send(b"x") == 0)
        assert far.gone == [True]


def test_a_timer_can_be_cancelled() -> None:
    with port() as far:
        called: list[str] = []
        far.loop.after(0.0, lambda: called.append("one")).cancel()
        far.loop.after(0.0, lambda: called.append("two"))
        far.turn_until(lambda: called)
        assert called == ["two"]
