"""A programmable supply as an off-switch: one whole line, on a connection kept for the cut where it takes one."""

import logging
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Protocol

from benchlog.domain.offproof import FAILED, CutOutcome, Finding
from benchlog.domain.quantity import show
from benchlog.domain.reading import SupplyState
from benchlog.errors import LinkError, Refused
from benchlog.recorder.clock import SECOND, wire_now
from benchlog.recorder.cut import Ask, Done, Evidence

log = logging.getLogger(__name__)

TurnOn = Callable[[Callable[[], bool], Done], None]
"""Switch the outputs on, unless the first call says at that moment that they were cut; then tell."""

DEAD_VOLTS, DEAD_SHARE = 1.0, 0.05
"""Volts, and share of the volts before the cut, below which an output has nothing to say any more."""
FALL = 0.01
"""Share of its volts that an output must lose to count as falling: more than a supply's own digits do."""
FALL_SECONDS = 0.05
"""Wire seconds that must lie between two readings of which the later is to be lower."""
READINGS = 64
"""Readings kept of an output that stands; a cut may be followed for hours."""
OWN_SECONDS = 2.0
"""Wire seconds in which it must read off and charged reservoirs be seen falling, in a proof and after a cut."""
LONGEST_SEND = 0.05
"""Seconds a cut waits for another thread that is sending the very same line."""


class Control(Protocol):
    """What a cut needs of a supply: on a connection of its own, or on the one that is also read."""

    def send_off(self) -> None:
        """Send the one line that switches every output off; from any thread."""

    def all_off(self) -> bool:
        """Whether every output says that it is off."""

    def ask_state(self, output: str) -> SupplyState:
        """What an output does."""

    def ask_volts(self, output: str) -> float:
        """Measure an output's voltage, V."""

    def refusal(self) -> str:
        """What the supply's error queue says."""

    def close(self) -> None:
        """Let go of it."""


class Terminals:
    """One output's volts since the cut: at nothing, falling, or standing."""

    def __init__(self, before: float) -> None:
        self._floor = max(DEAD_VOLTS, DEAD_SHARE * before)
        self._first = 0.0
        self._read: deque[tuple[int, float]] = deque(maxlen=READINGS)

    def reading(self, at: int, volts: float) -> None:
        """Take a reading of this wire time, ns."""
        if not self._read:
            self._first = abs(volts)
        self._read.append((at, abs(volts)))

    @property
    def dead(self) -> bool:
        """Whether hardly anything is left."""
        return bool(self._read) and self._read[-1][1] < self._floor

    @property
    def falling(self) -> bool:
        """Whether it has lost some since the first reading, and is losing still."""
        if not self._read:
            return False
        last_at, last = self._read[-1]
        earlier = [volts for at, volts in self._read if last_at - at >= FALL_SECONDS * SECOND]
        return bool(earlier) and last < earlier[-1] and last <= (1.0 - FALL) * self._first

    @property
    def text(self) -> str:
        """Its volts as said."""
        fall = " and falling" if self.falling and not self.dead else ""
        return show(self._read[-1][1], "V") + fall


