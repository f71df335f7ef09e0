"""A relay held in by the level of RTS or DTR: second best, since whoever hangs holds it in.

The guard's permit is asked for at each beat as on a pumped line, and a gap between two beats lets go. But a process
that hangs whole, a computer that sleeps, or an adapter that stands still sends nothing either way, and the level
stays. What the port does when it closes, as it does when the program dies, is asked for in the proof.
"""

import math
import threading
import time
from collections.abc import Callable

from benchlog.errors import BadInput, LinkError
from benchlog.instruments.line_port import HeldPort
from benchlog.recorder.cut import Ask
from benchlog.recorder.off_relay import PULL_IN, HeldRelay, log

BEAT = 0.05
"""Seconds between two looks at the permit and at the port."""
GAP = 0.6
"""Seconds without a look after which whatever the relay did meanwhile is not known any more."""
AGAIN = 1.0
"""Seconds between two attempts to open a broken port anew, to let go of what it holds in."""

_CLICKED = "The relay should have clicked in once, then out. Did it?"
_CLOSED = "It clicked in again, and then its port was closed. Did it click out by itself?"
_AFRESH = "Its port is open again, as it is before a run. Is the relay out?"


class LevelRelay(HeldRelay):
    """A relay on the line `line` (`rts` or `dtr`) of its port; in while that is high, or low where not `high`."""

    def __init__(
        self,
        name: str,
        opener: Callable[[], HeldPort],
        *,
        line: str,
        high: bool,
        drop_out: float,
        permit: Callable[[], bool],
        on_lost: Callable[[str], None],
    ) -> None:
        self._line = line
        self._high = high
        self._held = False
        self._anew_at = math.inf
        """When its port is opened anew to let go; never while that takes orders."""
        self._using = threading.Lock()
        """The port is in use; never taken by whoever fires."""
        self._away = False
        """Whether its port is closed on purpose, with the line held."""
        self._free = threading.Event()
        """Set while the line is not held."""
        self._free.set()
        super().__init__(name, opener, beat=BEAT, drop_out=drop_out, permit=permit, on_lost=on_lost)

    def was_let_go(self, seconds: float) -> bool:
        """Whether the line is let go, waited for at most so long; asked after `fire`."""
        until = time.monotonic() + seconds
        # Whoever pulls it in just now has not seen that it was fired.
        if not self._using.acquire(timeout=seconds):
            return False
        # A proof that has it closed on purpose is over: nobody will tell whether it fell by itself.
        self._away = False
        self._using.release()
        return self._free.wait(max(until - time.monotonic(), 0.0))

    def _longest_gap(self) -> float:
        return GAP

    def _prove(self, ask: Ask) -> str:
        """Out, in, out; in, out by closing the port; and out with the port freshly opened. A person hears it."""
        self._dial_down(ask)
        self._rest()
        self._pull_in()
        self._rest()
        self._must(ask("relay_clicked", _CLICKED, {"times": 2}), "did not click in and out")
        self._pull_in()
        try:
            self._shut()
            self._wait(self._drop_out)
            falls = ask("relay_clicked", _CLOSED, {"times": 2})
            self._wait(0.0)
        finally:
            # At rest in any case, also where a cut came: an adapter may have kept its line as it was.
            self._reopen()
        self._rest()
        self._must(ask("relay_clicked", _AFRESH, {"times": 0}), "was not out with its port freshly opened")
        died = "a program that dies lets it go" if falls else "a PROGRAM THAT DIES HOLDS IT IN"
        return (
            f"{self.name}, held by the level of {self._line.upper()} (second best): in and out twice, and out with "
            f"its port freshly opened; {died}; one that hangs, or a computer that sleeps, holds it in"
        )

    def _pull_in(self) -> None:
        self._begin()
        self._wait(PULL_IN)
        if self._fault is not None:
            raise self._fault
        if self._lost:
            raise BadInput(self.name, f"was not held in: {self._lost}", "prove again")

    def _must(self, yes: bool, problem: str) -> None:
        self._wait(0.0)
        if not yes:
            fix = "check its line, its level and its supply, then prove again"
            raise BadInput(self.name, problem, fix)

    def _shut(self) -> None:
        """Close the port as a dying program would: with the relay held in."""
        with self._using:
            self._on.clear()
            self._away = True
            self._link.shut()

    def _hold(self) -> None:
        with self._using:
            if not self._on.is_set():
                return
            if not self._held:
                # Before it is done: whoever comes next must lower it, even where it failed on the way.
                self._held = True
                self._free.clear()
                self._link.set_line(self._line, self._high)
            else:
                self._link.check()

    def _reopen(self) -> None:
        with self._using:
            self._away = False
            super()._reopen()
            self._is_free()

    def _is_free(self) -> None:
        """The line is at rest, as far as its port was told."""
        self._held = False
        self._anew_at = math.inf
        self._free.set()

    def _release(self) -> None:
        """Have the line at rest; where its port broke, that is opened anew until it is.

        A connection that breaks may leave the line as it was: the far end need not notice. The fault stays
        either way, so that it is not switched on again before it is proven on the port as it is now.
        """
        with self._using:
            if not self._held or self._away:
                return
            try:
                if time.monotonic() >= self._anew_at:
                    self._open_to_let_go()
                self._link.set_line(self._line, not self._high)
            except LinkError as error:
                # Tried again at the next beat: an order that was not answered may not have been heard.
                if self._fault is None:
                    log.error("%s", error)
                    self._fault = error
                if self._anew_at == math.inf:
                    self._anew_at = time.monotonic()
                return
            self._is_free()

    def _open_to_let_go(self) -> None:
        """Open its port anew, its line at rest from the opening."""
        self._link.close()
        try:
            self._link = self._opener()
        finally:
            self._anew_at = time.monotonic() + AGAIN
