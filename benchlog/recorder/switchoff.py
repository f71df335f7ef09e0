"""Switching off, and following it until the far end is seen off: cuts, evidence, alarm, the person's word."""

import logging
import math
import threading
from collections.abc import Callable

from benchlog.domain.guard import Guard
from benchlog.domain.offproof import FAILED, CutOutcome, Finding, OffProof
from benchlog.errors import BadInput
from benchlog.recorder import messages
from benchlog.recorder.clock import SECOND, wire_now
from benchlog.recorder.cut import CutThread, Lagging, OffSwitch
from benchlog.recorder.means import Means
from benchlog.recorder.pause import Pause

log = logging.getLogger(__name__)

PROOF_HOLDS = 4 * 3600.0
"""Wire seconds for which the proof of an off-switch holds."""
DRILL_SECONDS = 10.0
"""Plan seconds within which a drill of the off-switch must be seen."""
LAST_WAIT = 5.0
"""Wire seconds that a program with a bug waits for its last orders to leave: a port on a network may take three."""

BEST_FIRST = (
    CutOutcome.VERIFIED,
    CutOutcome.STILL_LIVE,
    CutOutcome.REFUSED,
    CutOutcome.UNKNOWN,
    CutOutcome.ASKED,
)
WORST_FIRST = (*BEST_FIRST[1:], CutOutcome.VERIFIED)