class SupplySwitch:
    """Switches every output of a supply off; reads state and volts back on the same connection.

    `at_once` is false where a send may block, as on a serial line: then a thread of its own sends.
    """

    kind = "supply"
    automatic = True

    def __init__(
        self,
        name: str,
        opener: Callable[[], Control],
        turn_on: TurnOn,
        outputs: tuple[str, ...],
        *,
        reopener: Callable[[], Control] | None = None,
        at_once: bool = True,
    ) -> None:
        self.name = name
        self._reopener = reopener or opener
        self._turn_on = turn_on
        self._outputs = outputs
        self._lock = threading.Lock()
        """Held for a send; every send is the same line."""
        self._talking = threading.Lock()
        """Held for questions and their answers; a cut does not wait for it."""
        self._cut = False
        self._asked = 0
        """Wire time of the cut; nought while there was none since it was proven or switched on."""
        self._failed: Finding | None = None
        """What it read after its own time, where it was still on."""
        self._turning_on = False
        self._closed = False
        self._before: dict[str, float] = {}
        self._terminals: dict[str, Terminals] = {}
        self._control: Control | None = opener()
        self._owed = threading.Event()
        self._paid = threading.Event()
        """Set while no off line is owed."""
        self._paid.set()
        self._paying = threading.Lock()
        """Held while one of these two changes with the other; never for a send."""
        self._at_once = at_once
        if not at_once:
            threading.Thread(target=self._send_owed, name=f"off line {name}", daemon=True).start()

    def prove(self, _ask: Ask) -> str:
        """Send the cut and read back that every output is off, and that its volts go or are gone."""
        self._cut = True
        self._begin_anew()
        self._send()
        until = wire_now() + int(OWN_SECONDS * SECOND)
        while True:
            finding = self._look_at_it()
            if finding.outcome is not CutOutcome.STILL_LIVE or wire_now() > until:
                break
            time.sleep(FALL_SECONDS)
        if finding.outcome is not CutOutcome.VERIFIED:
            raise Refused(self.name, finding.text, "check the supply and prove again")
        return f"{self.name}: {finding.text}"

    def switch_on(self, done: Done) -> None:
        """Switch the outputs on, through the connection that also sets them.

        Two connections keep no order between them: a cut that came meanwhile is sent again at the end.
        """

        def ended(fault: str) -> None:
            if self._cut:
                self.fire()
            self._turning_on = False
            done(fault)

        self._cut = False
        self._begin_anew()
        self._turning_on = True
        self._turn_on(lambda: self._cut, ended)

    def fire(self) -> None:
        """Send the one line that switches everything off; a dead wire is the cut thread's matter."""
        if not self._cut:
            self._terminals = {}
        self._cut = True
        if self._at_once:
            self._send()
        else:
            with self._paying:
                self._paid.clear()
                self._owed.set()
        self._asked = self._asked or wire_now()

    def _begin_anew(self) -> None:
        """Nothing is known of a cut."""
        self._terminals = {}
        self._asked, self._failed = 0, None

    def _send(self) -> None:
        control = self._control
        # Whoever holds the lock that long is sending this very line.
        if control is None or not self._lock.acquire(timeout=LONGEST_SEND):
            return
        try:
            control.send_off()
        except LinkError as error:
            log.error("%s", error)
        finally:
            self._lock.release()

    def _send_owed(self) -> None:
        while not self._closed:
            self._owed.wait()
            self._owed.clear()
            self._send()
            with self._paying:
                if not self._owed.is_set():
                    self._paid.set()

    def was_let_go(self, seconds: float) -> bool:
        """Whether the off line that a thread of its own sends has left, waited for at most so long."""
        return self._paid.wait(seconds)

    def keep(self) -> None:
        """Show that the connection still carries: ask on it, and open it again where it is dead.

        A cut does not wait for it; one that comes while there is no connection is sent on the next.
        """
        if not self._talking.acquire(blocking=False):
            return
        try:
            self._keep()
        except LinkError as error:
            log.error("the connection for the cut: %s", error)
            self._lose()
        finally:
            self._talking.release()

    def _keep(self) -> None:
        control = self._control
        if control is not None:
            try:
                self._look(control)
                return
            except LinkError as error:
                log.warning("the connection for the cut is opened again: %s", error)
                self._lose()
        if not self._closed:
            self._look(self._reach())

    def _look(self, control: Control) -> None:
        """Ask as a cut would, and remember what stands at the outputs while nothing is cut."""
        control.all_off()
        volts = {output: abs(control.ask_volts(output)) for output in self._outputs}
        if not self._cut:
            self._before = volts

    def confirm(self, _evidence: Evidence) -> Finding:
        """Read back; one that was still on after its own time has failed, whatever makes an end of it later."""
        found = self._look_at_it()
        failed, waited = self._failed, (wire_now() - self._asked) / SECOND
        if failed is None:
            if found.outcome in FAILED and self._asked and waited > OWN_SECONDS:
                self._failed = found
            return found
        if found.outcome in FAILED:
            return found
        return Finding(failed.outcome, f"{failed.text}; {found.text} after {waited:.1f} s", found.seen_off)

    def _look_at_it(self) -> Finding:
        """Ask again where an output is still on, open the wire again where it is gone."""
        if self._turning_on:
            return Finding(CutOutcome.UNKNOWN, "the supply is being switched on: pull the plug")
        with self._talking:
            try:
                return self._read_back(self._reach())
            except LinkError as error:
                self._lose()
                text = f"the supply does not answer ({error.problem}): pull the plug"
                return Finding(CutOutcome.UNKNOWN, text)

    def _read_back(self, control: Control) -> Finding:
        if control.all_off():
            return self._by_volts(control)
        live = [output for output in self._outputs if control.ask_state(output) is not SupplyState.OFF]
        self._send()
        volts = ", ".join(f"{output}: {show(control.ask_volts(output), 'V')}" for output in live)
        refusal = control.refusal()
        if refusal:
            return Finding(CutOutcome.REFUSED, f"the supply refuses: {refusal}; pull the plug")
        return Finding(CutOutcome.STILL_LIVE, f"STILL LIVE: output {volts}" if volts else "STILL LIVE")

    def _by_volts(self, control: Control) -> Finding:
        """Its word alone is no proof: a relay may hang, or something else feed the output."""
        terminals = self._terminals
        for output in self._outputs:
            seen = terminals.setdefault(output, Terminals(self._before.get(output, 0.0)))
            seen.reading(wire_now(), control.ask_volts(output))
        stands = [name for name in self._outputs if not (terminals[name].dead or terminals[name].falling)]
        if stands:
            volts = ", ".join(f"{terminals[name].text} stand at its output {name}" for name in stands)
            return Finding(CutOutcome.STILL_LIVE, f"STILL LIVE: the supply says off, and {volts}")
        volts = ", ".join(terminals[output].text for output in self._outputs)
        return Finding(CutOutcome.VERIFIED, f"the supply answers: off, {volts}")

    def _reach(self) -> Control:
        control = self._control
        if control is None:
            control = self._control = self._reopener()
            # After it can be found: a cut that came before found none to send on.
            if self._cut:
                self._send()
        return control

    def _lose(self) -> None:
        control, self._control = self._control, None
        if control is not None:
            control.close()

    def patience(self, _rate: float) -> float:
        """A supply answers at once or not at all."""
        return 1.0

    def close(self) -> None:
        """Let go of the connection."""
        self._closed = True
        self._owed.set()
        self._lose()
