"""The wire of a network instrument: one plain TCP socket that cannot hang and notices a dead peer."""

import contextlib
import select
import socket
import threading
import time
from typing import Any

from benchlog.errors import Gone, LinkError, Refused, TimedOut
from benchlog.instruments.waiter import Waiter, drain

CHUNK = 65536
SEND_WAIT = 0.2
"""Longest wait for room in the send buffer, in s: a command is short, so a full one is a stuck far end."""


class TcpLink:
    """One connection. `send` and `wake` may be called from any thread, the rest from the owner's."""

    def __init__(self, connected: socket.socket, place: str) -> None:
        connected.setblocking(False)
        with contextlib.suppress(OSError):  # a socketpair in a test has no such option
            connected.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            keep_alive(connected)
        self._socket = connected
        self._waiter = Waiter(connected.fileno())
        self._readable = self._waiter.readable
        self._sending = threading.Lock()
        self._place = place

    @classmethod
    def open(cls, host: str, port: int, place: str, deadline: float) -> "TcpLink":
        """Connect within `deadline` real seconds; Refused or TimedOut in one sentence."""
        until = time.monotonic() + deadline
        failed: LinkError = Refused(place, f"{host} has no address", "check the name")
        for family, kind, protocol, _, where in _resolve(host, port, place, until):
            connecting = socket.socket(family, kind, protocol)
            connecting.settimeout(max(until - time.monotonic(), 0.001))
            try:
                connecting.connect(where)
            except OSError as error:
                connecting.close()
                failed = _no_connection(error, host, port, place, deadline)
                continue
            if _met_itself(connecting):
                connecting.close()
                failed = _no_connection(ConnectionRefusedError(), host, port, place, deadline)
                continue
            return cls(connecting, place)
        raise failed

    def send(self, data: bytes) -> None:
        """Send a whole line; Gone where the far end does not take it."""
        with self._sending:
            try:
                sent = self._socket.send(data)
                if sent == len(data):
                    return
            except BlockingIOError:
                sent = 0
            except OSError as error:
                raise self._gone(error) from None
            self._send_rest(data[sent:])

    def receive(self, wait: float) -> bytes:
        """What came within `wait` real seconds; empty where nothing came or another thread woke us."""
        if not self._readable(wait):
            return b""
        try:
            data = self._socket.recv(CHUNK)
        except BlockingIOError:
            return b""
        except OSError as error:
            raise self._gone(error) from None
        if not data:
            raise Gone(self._place, "the far end closed the connection", "it will be opened anew")
        return data

    def drain(self, quiet: float) -> bytes:
        """Throw away what comes until `quiet` s of silence; give its end, for the log."""
        return drain(self.receive, quiet)

    def wake(self) -> None:
        """Make a blocked `receive`, or the next one, return at once."""
        self._waiter.wake()

    def close(self) -> None:
        """Close the connection; does nothing the second time."""
        self._waiter.close()
        self._socket.close()

    def _send_rest(self, data: bytes) -> None:
        until = time.monotonic() + SEND_WAIT
        while data:
            left = until - time.monotonic()
            try:
                _, free, _ = select.select([], [self._socket], [], max(left, 0.0))
                if not free:
                    # Half a line is out: nothing more may follow it on this connection.
                    with contextlib.suppress(OSError):
                        self._socket.shutdown(socket.SHUT_RDWR)
                    raise Gone(self._place, "does not take what is sent", "check the instrument")
                data = data[self._socket.send(data) :]
            except BlockingIOError:
                continue
            except (OSError, ValueError) as error:
                raise self._gone(error) from None

    def _gone(self, error: Exception) -> Gone:
        reason = getattr(error, "strerror", None) or "it was closed"
        return Gone(self._place, f"the connection broke ({reason})", "it will be opened anew")


def keep_alive(connected: socket.socket) -> None:
    """Have the system notice a pulled cable on a connection that is only kept for a cut."""
    connected.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    for name, value in (("TCP_KEEPIDLE", 3), ("TCP_KEEPINTVL", 1), ("TCP_KEEPCNT", 3)):
        option = getattr(socket, name, None)
        if option is not None:
            connected.setsockopt(socket.IPPROTO_TCP, option, value)


def _met_itself(connected: socket.socket) -> bool:
    """Whether nobody listens, and the system chose the very port it was to reach for its own end."""
    return bool(connected.getsockname() == connected.getpeername())


def _resolve(host: str, port: int, place: str, until: float) -> list[Any]:
    """Addresses of a host. A name is looked up in a thread of its own, since that cannot be bounded."""
    found: list[Any] = []
    failures: list[str] = []

    def look_up(flags: int) -> None:
        try:
            found.extend(socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=flags))
        except (OSError, UnicodeError) as error:
            failures.append(getattr(error, "strerror", None) or "it is no host name")

    look_up(socket.AI_NUMERICHOST)
    if not found:
        failures.clear()
        looking = threading.Thread(target=look_up, args=(0,), name="host name look-up", daemon=True)
        looking.start()
        looking.join(max(until - time.monotonic(), 0.0))
    if failures:
        raise Refused(
            place, f"the host {host} is not known ({failures[0]})", "check its name, or use its number"
        )
    if not found:
        raise TimedOut(place, f"the host name {host} was not found in time", "use its number")
    return list(found)


def _no_connection(error: OSError, host: str, port: int, place: str, deadline: float) -> LinkError:
    where = f"{host} port {port}"
    if isinstance(error, TimeoutError):
        fix = "check that it is switched on and on this network"
        return TimedOut(place, f"nobody answered at {where} within {deadline:g} s", fix)
    if isinstance(error, ConnectionRefusedError):
        return Refused(place, f"nobody listens at {where}", "check the port, and that it is switched on")
    return Refused(place, f"{where} cannot be reached ({error.strerror or error})", "check the address")
