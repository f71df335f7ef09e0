"""The far end of a serial instrument for tests: the other side of a pty."""

import contextlib
import os
import struct
import sys
from collections.abc import Iterator

if sys.platform != "win32":
    import fcntl
    import tty

TIOCGEXCL = 0x80045440
"""Linux: whether a terminal may be opened by nobody else; the standard library has no name for it."""


def claimed(descriptor: int) -> bool:
    """Whether a terminal may be opened by nobody else."""
    return struct.unpack("i", fcntl.ioctl(descriptor, TIOCGEXCL, b"\0" * 4)) != (0,)


class FarPort:
    """A serial instrument at the far side of a pty; `device` is the near side's name."""

    def __init__(self) -> None:
        self._master, self._slave = os.openpty()
        tty.setraw(self._master)
        tty.setraw(self._slave)
        self.device = os.ttyname(self._slave)

    @property
    def claimed(self) -> bool:
        """Whether the near side may be opened by nobody else."""
        return claimed(self._slave)

    def say(self, data: bytes) -> None:
        """Send to the near side."""
        os.write(self._master, data)

    def hear(self) -> bytes:
        """What the near side sent; blocks until something did."""
        return os.read(self._master, 4096)

    def unplug(self) -> None:
        """Take the instrument away."""
        for descriptor in (self._slave, self._master):
            if descriptor >= 0:
                os.close(descriptor)
        self._master = self._slave = -1

    close = unplug


@contextlib.contextmanager
def far_port() -> Iterator[FarPort]:
    """A serial instrument for the length of a test."""
    made = FarPort()
    try:
        yield made
    finally:
        made.close()
