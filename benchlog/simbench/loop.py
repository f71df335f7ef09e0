"""One loop for all wires and timers of the far end, punctual to a fraction of a millisecond.

`select` and not `epoll`: the standard library rounds the latter's waits up to whole milliseconds.
"""

import heapq
import select
import time
from collections.abc import Callable

LONGEST_WAIT = 0.5


class Timer:
    """Something to do at a moment of real time; `cancel` forgets it."""

    __slots__ = ("do", "when")

    def __init__(self, when: float, do: Callable[[], None]) -> None:
        self.when = when
        self.do: Callable[[], None] | None = do

    def cancel(self) -> None:
        """Do it never."""
        self.do = None


class Loop:
    """Calls what is due and what has bytes to read, until stopped."""

    def __init__(self) -> None:
        self._readers: dict[int, Callable[[], None]] = {}
        self._fds: list[int] = []
        self._due: list[tuple[float, int, Timer]] = []
        self._count = 0
        self._running = True

    def watch(self, fd: int, do: Callable[[], None]) -> None:
        """Call `do` whenever there is something to read from `fd`."""
        self._readers[fd] = do
        self._fds = list(self._readers)

    def unwatch(self, fd: int) -> None:
        """Look at `fd` no more; before it is closed."""
        self._readers.pop(fd, None)
        self._fds = list(self._readers)

    def at(self, when: float, do: Callable[[], None]) -> Timer:
        """Call `do` at that moment of `time.monotonic()`."""
        timer = Timer(when, do)
        self._count += 1
        heapq.heappush(self._due, (when, self._count, timer))
        return timer

    def after(self, seconds: float, do: Callable[[], None]) -> Timer:
        """Call `do` that many real seconds from now."""
        return self.at(time.monotonic() + seconds, do)

    def stop(self) -> None:
        """End `run` soon; may be called from a signal handler or another thread."""
        self._running = False

    def run(self) -> None:
        """Work until stopped."""
        while self._running:
            self.turn(LONGEST_WAIT)

    def turn(self, longest: float) -> None:
        """Wait for one thing to happen, `longest` seconds at most, and see to all that did."""
        wait = longest
        if self._due:
            wait = min(wait, max(0.0, self._due[0][0] - time.monotonic()))
        for fd in select.select(self._fds, (), (), wait)[0]:
            # An earlier one of this turn may have closed it.
            do = self._readers.get(fd)
            if do is not None:
                do()
        now = time.monotonic()
        while self._due and self._due[0][0] <= now:
            timer = heapq.heappop(self._due)[2]
            if timer.do is not None:
                timer.do()
