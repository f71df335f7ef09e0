"""One instrument on its TCP port: lines in, one after the other, replies a moment later."""

from collections import deque
from collections.abc import Callable, Generator
from typing import Any

from benchlog.simbench.loop import Loop
from benchlog.simbench.scpi import ScpiDevice
from benchlog.simbench.wire import Listener, TcpWire

LONGEST_LINE = 4096
TOO_LONG = (-363, "Input buffer overrun")


class Instrument:
    """A SCPI instrument and its port; `silent` means that it hears and never answers again."""

    def __init__(self, loop: Loop, job: str, device: ScpiDevice, tell: Callable[..., None]) -> None:
        self.loop = loop
        self.job = job
        self.device = device
        self.tell = tell
        self.silent = False
        self._open = True
        self._sessions: set[_Session] = set()
        self._listener = Listener(loop, self._meet)
        self.address = f"TCPIP::127.0.0.1::{self._listener.port}::SOCKET"

    def close(self) -> None:
        """Take it off the net, for good."""
        if not self._open:
            return
        self._open = False
        self._listener.close()
        for session in list(self._sessions):
            session.wire.close()

    def _meet(self, make: Callable[[Callable[[bytes], None], Callable[[], None]], TcpWire]) -> None:
        session = _Session(self)
        session.wire = make(session.heard, lambda: self._sessions.discard(session))
        self._sessions.add(session)


class _Session:
    """One connection: what was asked first is answered first."""

    wire: TcpWire

    def __init__(self, instrument: Instrument) -> None:
        self._of = instrument
        self._buffer = b""
        self._waiting: deque[str] = deque()
        self._busy = False

    def heard(self, data: bytes) -> None:
        """Take a chunk of bytes."""
        *lines, self._buffer = (self._buffer + data).split(b"\n")
        if len(self._buffer) > LONGEST_LINE:
            lines.append(self._buffer)
            self._buffer = b""
        for line in lines:
            if len(line) > LONGEST_LINE:
                self._of.device.complain(TOO_LONG)
                continue
            text = line.decode("ascii", "replace").strip()
            self._of.tell("command", job=self._of.job, text=text)
            self._waiting.append(text)
        if not self._busy:
            self._next()

    def _next(self) -> None:
        while self._waiting and not self._busy:
            self._go_on(self._of.device.execute(self._waiting.popleft()))

    def _go_on(self, work: Generator[float, None, str | None]) -> None:
        """Carry a line on to its next wait, or to its answer."""
        try:
            seconds = next(work)
        except StopIteration as ended:
            self._busy = False
            self._answer(ended.value)
            return
        self._busy = True
        self._of.loop.after(seconds, lambda: self._resume(work))

    def _resume(self, work: Generator[float, None, str | None]) -> None:
        self._go_on(work)
        if not self._busy:
            self._next()

    def _answer(self, text: Any) -> None:
        if text is None or self._of.silent or self._of.device.mute:
            return
        left = self.wire.send(f"{text}\n".encode("ascii"))
        if left:
            self._of.tell("reply", t=left, job=self._of.job, text=text)