class SwitchOff:
    """All off-switches of a run. `lock` is the run's guard lock.

    `is_off(t, seen)` hears that it is off: `seen` by the meters, or else by a person's word.
    """

    def __init__(
        self,
        switches: list[OffSwitch],
        guard: Guard,
        lock: threading.Lock,
        means: Means,
        is_off: Callable[[int, bool], None],
    ) -> None:
        self.switches = switches
        self.told_off = False
        self._guard = guard
        self._lock = lock
        self._means = means
        self._is_off = is_off
        self._proven: dict[str, int] = {}
        self._off_proof: OffProof | None = None
        self._called = False
        """Whether a person was called as well at the cut, by alarm or prompt."""
        self._overdue_told: set[str] = set()
        self._drill_told: int | None = None
        self._drill_seen: int | None = None
        self._pause: Pause | None = None
        self._put_off = False
        """Whether it was seen off for a change and is not to be on again yet: what showed that is proof still."""
        self.told: list[str] = []
        """What a person said in the proof."""
        self._fired = threading.Event()
        rate = means.clock.rate
        # Relay and hand first: they never wait for a wire, a supply may.
        ordered = sorted(switches, key=lambda switch: switch.kind == "supply")
        self._cuts = [
            CutThread(switch, self._evidence, self._on_finding, self._overdue, rate) for switch in ordered
        ]

    # --- before ---------------------------------------------------------------------------------

    def prove(self) -> list[str]:
        """Prove every off-switch; a sentence each. LinkError or BadInput where one fails."""
        said = []
        for switch in self.switches:
            self._proven.pop(switch.name, None)
            self._ask_for_fault(switch.name)
            sentence = switch.prove(self.ask)
            self._means.left_up.failed.pop(switch.name, None)
            self._proven[switch.name] = wire_now()
            said.append(sentence)
            self._means.outlet.event(self._means.clock.now(), "proof", sentence, switch=switch.name)
        return said

    def _ask_for_fault(self, name: str) -> None:
        """One that failed is not proven by working once more: its fault must have been found. BadInput where not."""
        fault = self._means.left_up.failed.get(name)
        if fault is None:
            return
        text = f"{name} failed at its last cut: {fault}. Was its fault found and mended?"
        if not self.ask("mended", text, {"switch": name}):
            raise BadInput(name, f"failed at its last cut ({fault})", "find its fault, then prove it anew")
        self.told.append(f"told: the fault of {name} was found and mended ({fault})")

    def ask(self, kind: str, text: str, data: dict[str, object]) -> bool:
        """Ask for a proof, unless a cut has made an end of it."""
        yes = self._means.prompts.ask_and_wait(kind, text, data, self._fired.is_set)
        if yes and kind == "set_dial":
            self.told.append("told: the variable transformer was at zero when the off-switch was proven")
        return yes

    def forget_proofs(self) -> None:
        """What was proven does not count."""
        self._proven.clear()

    def unproven(self) -> list[tuple[str, str]]:
        """Off-switches that are not proven, or not any more, and why not."""
        found = []
        for switch in self.switches:
            proven = self._proven.get(switch.name)
            fault = self._means.left_up.failed.get(switch.name)
            if fault is not None:
                found.append((switch.name, f"failed at its last cut ({fault})"))
            elif proven is None:
                found.append((switch.name, "is not proven"))
            elif wire_now() - proven > PROOF_HOLDS * SECOND:
                found.append((switch.name, "was proven more than four hours ago"))
        return found

    def switch_on(self, done: Callable[[str], None]) -> None:
        """Let the unit be on; `done` hears the sentence of what went wrong, or nothing.

        A cut goes before, at whatever moment it comes; and what is half on is switched off again.
        """
        if self._fired.is_set():
            done("the run was cut before it was switched on")
            return
        automatic = [switch for switch in self.switches if switch.automatic]
        waiting = len(automatic)
        faults: list[str] = []
        counting = threading.Lock()

        def one_done(fault: str) -> None:
            nonlocal waiting
            with counting:
                waiting -= 1
                faults.extend([fault] if fault else [])
                last = waiting == 0
            if not last:
                return
            for switch in automatic if faults else ():
                switch.fire()
            done(" ".join(faults))

        for switch in automatic:
            switch.switch_on(one_done)
        if self._fired.is_set():
            self.fire()

    # --- the drill of a hand --------------------------------------------------------------------

    def drill(self, t: int) -> None:
        """Under the lock: a person was asked to switch off, for practice; look for it from here on."""
        if self._off_proof is None:
            self._off_proof = OffProof(self._guard, t, self._means.clock.rate)
            self._drill_told = self._drill_seen = None
        elif self._drill_seen is None and self._off_proof.seen_falling():
            self._drill_seen = t

    def hand_done(self, t: int) -> None:
        """Under the lock: the person says that it is off; the readings must show it soon."""
        self._drill_told = t

    def look_at_drill(self, t: int) -> tuple[bool, float] | None:
        """Under the lock: whether the drill ended, whether off was seen, and after how many plan seconds."""
        proof, told, seen = self._off_proof, self._drill_told, self._drill_seen
        if told is None or proof is None:
            return None
        if seen is None and not proof.can_show:
            seen = told  # eyes alone: nothing else will ever say so
        if seen is None and t - told <= DRILL_SECONDS * SECOND:
            return None
        self._off_proof = self._drill_told = self._drill_seen = None
        return seen is not None, ((seen or t) - proof.asked) / SECOND

    # --- off for a change -----------------------------------------------------------------------

    def pause(self, t: int, done: Callable[[Finding], None]) -> None:
        """Switch off to switch on again; `done` hears in a thread of its own whether that was seen."""
        with self._lock:
            if self._fired.is_set():
                return
            self._off_proof = OffProof(self._guard, t, self._means.clock.rate)

        def ended(finding: Finding) -> None:
            if finding.outcome is CutOutcome.VERIFIED:
                self._put_off = True
                # A hand that was not asked has proven nothing.
                for switch in self.switches:
                    if switch.automatic:
                        self._proven[switch.name] = wire_now()
            done(finding)

        self._pause = Pause(self.switches, self._evidence, self._seen_falling, self._means.clock.rate, ended)

    def put_off_by_hand(self) -> None:
        """A person says that they have switched off for a change."""
        if self._pause is not None:
            self._pause.hand_done()

    def goes_on(self) -> None:
        """It is about to be on again: what was seen of its off proves nothing any more."""
        with self._lock:
            if not self._fired.is_set():
                self._put_off, self._off_proof = False, None

    def _seen_falling(self) -> str:
        with self._lock:
            return self._off_proof.seen_falling() if self._off_proof is not None else ""

    # --- off ------------------------------------------------------------------------------------

    def fire(self) -> None:
        """Ask every off-switch for off, at once and for good; from any thread, without waiting."""
        self._fired.set()
        for cut in self._cuts:
            cut.fire()

    def follow(self) -> None:
        """Have every off-switch read back, repeated and escalated, now that the cut has been noted."""
        for cut in self._cuts:
            cut.follow()

    def let_go(self) -> None:
        """Take back what a proof under way has switched on; there is no run to follow it for."""
        for switch in self.switches:
            if switch.automatic:
                switch.fire()

    def end(self) -> None:
        """There will be no run: a proof under way is over as well."""
        self._fired.set()
        self.let_go()

    def abandon(self, *, open_run: bool) -> None:
        """A bug ends the program: everything goes off that may be on, and is waited for until that has left.

        A person is called only where a run is open: in a proof nothing else is on.
        """
        self._fired.set()
        asked = [cut.switch for cut in self._cuts if cut.switch.automatic or open_run]
        for switch in asked:
            try:
                switch.fire()
            except Exception:
                # The bug may be here: the next one is asked all the same.
                log.exception("%s could not be asked for off", switch.name)
        until = wire_now() + int(LAST_WAIT * SECOND)
        for switch in asked:
            left = max((until - wire_now()) / SECOND, 0.0)
            if isinstance(switch, Lagging) and not switch.was_let_go(left):
                log.error("%s was not let go within %g s", switch.name, LAST_WAIT)

    def begin(self, t: int, *, called: bool = False) -> None:
        """Under the lock: from now on readings are evidence of what the cut did.

        `called` says that a person is called to switch off as well.
        """
        self._called = called
        if not self._put_off:
            self._off_proof = OffProof(self._guard, t, self._means.clock.rate)
        self._drill_told = None

    def reading(self, name: str, value: float, t: int) -> None:
        """Under the lock: a good reading of a trace."""
        if self._off_proof is not None:
            self._off_proof.reading(name, value, t)

    def ask_hand(self, text: str) -> None:
        """Ask a person to switch off."""
        self._means.prompts.ask("switch_off", text, {}, self._was_told_off)

    @property
    def by_hand(self) -> bool:
        """Whether a hand is among the off-switches."""
        return any(not switch.automatic for switch in self.switches)

    @property
    def by_hand_alone(self) -> bool:
        """Whether a hand is the only off-switch."""
        return all(not switch.automatic for switch in self.switches)

    @property
    def outcome(self) -> str:
        """How the off-switches stand; empty before a cut.

        Each supply feeds something of its own, so that the worst of them counts. What relay and hand did
        is told by the same traces, so that the best of these does.
        """
        supplies = [cut for cut in self._cuts if cut.switch.kind == "supply"]
        others = [cut for cut in self._cuts if cut.switch.kind != "supply"]
        traced = self._guard.mains is not None or self._guard.lamp is not None or self._guard.rails
        if supplies and not traced:
            # Nothing in the plan can show what relay and hand did.
            others = []
        if all(cut.finding is None for cut in self._cuts):
            return ""
        known = [_unit(cut) for cut in supplies]
        if others:
            known.append(min((_unit(cut) for cut in others), key=BEST_FIRST.index))
        return min(known, key=WORST_FIRST.index).value

    @property
    def failed(self) -> list[str]:
        """Names of the off-switches that did not act when they were asked, seen off or not."""
        return [cut.switch.name for cut in self._cuts if cut.finding and cut.finding.outcome in FAILED]

    def stop(self) -> None:
        """End the cut threads."""
        if self._pause is not None:
            self._pause.stop()
        for cut in self._cuts:
            cut.stop()

    def _evidence(self, acts: float = math.inf) -> Finding:
        with self._lock:
            proof = self._off_proof
            if proof is None:
                return Finding(CutOutcome.UNKNOWN, "off not proven")
            return proof.of_switch(acts, others=self._called)

    def _seen_live(self) -> str:
        """What shows that it is still live, in words; empty where nothing does."""
        found = [self._evidence(), *(cut.finding for cut in self._cuts if cut.finding is not None)]
        return next((_what(one) for one in found if one.outcome in FAILED and not one.seen_off), "")

    def _was_told_off(self, yes: bool) -> None:
        if not yes:
            return
        t = self._means.clock.now()
        self._means.outlet.event(t, "told", "told: the unit is off", prompt="switch_off", done=True)
        self.told_off = True
        if not self._seen_live():
            self._means.alarm.quiet()
            self._is_off(t, False)

    def _on_finding(self, name: str, finding: Finding, asked: int, now: int) -> None:
        means = self._means
        t = means.clock.of(now)
        outcome = finding.outcome.value
        means.outlet.send(
            messages.CutState(
                t=means.session_time(t),
                path=name,
                outcome=outcome,
                text=finding.text,
                asked_ns=asked,
                at_ns=now,
                seen_off=finding.seen_off,
            )
        )
        text = f"{name}: {finding.text}"
        data = {"outcome": outcome, "seen_off": finding.seen_off, "asked_ns": asked, "at_ns": now}
        means.outlet.event(t, "cut", text, switch=name, **data)
        if finding.outcome is CutOutcome.VERIFIED:
            self._proven[name] = now
            means.left_up.failed.pop(name, None)
        elif finding.outcome in FAILED:
            self._proven.pop(name, None)
            means.left_up.failed[name] = _what(finding)
        if finding.seen_off and self.outcome == CutOutcome.VERIFIED:
            means.alarm.quiet()
            means.prompts.drop("switch_off")
            self._is_off(t, True)

    def _overdue(self, name: str) -> None:
        """Off should have been seen by now: alarm and plug, and again until it is, or a person's word stands."""
        live = self._seen_live()
        again = name in self._overdue_told
        if self.outcome == CutOutcome.VERIFIED or (again and self.told_off and not live):
            return
        means = self._means
        with self._lock:
            # From here on a person may be quicker than whatever is late.
            self._called = True
        means.alarm.sound()
        if not again:
            self._overdue_told.add(name)
            text = f"{name}: off is not proven; pull the plug"
            means.outlet.event(means.clock.now(), "overdue", text, switch=name)
        if not (again and means.prompts.is_open("switch_off")):
            # One question at a time: this one says more than what it takes the place of.
            means.prompts.drop("switch_off")
            self.ask_hand(f"{live or 'Off is not proven'}. Pull the plug.")


def _what(finding: Finding) -> str:
    """What was found, without what became of it or is to be done about it."""
    return finding.text.partition(";")[0]


def _unit(cut: CutThread) -> CutOutcome:
    """How what an off-switch switches stands: off, whoever did it, or else as the off-switch does."""
    found = cut.finding
    if found is None:
        return CutOutcome.ASKED
    return CutOutcome.VERIFIED if found.seen_off else found.outcome
