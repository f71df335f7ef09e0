"""One end of the pipe between a recorder and its client: greeting, reader thread, sender, silence.

Descriptors are read and written raw: a thread that sits in a buffered read of standard input
when the interpreter ends aborts it. Pipes only, since a pipe is what every platform gives to a
child, and nobody else can connect to it.
"""

import os
import queue
import threading
import time
from collections.abc import Callable, Iterator

from benchlog.errors import Gone, LinkError, TimedOut
from benchlog.recorder.framing import Framer, check_hello, request_of
from benchlog.recorder.messages import VERSION, Hello, Message
from benchlog.recorder.sender import Sender

_CHUNK = 1 << 16


def own_pipes() -> tuple[int, int]:
    """Take standard input and output for the channel alone; gives (reading, writing) descriptors.

    From then on standard input is empty and standard output is standard error, so that a stray
    print lands in the log; no child of ours can hold the pipe open after our death.
    """
    reading, writing = os.dup(0), os.dup(1)
    null = os.open(os.devnull, os.O_RDONLY)
    os.dup2(null, 0)
    os.close(null)
    os.dup2(2, 1)
    return reading, writing


class Silence:
    """How long somebody has not been heard, as told by a watcher that may itself be late.

    A step between two looks counts at most `step` seconds: whoever was stopped himself (a
    suspended machine, a stopped process) gives the other a moment to be heard again.
    """

    def __init__(self, step: float = 0.25) -> None:
        self._step = step
        self._heard = False
        self._seconds = 0.0
        self._looked = time.monotonic()

    def heard(self) -> None:
        """Note a sign of life; from any thread."""
        self._heard = True

    def look(self, now: float) -> float:
        """Seconds of silence at `now` (monotonic seconds); from one watching thread."""
        passed = min(max(0.0, now - self._looked), self._step)
        self._looked = now
        if self._heard:
            self._heard = False
            self._seconds = 0.0
        else:
            self._seconds += passed
        return self._seconds


class Channel:
    """Messages to and from a peer; owns both descriptors and closes them."""

    def __init__(
        self, reading: int, writing: int, decode: Callable[[bytes | None], Message], *, peer: str
    ) -> None:
        self._reading = reading
        self._decode = decode
        self._peer = peer
        self._silence = Silence()
        self._first: queue.SimpleQueue[Message | LinkError] = queue.SimpleQueue()
        self._listening = threading.Event()
        self._on_message: Callable[[Message], None] = _nothing
        self._on_fault: Callable[[LinkError, int], None] = _nothing
        self._on_end: Callable[[], None] = _nothing
        self._ended = False
        self._sender = Sender(writing, f"to {peer}")
        self._reader = threading.Thread(target=self._read, name=f"from {peer}", daemon=True)
        self._reader.start()

    def greet(self, program: str, timeout: float = 10.0) -> Hello:
        """Exchange hellos; `Refused` for another version, `TimedOut`, `Gone`, `Garbled`."""
        self.send(Hello(version=VERSION, program=program, pid=os.getpid()))
        try:
            first = self._first.get(timeout=timeout)
        except queue.Empty:
            raise TimedOut(self._peer, f"did not answer within {timeout:g} s", "start it again") from None
        if isinstance(first, LinkError):
            raise first
        return check_hello(first, self._peer)

    def listen(
        self,
        on_message: Callable[[Message], None],
        on_fault: Callable[[LinkError, int], None],
        on_end: Callable[[], None],
    ) -> None:
        """Begin to deliver what follows the hello, on the reader thread, in order.

        `on_fault` gets a line that could not be read and the id of its request, 0 where unknown;
        `on_end` comes last and once, when the peer is gone. Callbacks must be short: until one
        returns nobody is heard.
        """
        self._on_message, self._on_fault, self._on_end = on_message, on_fault, on_end
        self._listening.set()

    def send(self, message: Message) -> None:
        """Send a message; never blocks, whatever the peer does; nothing comes of it when it is gone."""
        self._sender.send(message)

    def silence(self) -> float:
        """Seconds since the peer's last line; ask from one watch thread, every quarter second or oftener."""
        return self._silence.look(time.monotonic())

    @property
    def broken(self) -> bool:
        """Whether the peer is known to be gone."""
        return self._ended or self._sender.broken

    def close(self, wait: float = 1.0) -> bool:
        """Send what is left for at most `wait` seconds and hang up; gives whether all went out."""
        done = self._sender.close(wait)
        self._listening.set()
        return done

    def _read(self) -> None:
        lines = self._lines()
        self._first.put(self._greeting(lines))
        self._listening.wait()
        for line in lines:
            try:
                message = self._decode(line)
            except LinkError as error:
                self._on_fault(error, request_of(line))
            else:
                self._on_message(message)
        self._on_end()

    def _greeting(self, lines: Iterator[bytes | None]) -> Message | LinkError:
        for line in lines:
            try:
                return self._decode(line)
            except LinkError as error:
                return error
        return Gone(self._peer, "ended before it said hello", "start it again")

    def _lines(self) -> Iterator[bytes | None]:
        framer = Framer()
        try:
            while data := os.read(self._reading, _CHUNK):
                for line in framer.feed(data):
                    self._silence.heard()
                    yield line
        except OSError:
            pass  # A broken pipe on Windows; the same as its end.
        self._ended = True
        os.close(self._reading)


def _nothing(*_: object) -> None:
    """Where nobody listens."""
