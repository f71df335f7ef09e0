"""What is touched at a live bench beside the stages: a clip, a trimmer, an idle that is set, a limit."""

import threading
from collections.abc import Sequence

from benchlog.domain.loosening import changed
from benchlog.domain.plan import Plan
from benchlog.domain.plan_trace import Role
from benchlog.domain.run_kind import RunKind
from benchlog.domain.stages import Stages, State
from benchlog.errors import BadInput
from benchlog.recorder.clock import wire_now
from benchlog.recorder.intake import Intake
from benchlog.recorder.means import Means


class Touches:
    """The touches of one run; each gives the sentence that is told of it, or BadInput with why not.

    `checked` is the plan as it was checked: some of its limits go no further while it is live.
    """

    def __init__(
        self, checked: Plan, stages: Stages, intake: Intake, lock: threading.Lock, means: Means
    ) -> None:
        self._checked = checked
        self._stages = stages
        self._guard = stages.guard
        self._intake = intake
        self._lock = lock
        self._means = means

    def clip(self, name: str) -> str:
        """The clip of that trace is taken in hand, or is on again."""
        t = self._means.clock.now()
        with self._lock:
            self._must_guard("clip")
            if self._stages.state is State.DRILL:
                # What a clip in the air reads would pass for the unit going off.
                raise BadInput("clip", "the off-switch is being drilled", "wait for the end of the drill")
            verdict = self._intake.clips.touch(name, t, wire_now())
        self._intake.tell_clip(t, name, verdict)
        return verdict.text

    def trimmer(self) -> str:
        """Somebody turns a trimmer."""
        t = self._means.clock.now()
        with self._lock:
            self._must_guard("trimmer")
            if self._checked.run_kind is RunKind.REFORM:
                # It would rest the limits on a current that rises and on a case that warms, for minutes each time.
                problem = "a capacitor that is re-formed has none"
                raise BadInput("trimmer", problem, "cut where its current rises")
            self._guard.trimmer_touched(t)
            seconds = self._guard.adjusting(t)
        text = f"a trimmer is turned: a runaway is looked for anew in {seconds:.0f} s, ceilings stay armed"
        self._means.outlet.event(t, "trimmer", text)
        return text

    def idle(self, name: str) -> str:
        """The idle of that trace is set, and must not fall from now on; or is not set after all."""
        t = self._means.clock.now()
        with self._lock:
            self._must_guard("idle")
            done = self._guard.idle_is_set(name)
        text = f"{name}: idle marked as set" if done else f"{name}: idle not set after all"
        self._means.outlet.event(t, "idle", text, trace=name, set=done)
        return text

    def idle_before(self, names: Sequence[str]) -> None:
        """Begin with the idles that were set in earlier runs of the visit, where this plan shows them."""
        t = self._means.clock.now()
        for trace in self._checked.of_role(Role.IDLE):
            if trace.name in names:
                with self._lock:
                    self._guard.idle_set.add(trace.name)
                text = f"{trace.name}: idle marked as set, earlier in this visit"
                self._means.outlet.event(t, "idle", text, trace=trace.name, set=True)

    def limit(self, at: int, value: float, field: str, reason: str) -> str:
        """A limit of the plan, numbered from 0, is set to another figure."""
        t = self._means.clock.now()
        with self._lock:
            self._must_guard("limit")
            change = changed(self._guard.plan, self._checked, at, value, field=field, reason=reason)
            self._guard.set_limit(at, change.limit)
        data = {"limit": at, "field": change.field, "old": change.old, "new": change.new}
        self._means.outlet.event(t, "limit", change.text, loosened=change.loosened, reason=reason, **data)
        return change.text

    def _must_guard(self, what: str) -> None:
        if not self._guard.armed:
            raise BadInput(what, "no run is armed", "begin one first")
