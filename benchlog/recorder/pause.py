"""Switching off for a change between two stages: through the off-switch, and seen off before anything is touched.

It is no end of the run: what was switched off so is switched on again. A cut goes before it at every moment.
"""

import threading
from collections.abc import Callable, Sequence

from benchlog.domain.offproof import CutOutcome, Finding
from benchlog.recorder.clock import SECOND, wire_now
from benchlog.recorder.cut import Evidence, OffSwitch

PAUSE = 0.05
METERS = 10.0
"""Plan seconds that meters and rails have to show what off-switches have done."""
_WORST_FIRST = (CutOutcome.STILL_LIVE, CutOutcome.REFUSED, CutOutcome.UNKNOWN, CutOutcome.VERIFIED)


class Pause:
    """Off for a change: fires what is automatic, or waits for a hand, and tells `done` what came of it.

    `evidence` is what the traces say, `fallen` what of them shows a hand's off; `rate` is the speed of plan time.
    """

    def __init__(
        self,
        switches: Sequence[OffSwitch],
        evidence: Evidence,
        fallen: Callable[[], str],
        rate: float,
        done: Callable[[Finding], None],
    ) -> None:
        self._automatic = [switch for switch in switches if switch.automatic]
        self._evidence = evidence
        self._fallen = fallen
        self._rate = rate
        self._done = done
        self._over = threading.Event()
        self._told = threading.Event()
        for switch in self._automatic:
            switch.fire()
        self._thread = threading.Thread(target=self._run, name="pause", daemon=True)
        self._thread.start()

    def hand_done(self) -> None:
        """A person says that it is off: the meters must show it soon."""
        self._told.set()

    def stop(self) -> None:
        """Nobody wants to know any more."""
        self._over.set()
        self._told.set()

    def _run(self) -> None:
        if not self._automatic:
            self._told.wait()
        patience = max((switch.patience(self._rate) for switch in self._automatic), default=0.0)
        until = wire_now() + int((patience + METERS / self._rate) * SECOND)
        while not self._over.is_set():
            finding = self._find()
            if finding.outcome is CutOutcome.VERIFIED or wire_now() > until:
                if not self._over.is_set():
                    self._done(finding)
                return
            self._over.wait(PAUSE)

    def _find(self) -> Finding:
        if self._automatic:
            found = [switch.confirm(self._evidence) for switch in self._automatic]
            return min(found, key=lambda finding: _WORST_FIRST.index(finding.outcome))
        finding = self._evidence()
        if finding.outcome is CutOutcome.UNKNOWN and (shown := self._fallen()):
            return Finding(CutOutcome.VERIFIED, shown)
        return finding
