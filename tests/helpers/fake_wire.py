"""A wire and a clock in one, for tests of time: waiting costs nothing and is exact."""

from collections.abc import Callable

from benchlog.errors import Gone

Script = Callable[[str], list[tuple[float, bytes]]]
"""Given a line, what comes back: (seconds after it was begun, bytes) each."""


class FakeWire:
    """A link whose far end follows a script, one question after the other; time passes while somebody waits.

    Attributes:
        now: monotonic ns.
        heard: the lines sent, with their times in seconds.
        longest_wait: the longest single wait, in seconds.
        dead: whether the far end is gone.
    """

    def __init__(self, script: Script) -> None:
        self.script = script
        self.now = 10_000_000_000
        self.heard: list[tuple[float, str]] = []
        self.longest_wait = 0.0
        self.dead = False
        self.closed = False
        self.woken = 0
        self._busy_until = 0
        self._coming: list[tuple[int, bytes]] = []
        self._rest = b""

    def clock(self) -> int:
        """The time."""
        return self.now

    @property
    def lines(self) -> list[str]:
        """The lines sent."""
        return [line for _, line in self.heard]

    def say(self, data: bytes, after: float = 0.0) -> None:
        """Have bytes come unasked."""
        self._coming.append((self.now + round(after * 1e9), data))
        self._coming.sort(key=lambda entry: entry[0])

    def pass_time(self, seconds: float) -> None:
        """Let time pass while nobody looks."""
        self.now += round(seconds * 1e9)

    def send(self, data: bytes) -> None:
        """Take lines and schedule what comes back."""
        if self.dead:
            raise Gone("fake", "is dead")
        *lines, self._rest = (self._rest + data).split(b"\n")
        for line in lines:
            text = line.decode("ascii")
            self.heard.append((self.now * 1e-9, text))
            begun = max(self.now, self._busy_until)
            for after, reply in self.script(text):
                self._busy_until = begun + round(after * 1e9)
                self.say(reply, (self._busy_until - self.now) * 1e-9)

    def receive(self, wait: float) -> bytes:
        """What comes next within `wait` seconds."""
        self.longest_wait = max(self.longest_wait, wait)
        until = self.now + round(wait * 1e9)
        if self._coming and self._coming[0][0] <= until:
            at, data = self._coming.pop(0)
            self.now = max(self.now, at)
            return data
        if self.dead:
            raise Gone("fake", "is dead")
        self.now = until
        return b""

    def drain(self, quiet: float) -> bytes:
        """Wait for silence."""
        got = b""
        while data := self.receive(quiet):
            got += data
        return got

    def wake(self) -> None:
        """Count it."""
        self.woken += 1

    def close(self) -> None:
        """Remember it."""
        self.closed = True
