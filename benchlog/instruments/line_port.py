"""One serial port of which the lines matter: a relay hangs on it, or pedals, or both; it is open once for all of them.

Whoever holds a relay has the say: it opens the port anew whenever it wants, and shuts it, while pedals only look.
Where no relay has the port open, the first look of a pedal opens it.
"""

import threading
from collections.abc import Callable

from benchlog.errors import LinkError
from benchlog.instruments.link_serial import SerialLink

OpenLines = Callable[[frozenset[str]], SerialLink]
"""Opens the port with these of its lines high from before."""


class LinePort:
    """A port by `opener`; `fed` are the lines held high to feed pedals, of which there are some where `pedals`.

    Every method may be called from any thread. Opening blocks the others, for as long as it takes.
    """

    def __init__(self, opener: OpenLines, fed: frozenset[str] = frozenset(), *, pedals: bool = False) -> None:
        self._opener = opener
        self._fed = fed
        self._pedals = pedals
        self._rest = frozenset[str]()
        self._lock = threading.Lock()
        self._link: SerialLink | None = None
        self.opened = 0
        """How many times it was opened."""
        self.shut = False
        """Whether it is closed on purpose: nothing can be read, and nothing is wrong."""

    def afresh(self, rest: frozenset[str] = frozenset(), *, falls: bool = True) -> "HeldPort":
        """Open it anew for a relay, whatever had it open before.

        `rest` are the lines that are high while the relay is out; where `falls` the system lowers all of them
        when the port closes. Refused or TimedOut where it does not open.
        """
        with self._lock:
            self._close()
            self._rest = rest
            link = self._open()
            link.fall_on_close(fall=falls)
            return HeldPort(self, link)

    def lines(self) -> frozenset[str] | None:
        """Which of `cts` and `dsr` are high; None where nobody can tell just now. LinkError where it is dead."""
        with self._lock:
            if self.shut:
                return None
            try:
                return (self._link or self._open()).lines()
            except LinkError:
                self._close()
                raise

    def close(self) -> None:
        """Close it, for now."""
        with self._lock:
            self._close()

    def shut_by(self, link: SerialLink) -> None:
        """A relay closes it on purpose; until that opens it anew no look of a pedal does."""
        with self._lock:
            if self._link is link:
                self._close()
                self.shut = True

    def left_by(self, link: SerialLink) -> None:
        """A relay needs it no more; it stays open for pedals, since opening anew moves the lines of many adapters."""
        with self._lock:
            if self._link is link and not self._pedals:
                self._close()
            elif self._link is None:
                self.shut = False

    def _open(self) -> SerialLink:
        self.shut = False
        self._link = self._opener(self._fed | self._rest)
        self.opened += 1
        return self._link

    def _close(self) -> None:
        link, self._link = self._link, None
        if link is not None:
            link.close()


class HeldPort:
    """A port as a relay has it, from one opening to the next."""

    def __init__(self, port: LinePort, link: SerialLink) -> None:
        self._port = port
        self._link = link

    def send(self, data: bytes) -> None:
        """Send bytes; Gone where the port does not take them."""
        self._link.send(data)

    def set_line(self, line: str, high: bool) -> None:
        """Raise or lower `rts` or `dtr`; Gone where the port does not take it."""
        self._link.set_line(line, high)

    def check(self) -> None:
        """Gone where the port is dead."""
        self._link.lines()

    def shut(self) -> None:
        """Close it on purpose, its lines left as they are."""
        self._port.shut_by(self._link)

    def close(self) -> None:
        """Leave it."""
        self._port.left_by(self._link)
