"""A relay held in by a serial port; here the pumped line: bytes at a fixed beat keep it in, silence drops it.

The beat is sent only while its permit holds, so that a recorder whose guard or meters stand still
lets go by itself. A process that dies lets go as well. A relay that may have dropped never pulls in
again by itself: any gap between two beats ends them until it is switched on anew.
"""

import abc
import logging
import threading
import time
from collections.abc import Callable
from dataclasses import replace

from benchlog.domain.offproof import CutOutcome, Finding
from benchlog.errors import BadInput, LinkError
from benchlog.instruments.line_port import HeldPort
from benchlog.recorder.cut import Ask, Done, Evidence

log = logging.getLogger(__name__)

BEAT = b"\x55"
"""Alternating bits: the most edges for a diode pump at a given rate."""
MARGIN = 0.3
LEAST_PATIENCE = 0.75
PULL_IN = 1.0
LONGEST_GAP = 0.6
"""Of its drop-out, the time between two beats after which a relay counts as dropped."""
BEATS_A_GAP = 1.5
"""A beat that is slow beside its drop-out is not a gap by itself."""
PARTING = 4.0
"""Seconds the thread of the beat has to end; a port on a network may take three to let go."""
UNSEEN = "by ear alone: no meter has seen its contacts open, the dial was at zero"
"""What the clicks do not prove."""
_SLEEPLESS: int | None = getattr(time, "CLOCK_BOOTTIME", None)
"""A clock that runs on while the machine is suspended, where there is one."""


def _now() -> float:
    """Seconds of a clock that goes on through a suspend, where the system has one."""
    return time.monotonic() if _SLEEPLESS is None else time.clock_gettime(_SLEEPLESS)


def _nobody(_reason: str) -> None:
    """Where nobody wants to hear of it."""


