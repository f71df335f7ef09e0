"""One thread for each instrument: opens it, reads it in short slices, opens it again when it is gone."""

import contextlib
import logging
import threading
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, InvalidStateError
from typing import Any, Generic, TypeVar

from benchlog.domain.reading import Reading
from benchlog.errors import BenchlogError, Gone, LinkError
from benchlog.instruments.meter import Instrument
from benchlog.recorder.clock import SECOND, wire_now
from benchlog.recorder.cut import Done

log = logging.getLogger(__name__)

SLICE = 0.1
"""Seconds of wire time one read may take before the thread shows that it is alive."""
OPENING_SECONDS = 4.0
"""Seconds that opening may take before a thread in it counts as standing still, unless told otherwise."""
HURRIES = 4
"""How often it is opened again in a hurry; by then it counts as lost, and may take its time."""
FIRST_RETRY = 0.25
LONGEST_RETRY = 5.0
LOOK = 0.25
"""Seconds between looks whether an unplugged adapter is back."""
_HOPELESS = ("gone", "refused")

Kind = TypeVar("Kind", bound=Instrument)
Result = TypeVar("Result")


class Poller(Generic[Kind]):
    """Owns one instrument; nobody else touches it, others hand in jobs with `do`.

    `on_reading(job, reading)` is called in this thread for each reading, `on_state(job, state, text)`
    with `opening`, `open`, `gone` or `refused` when that changes. Once it was open, `reopener` is tried
    before `opener`; `allowed` are the seconds the one and the other may take, the opener's first.
    `returned` tells once that what was unplugged is back: that ends the pause before the next try.
    """

    def __init__(
        self,
        job: str,
        opener: Callable[[], Kind],
        on_reading: Callable[[str, Reading], None],
        on_state: Callable[[str, str, str], None],
        reopener: Callable[[], Kind] | None = None,
        allowed: tuple[float, float] = (OPENING_SECONDS, OPENING_SECONDS),
        *,
        returned: Callable[[], bool] = lambda: False,
    ) -> None:
        self.job = job
        self.checked_in = wire_now()
        self.state = "opening"
        self.text = ""
        self._tried = threading.Event()
        self._opener = opener
        self._reopener = reopener or opener
        self._allowed = allowed
        self._returned = returned
        self._allowance, self._opening = allowed[0], True
        self._hurries = 0
        self._on_reading = on_reading
        self._on_state = on_state
        self._lock = threading.Lock()
        """Held for the state and for who gets a job; never while anything is done."""
        self._jobs: deque[_Job[Kind]] = deque()
        self._instrument: Kind | None = None
        self._pause = FIRST_RETRY
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"poll {job}", daemon=True)
        self._thread.start()

    @property
    def quiet_for(self) -> float:
        """Wire seconds since the thread last showed that it is alive; opening counts beyond its allowance."""
        allowance = self._allowance if self._opening else 0.0
        return max((wire_now() - self.checked_in) / SECOND - allowance, 0.0)

    @property
    def instrument(self) -> Kind | None:
        """What is open now, for what may be called from any thread; None where it is not."""
        return self._instrument

    def wait_open(self, seconds: float) -> list[str]:
        """Wait until it is open or has failed once: its state and text."""
        self._tried.wait(seconds)
        return [self.state, self.text]

    def do(self, job: Callable[[Kind], Result], ended: Done | None = None) -> Future[Result]:
        """Run `job` with the instrument in its own thread; the future carries its BenchlogError.

        `ended` hears of its end in the thread that brings it: an empty text, or the sentence of what
        went wrong. (A bug in a callback of a Future would only be logged.)
        """
        waiting: _Job[Kind] = _Job(job, ended)
        with self._lock:
            hopeless = self.state in _HOPELESS or self._stop.is_set()
            if not hopeless:
                self._jobs.append(waiting)
            instrument = self._instrument
        if hopeless:
            waiting.fail(Gone(self.job, self.text or "is not attached"))
        elif instrument is not None:
            instrument.wake()
        return waiting.future

    def stop(self, wait: float = 2.0) -> None:
        """End the thread and close the instrument."""
        self._stop.set()
        instrument = self._instrument
        if instrument is not None:
            instrument.wake()
        self._thread.join(wait)

    def _run(self) -> None:
        while not self._stop.is_set():
            self.checked_in = wire_now()
            self._opening = True
            try:
                instrument = self._open()
            except LinkError as error:
                self._has_opened()
                self._say("gone" if self.state == "gone" else "refused", error)
                self._idle()
                continue
            self._instrument = instrument
            self._has_opened()
            self._hurries = HURRIES
            self._say("open", instrument.identity)
            try:
                self._read(instrument)
            except LinkError as error:
                log.warning("%s", error)
                self._say("gone", error)
            finally:
                self._instrument = None
                instrument.close()
            self._idle()
        self._fail_jobs(Gone(self.job, "was let go"))

    def _open(self) -> Kind:
        """Open it: again in a hurry, at first and where hurry did not help with all the time it needs."""
        hurry = self._hurries > 0
        self._hurries -= hurry
        self._allowance = self._allowed[hurry]
        return self._reopener() if hurry else self._opener()

    def _has_opened(self) -> None:
        """Opening took its time, and showed by its end that the thread is alive."""
        self.checked_in = wire_now()
        self._opening = False

    def _read(self, instrument: Kind) -> None:
        job, on_reading, stopped, jobs = self.job, self._on_reading, self._stop.is_set, self._jobs
        step = instrument.step
        while not stopped():
            for reading in step(SLICE):
                on_reading(job, reading)
                self._pause = FIRST_RETRY
            self.checked_in = wire_now()
            if jobs:
                jobs.popleft().run(instrument)

    def _idle(self) -> None:
        """Wait a while before the next try, longer each time until a reading has come."""
        until = wire_now() + int(self._pause * SECOND)
        self._pause = min(2 * self._pause, LONGEST_RETRY)
        look = wire_now()
        while wire_now() < until and not self._stop.wait(0.05):
            self.checked_in = now = wire_now()
            if now >= look:
                look = now + int(LOOK * SECOND)
                if self._returned():
                    self._pause = FIRST_RETRY
                    return

    def _say(self, state: str, what: str | LinkError) -> None:
        """Be in this state, with an identity or with the error that ends what waits."""
        text = what.problem if isinstance(what, LinkError) else what
        with self._lock:
            changed = (state, text) != (self.state, self.text)
            self.state, self.text = state, text
            if state in _HOPELESS:
                self._instrument = None
        self._tried.set()
        if isinstance(what, LinkError):
            self._fail_jobs(what)
        # After `stop` another one may have taken over this job.
        if changed and not self._stop.is_set():
            self._on_state(self.job, state, text)

    def _fail_jobs(self, error: LinkError) -> None:
        with self._lock:
            failed = list(self._jobs)
            self._jobs.clear()
        for waiting in failed:
            waiting.fail(error)


class _Job(Generic[Kind]):
    """Something to do with an instrument in its own thread, and who waits for it."""

    def __init__(self, what: Callable[[Kind], Any], ended: Done | None) -> None:
        self.what = what
        self.future: Future[Any] = Future()
        self._ended = ended

    def run(self, instrument: Kind) -> None:
        """Do it, unless nobody waits any more; a wire that is gone is the thread's matter as well."""
        if not self.future.set_running_or_notify_cancel():
            return
        try:
            self.future.set_result(self.what(instrument))
        except BenchlogError as error:
            self.fail(error)
            if isinstance(error, Gone):
                raise
        else:
            self._tell("")

    def fail(self, error: BenchlogError) -> None:
        """It cannot be done."""
        with contextlib.suppress(InvalidStateError):  # nobody waits any more
            self.future.set_exception(error)
        self._tell(str(error))

    def _tell(self, fault: str) -> None:
        if self._ended is not None:
            self._ended(fault)
