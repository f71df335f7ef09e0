"""The way of a reading into a run: to its trace, past what it may be doubted for, to the guard, and out.

Called in the instruments' own threads, for every reading: nothing here blocks but for the run's lock.
"""

import threading
from collections.abc import Callable

from benchlog.domain.clips import Clips
from benchlog.domain.guard import Broken, Guard
from benchlog.domain.reading import Outcome, Reading
from benchlog.domain.seen import Verdict
from benchlog.domain.trust import Trust
from benchlog.recorder.dial import Dial
from benchlog.recorder.draining import Draining
from benchlog.recorder.means import Means
from benchlog.recorder.place import Places
from benchlog.recorder.switchoff import SwitchOff


class Intake:
    """Takes the readings of a run; `broke` hears what limits they break."""

    def __init__(
        self,
        guard: Guard,
        lock: threading.Lock,
        off: SwitchOff,
        dial: Dial,
        draining: Draining,
        means: Means,
        *,
        broke: Callable[[tuple[Broken, ...]], None],
    ) -> None:
        self.places = Places(guard.plan)
        self._trust = Trust(guard)
        self.clips = Clips(guard, self._trust)
        self._guard = guard
        self._lock = lock
        self._off = off
        self._dial = dial
        self._draining = draining
        self._means = means
        self._broke = broke

    def begin(self, t: int) -> None:
        """The run is armed: say what is to be doubted from the start."""
        with self._lock:
            found = self._trust.begin()
        for name, verdict in found.items():
            self._say(t, name, verdict, "trust")

    def reading(self, job: str, reading: Reading) -> bool:
        """Place one reading on its trace and judge it; false where the plan does not know the meter."""
        name = self.places.name(job, reading)
        if name is None:
            return self._left_on_another(job, reading)
        t = self._means.clock.of(reading.at)
        value, outcome = reading.value, reading.outcome
        with self._lock:
            verdict = self.clips.take(name, reading) or self._trust.take(name, reading, t)
            if verdict is not None and verdict.outcome is not outcome:
                outcome = verdict.outcome
                value = value if verdict.judged else None
            broken = self._guard.reading(name, value, outcome, t, reading.at)
            self._draining.reading(name, value, t, outcome, verdict)
            if value is not None and outcome is Outcome.OK:
                self._off.reading(name, value, t)
                self._dial.reading(name, value)
        if broken:
            self._broke(broken)
        if verdict is not None:
            if outcome is not reading.outcome:
                reading = reading._replace(outcome=outcome, value=None)
            self._say(t, name, verdict, "trust" if verdict.relief else "warn")
        self._means.outlet.reading(name, reading, t)
        return True

    def tell_clip(self, t: int, name: str, verdict: Verdict) -> None:
        """Tell and keep what becomes of a clip that is moved."""
        self._say(t, name, verdict, "clip")

    def _left_on_another(self, job: str, reading: Reading) -> bool:
        """A meter of the plan left on another function: its trace gets no number, and grows old."""
        if job not in self.places.jobs:
            return False
        name = self.places.left_on_another(job, reading)
        if name is None:
            return True
        t = self._means.clock.of(reading.at)
        with self._lock:
            verdict = self._trust.wrong_function(name, reading)
            self._guard.reading(name, None, verdict.outcome, t, reading.at)
            self._draining.reading(name, None, t, verdict.outcome, verdict)
        self._say(t, name, verdict, "wrong function", job=job, raw=reading.raw)
        self._means.outlet.reading(name, reading._replace(outcome=verdict.outcome, value=None), t)
        return True

    def _say(self, t: int, name: str, verdict: Verdict, kind: str, **more: str) -> None:
        """Tell and keep what is new."""
        if verdict.text:
            self._means.outlet.event(t, kind, verdict.text, trace=name, doubt=verdict.doubt, **more)