class HeldRelay(abc.ABC):
    """One mains relay on one serial port; `opener` opens the port with its lines as they are while it is out.

    What holds it in is told anew at each beat, on a thread of its own, which also lets go.
    `on_lost` hears why a relay that was switched on is held in no longer, on a thread of its own: that of the
    beat waits for nobody, since it alone lets go.
    """

    kind = "relay"
    automatic = True

    def __init__(
        self,
        name: str,
        opener: Callable[[], HeldPort],
        *,
        beat: float,
        drop_out: float,
        permit: Callable[[], bool],
        on_lost: Callable[[str], None] = _nobody,
    ) -> None:
        self.name = name
        self._opener = opener
        self._beat = beat
        self._drop_out = drop_out
        self._permit = permit
        self._on_lost = on_lost
        self._gap = self._longest_gap()
        self._sent = 0.0
        self._proving = False
        self._lost = ""
        self._cancelled = threading.Event()
        self._on = threading.Event()
        self._stop = threading.Event()
        self._woken = threading.Event()
        self._link = opener()
        self._fault: LinkError | None = None
        self._thread = threading.Thread(target=self._run, name=f"beat {name}", daemon=True)
        self._thread.start()

    @abc.abstractmethod
    def _longest_gap(self) -> float:
        """Seconds between two beats after which it counts as dropped."""

    @abc.abstractmethod
    def _prove(self, ask: Ask) -> str:
        """The moves of the proof; one sentence."""

    @abc.abstractmethod
    def _hold(self) -> None:
        """Hold it in for another beat; LinkError where that fails."""

    @abc.abstractmethod
    def _release(self) -> None:
        """Have it out; called again and again while it is, and once more at the end."""

    def prove(self, ask: Ask) -> str:
        """Out, in, and out again with the port freshly opened, at least; a person counts the clicks."""
        self._cancelled.clear()
        self._proving, self._lost = True, ""
        try:
            return f"{self._prove(ask)}; {UNSEEN}"
        finally:
            self._on.clear()
            self._proving = False

    def _dial_down(self, ask: Ask) -> None:
        """The dial at zero, and a port that is open: what a proof begins with."""
        if not ask(
            "set_dial", "Turn the variable transformer to zero: the relay is proven now.", {"fraction": 0.0}
        ):
            raise BadInput(self.name, "is not proven while the variable transformer is up", "turn it to zero")
        if self._fault is not None:
            self._reopen()

    def _begin(self) -> None:
        """Begin the beat for the proof, unless a cut came: also one that comes at this very moment."""
        self._wait(0.0)
        self._start()
        if self._cancelled.is_set():
            self._on.clear()

    def _wait(self, seconds: float) -> None:
        """Wait, unless a cut makes an end of the proof."""
        if self._cancelled.wait(seconds):
            raise BadInput(self.name, "was cut while it was being proven", "prove it again")

    def _reopen(self) -> None:
        self._link.close()
        try:
            self._link = self._opener()
        except LinkError as error:
            self._fault = error
            raise
        self._fault = None

    def _rest(self) -> None:
        self._on.clear()
        self._wait(self._drop_out + MARGIN)

    def _start(self) -> None:
        self._sent = _now()
        self._on.set()
        self._woken.set()

    def switch_on(self, done: Done) -> None:
        """Begin the beat."""
        if self._fault is not None:
            done(str(self._fault))
            return
        self._start()
        done("")

    def fire(self) -> None:
        """End the beat, and a proof under way; the relay drops by itself."""
        # In this order: a proof that begins its beat between the two ends it itself.
        self._cancelled.set()
        self._on.clear()
        self._woken.set()

    def confirm(self, evidence: Evidence) -> Finding:
        """A serial port cannot tell whether contacts opened: only the traces do."""
        found = evidence(self._drop_out + MARGIN)
        if self._fault is not None and found.outcome is CutOutcome.UNKNOWN:
            return replace(found, text=f"{found.text} ({self._fault.problem})")
        return found

    def patience(self, rate: float) -> float:
        """Its drop-out, and a second and a half for the meters."""
        return self._drop_out + max(1.5 / rate, LEAST_PATIENCE)

    def close(self) -> None:
        """End the beat and let go of the port."""
        self._stop.set()
        self.fire()
        self._thread.join(PARTING)
        self._link.close()

    def _run(self) -> None:
        try:
            while not self._stop.is_set():
                self._woken.wait(self._beat)
                self._woken.clear()
                if self._on.is_set():
                    self._beat_once(self._permit())
                if not self._on.is_set():
                    self._release()
        finally:
            # However it ends, also by a bug: nobody else lets go.
            self._on.clear()
            self._release()
            self._link.close()

    def _beat_once(self, permitted: bool) -> None:
        """Send a beat, or find that the relay may have dropped since the last one."""
        if self._late():
            why = (
                "its beat stood still, as on a computer too busy or asleep"
                if permitted
                else "benchlog or a meter stood still, so its beat did"
            )
            self._lose(f"{why}, and it stays out")
            return
        if not (permitted and self._on.is_set()):
            return
        try:
            self._hold()
        except LinkError as error:
            # The port is gone, and with it what holds the relay: it drops by itself.
            log.error("%s", error)
            self._fault = error
            self._lose(error.problem)
            return
        if self._late():
            self._lose("its port did not take the beat in time, and it stays out")
        self._sent = _now()

    def _late(self) -> bool:
        return _now() - self._sent > self._gap

    def _lose(self, reason: str) -> None:
        """Held in no longer, until it is switched on anew."""
        if not self._on.is_set():
            return  # A cut came before.
        self._on.clear()
        # Before anybody is told, but not for longer than one try: who hears of it has other ways to switch off.
        self._release()
        log.error("%s: %s", self.name, reason)
        if self._proving:
            self._lost = reason
        else:
            tell = threading.Thread(
                target=self._on_lost, args=(reason,), name=f"lost {self.name}", daemon=True
            )
            tell.start()


class PumpedRelay(HeldRelay):
    """On a pumped line: only a living guard keeps sending bytes, and silence drops it."""

    def _longest_gap(self) -> float:
        return max(LONGEST_GAP * self._drop_out, BEATS_A_GAP * self._beat)

    def _prove(self, ask: Ask) -> str:
        self._dial_down(ask)
        self._rest()
        self._begin()
        self._wait(PULL_IN)
        self._rest()
        fault = self._fault
        self._reopen()
        if fault is not None:
            raise fault
        if self._lost:
            raise BadInput(self.name, f"was not held in: {self._lost}", "prove again")
        self._wait(self._drop_out + MARGIN)
        text = "The relay should have clicked in once, then out, and stayed out. Did it?"
        if not ask("relay_clicked", text, {"times": 2}):
            raise BadInput(
                self.name, "did not click in and out", "check its line and its supply, then prove again"
            )
        self._wait(0.0)
        return f"{self.name}, on a pumped line: in, out, and out with its port freshly opened"

    def _hold(self) -> None:
        self._link.send(BEAT)

    def _release(self) -> None:
        """Silence does it."""
