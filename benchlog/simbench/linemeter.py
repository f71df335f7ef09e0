"""The serial meter that is asked by a line: `READ` is answered with its display, anything else not at all."""

from collections.abc import Callable

from benchlog.simbench.handheld import UNITS, display
from benchlog.simbench.loop import Loop
from benchlog.simbench.serial_end import SerialEnd, open_serial

LONGEST_LINE = 64
ANSWERING = 0.15
"""Plan seconds from a question to its answer."""


class LineMeter:
    """A meter with its dial on one function; `silent` means that it answers nothing more."""

    def __init__(
        self,
        loop: Loop,
        *,
        job: str,
        look: Callable[[], float],
        function: str,
        speed: float,
        tell: Callable[..., None],
        sockets: bool = False,
    ) -> None:
        self._loop = loop
        self._job = job
        self._look = look
        self._unit = UNITS[function]
        self._answering = ANSWERING / speed
        self._tell = tell
        self._rest = b""
        self.silent = False
        self._end: SerialEnd = open_serial(loop, self.heard, sockets=sockets)
        self.address = self._end.address

    def heard(self, data: bytes) -> None:
        """Take a chunk of bytes."""
        *lines, self._rest = (self._rest + data).split(b"\r\n")
        self._rest = self._rest[-LONGEST_LINE:]
        for line in lines:
            self._tell("command", job=self._job, text=line.decode("ascii", "replace"))
            if line == b"READ":
                self._loop.after(self._answering, self._answer)

    def close(self) -> None:
        """Unplug it."""
        self._end.close()

    def _answer(self) -> None:
        if self.silent:
            return
        text = display(self._look(), self._unit)
        left = self._end.send(f"{text}\r\n".encode("ascii"))
        if left:
            self._tell("reply", t=left, job=self._job, text=text)
