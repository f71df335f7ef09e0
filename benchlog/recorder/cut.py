"""Off-switches: three kinds behind one interface, with the same outcomes.

`fire` leaves at once and never blocks; what follows (reading back, repeating, escalating) is done by
the off-switch's own cut thread. A cut is true only when the far end says so.
"""

import math
import threading
from collections.abc import Callable
from typing import Protocol, runtime_checkable

from benchlog.domain.offproof import CutOutcome, Finding
from benchlog.recorder.clock import SECOND, wire_now

Ask = Callable[[str, str, dict[str, object]], bool]
"""Ask a person: kind, sentence, data; blocks until answered, false where it was not done."""

Done = Callable[[str], None]
"""Told that something was carried out: an empty text, or the sentence of what went wrong."""


class Evidence(Protocol):
    """What the traces say about the cut so far."""

    def __call__(self, acts: float = math.inf) -> Finding:
        """Of an off-switch that acts within so many wire seconds if it works; of the unit, where none is given."""


class OffSwitch(Protocol):
    """One way to switch the unit off."""

    name: str
    kind: str
    automatic: bool

    def prove(self, ask: Ask) -> str:
        """Show that it works before anything is live; one sentence. Raises LinkError or BadInput."""

    def switch_on(self, done: Done) -> None:
        """Let the unit be on; `done` hears of it, with what went wrong or nothing."""

    def fire(self) -> None:
        """Ask for off; from any thread, at once, without waiting for anything."""

    def confirm(self, evidence: Evidence) -> Finding:
        """Called again and again by the cut thread until verified: read back, repeat what is needed."""

    def patience(self, rate: float) -> float:
        """Wire seconds after which an off that is not proven is a matter for the alarm.

        `rate` is the speed of plan time, which people and meters keep to; wires and relays do not.
        """

    def close(self) -> None:
        """Let go of its wire."""


@runtime_checkable
class Kept(Protocol):
    """An off-switch whose wire is to be used now and then, so that it does not die unseen."""

    def keep(self) -> None:
        """Use it, and open it again where it is dead; never holds up `fire`."""


@runtime_checkable
class Lagging(Protocol):
    """An off-switch whose off is carried out by a thread of its own: fired, it may not have left yet."""

    def was_let_go(self, seconds: float) -> bool:
        """Whether it has left, waited for so many real seconds at most; what that did nobody knows yet."""


class CutThread:
    """Fires one off-switch, then follows it in a thread of its own until the far end is seen off.

    `on_finding(name, finding, asked, now)` hears each change of outcome; `on_overdue(name)` when the
    off-switch's patience is over without proof, and again now and then as long as there is none.
    """

    PAUSE = 0.05
    KEEP = 2.0
    """Seconds between two uses of a wire that waits for a cut."""
    INSIST = 5.0
    """Wire seconds after which a person is called again, as long as it is not seen off."""
    PARTING = 2.0
    """Seconds its thread has to end; one that hangs is left behind."""

    def __init__(
        self,
        switch: OffSwitch,
        evidence: Evidence,
        on_finding: Callable[[str, Finding, int, int], None],
        on_overdue: Callable[[str], None],
        rate: float,
    ) -> None:
        self.switch = switch
        self._rate = rate
        self.asked = 0
        self.finding: Finding | None = None
        self._evidence = evidence
        self._on_finding = on_finding
        self._on_overdue = on_overdue
        self._followed = threading.Event()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"cut {switch.name}", daemon=True)
        self._thread.start()

    def fire(self) -> None:
        """Ask for off, here and now."""
        self.switch.fire()
        if not self.asked:
            self.asked = wire_now()

    def follow(self) -> None:
        """Let the thread take it from here, since whoever fired has noted that the run is over.

        Not earlier: a supply may be seen off within a millisecond, and what that ends must have begun.
        """
        self._followed.set()

    def stop(self) -> None:
        """End the thread; the off-switch itself stays as it is."""
        self._stop.set()
        self._followed.set()
        self._thread.join(self.PARTING)
        last = self.finding
        if last is not None and last.outcome is CutOutcome.ASKED and not self._thread.is_alive():
            # Nobody looks any more: what was not proven by now is told as what it is.
            self._say(self.switch.confirm(self._evidence), self.asked)

    def _run(self) -> None:
        while not self._followed.wait(self.KEEP):
            if isinstance(self.switch, Kept) and not self.asked:
                self.switch.keep()
        if self._stop.is_set():
            return
        asked = self.asked
        self._say(Finding(CutOutcome.ASKED, "asked"), asked)
        due = 0
        while not self._stop.is_set():
            finding = self.switch.confirm(self._evidence)
            waited = wire_now() - asked
            late = waited > self.switch.patience(self._rate) * SECOND
            # An off that nothing proves yet is still only asked, until it should have been seen.
            if finding.seen_off or finding.outcome is CutOutcome.REFUSED or late:
                self._look(finding, asked)
            if finding.seen_off:
                return
            if late and waited >= due:
                due = waited + int(self.INSIST * SECOND)
                self._on_overdue(self.switch.name)
            self._stop.wait(self.PAUSE)

    def _look(self, finding: Finding, asked: int) -> None:
        """Tell it where it is news."""
        last = self.finding
        if last is None or (last.outcome, last.seen_off) != (finding.outcome, finding.seen_off):
            self._say(finding, asked)

    def _say(self, finding: Finding, asked: int) -> None:
        self.finding = finding
        self._on_finding(self.switch.name, finding, asked, wire_now())
