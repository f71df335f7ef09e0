"""Waiting for bytes on a descriptor, with a way to be woken from another thread at any time."""

import contextlib
import select
import socket
import time
from collections.abc import Callable


class Waiter:
    """Waits on one descriptor; `wake` may be called from any thread, the rest from the owner's."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor
        self._woken, self._waker = socket.socketpair()
        self._woken.setblocking(False)
        self._waker.setblocking(False)
        self._ready = self._poller() if hasattr(select, "poll") else self._select

    def readable(self, wait: float) -> bool:
        """Whether bytes, or the news that there will be none, came within `wait` s; False too when woken.

        Bytes come before a wake, and a wait of 0 s leaves the wake for the next one.
        """
        ready = self._ready(wait * 1000.0)
        if not ready:
            return False
        if ready[0][0] == self._descriptor or ready[-1][0] == self._descriptor:
            return True
        if wait > 0:
            with contextlib.suppress(OSError):
                self._woken.recv(4096)
        return False

    def wake(self) -> None:
        """End the wait under way, or the next one; does nothing once closed."""
        # A full buffer means that a wake is waiting already.
        with contextlib.suppress(OSError):
            self._waker.send(b"\0")

    def close(self) -> None:
        """Give the two ends of the wake back."""
        self._woken.close()
        self._waker.close()

    def _poller(self) -> Callable[[float], list[tuple[int, int]]]:
        """The quicker way, where the platform has it: no limit on descriptors either. Takes ms."""
        poll = select.poll()
        poll.register(self._descriptor, select.POLLIN)
        poll.register(self._woken, select.POLLIN)
        return poll.poll

    def _select(self, wait_ms: float) -> list[tuple[int, int]]:
        """The way of Windows, where only sockets can be waited on."""
        ready, _, _ = select.select([self._descriptor, self._woken.fileno()], [], [], wait_ms * 1e-3)
        return [(descriptor, 0) for descriptor in ready]


def drain(receive: Callable[[float], bytes], quiet: float) -> bytes:
    """Read until `quiet` s of silence, at most ten times as long; a wake does not end it."""
    begun = last = time.monotonic()
    got = b""
    while (left := min(last + quiet, begun + 10.0 * quiet) - time.monotonic()) > 0:
        data = receive(left)
        if data:
            last = time.monotonic()
            got = (got + data)[-4096:]
    return got
