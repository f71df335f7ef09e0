"""Hands-free: a walking meter takes the parts ahead by itself, without a window that looks on."""

import threading
from collections import deque
from collections.abc import Callable

from benchlog.domain.handsfree import Coming, HandsFree, Tips, Took
from benchlog.domain.reading import Function, Reading
from benchlog.errors import BadInput, BenchlogError, Fault
from benchlog.recorder.clock import Clock
from benchlog.recorder.messages import Ahead, Hands, Notice, Outgoing, Part, Press, Taken
from benchlog.recorder.taking import function_of, taken_of

REMEMBERED = 256
"""So many readings are known as taken: a window that was slow may still have them ahead."""

WHATS = ("take", "drop")
UNBOUNDED = float("inf")

SetMeter = Callable[[str, Function, Callable[[str], None]], None]
"""Sets the meter of a job to a function without waiting; the last argument hears an empty text, or what went wrong."""


class HandsFreeTaking:
    """One meter in the hands at most.

    `tell` gets each part's reading, `send` publishes what goes on, `set_meter` and `rest` work the meter, `check`
    raises BadInput where a part must not be taken so just now. Called from the meter's thread, the client's and
    the watch thread.
    """

    def __init__(
        self,
        clock: Clock,
        tell: Callable[[Taken], None],
        send: Callable[[Outgoing], None],
        set_meter: SetMeter,
        rest: Callable[[str], None],
        check: Callable[[str, Function], None],
    ) -> None:
        self._clock = clock
        self._tell = tell
        self._send = send
        self._set_meter = set_meter
        self._rest = rest
        self._check = check
        self._lock = threading.Lock()
        self._job = ""
        self._hands = HandsFree(0)
        self._parts: dict[str, Part] = {}
        self._taken: deque[str] = deque(maxlen=REMEMBERED)
        self._function: Function | None = None
        self._setting = False
        self._cannot = ""
        """Why the meter could not be set to what the part at hand wants."""
        self._told: Hands | None = None

    @property
    def job(self) -> str:
        """The meter in the hands; empty where none is."""
        return self._job

    def ahead(self, request: Ahead) -> None:
        """Take these from now on; BadInput where one of them cannot be, and nothing changes."""
        for part in request.parts:
            self._check(request.job, function_of(part.function))
        with self._lock:
            job = request.job if request.parts else ""
            left, self._job = self._job, job
            if left != job:
                self._hands = HandsFree(self._clock.now())
                self._function, self._setting, self._cannot, self._told = None, False, "", None
            parts = [part for part in request.parts if part.reading not in self._taken]
            self._parts = {part.reading: part for part in parts}
            self._hands.ahead([_coming(part) for part in parts])
        if left and left != job:
            self._rest(left)
        self._follow()

    def end(self, why: str = "") -> None:
        """Nothing is ahead any more: the bench is closed, or what is ahead may not be taken; `why` is told."""
        job = self._job
        if job:
            self.ahead(Ahead(id=0, job=job))
            self._send(Hands(job=job, tips=Tips.NOTHING.value, why=why))

    def press(self, request: Press) -> None:
        """A key or pedal; BadInput where what it is for has gone by."""
        if request.what not in WHATS:
            raise BadInput("hands-free", f"{request.what!r} is nothing a key does", f"use {', '.join(WHATS)}")
        with self._lock:
            at = self._hands.at
            if request.job != self._job or at is None or at.reading != request.reading:
                raise BadInput("hands-free", "another part is at hand by now", "look, then press again")
            if request.what == "drop":
                self._hands.drop(request.reading)
                took = None
            else:
                took = self._hands.key(request.reading, self._clock.now())
            taken = self._took(took)
        self._give(taken)

    def reading(self, job: str, reading: Reading) -> bool:
        """Offer a reading; true where that meter is in the hands."""
        if job != self._job:
            return False  # Without the lock: most readings are of meters that no hand holds.
        with self._lock:
            if job != self._job:
                return False
            if self._setting:
                # Of a function that is on its way out; but the meter is there.
                self._hands.hear(self._clock.of(reading.at))
                return True
            took = self._hands.read(reading, self._clock.of(reading.at))
            taken = self._took(took)
        self._give(taken)
        return True

    def look(self) -> None:
        """Look at the clock: a meter that says nothing is told of."""
        if self._job:
            with self._lock:
                self._hands.silent(self._clock.now())
            self._follow()

    def opened(self, job: str) -> None:
        """A meter was opened anew, and has forgotten what it was set to."""
        with self._lock:
            if job != self._job:
                return
            self._function = None
        self._follow()

    # --- what comes of it -------------------------------------------------------------------------

    def _took(self, took: Took | None) -> Taken | None:
        if took is None:
            return None
        part = self._parts[took.of.reading]
        self._taken.append(part.reading)
        return _taken(part, self._job, took)

    def _give(self, taken: Taken | None) -> None:
        if taken is not None:
            try:
                self._check(taken.job, Function(taken.function))
            except BadInput as error:
                with self._lock:
                    if taken.reading in self._taken:
                        self._taken.remove(taken.reading)  # Nobody has it: it may be taken later.
                self._refuse(error)
                return
            self._tell(taken)
        self._follow()

    def _refuse(self, error: BenchlogError) -> None:
        """It must not be read so any more: a run was begun meanwhile."""
        fault: Fault = error.faults[0]
        self._send(Notice(place=fault.place, problem=fault.problem, fix=fault.fix))
        self.end(str(error))

    def _follow(self) -> None:
        """Set the meter to what the part at hand wants, and tell what changed."""
        wanted = None
        with self._lock:
            at, job = self._hands.at, self._job
            if at is not None and at.function is not self._function and not self._setting:
                self._function, self._setting, self._cannot = at.function, True, ""
                wanted = at.function
        if wanted is not None:
            self._set_meter(job, wanted, lambda fault: self._is_set(job, wanted, fault))
        with self._lock:
            news = self._news()
            if news is not None and news != self._told:
                self._send(news)  # Under the lock, so that what was later is told later.
            self._told = news

    def _is_set(self, job: str, function: Function, fault: str) -> None:
        with self._lock:
            if job != self._job or function is not self._function:
                return
            self._setting, self._cannot = False, fault
            self._hands.hear(self._clock.now())
        self._follow()

    def _news(self) -> Hands | None:
        hands, at = self._hands, self._hands.at
        if not self._job:
            return None
        if at is None:
            return Hands(job=self._job, tips=Tips.NOTHING.value)
        part = self._parts[at.reading]
        held = hands.held
        tips = Tips.WRONG if self._cannot else hands.tips
        return Hands(
            job=self._job,
            tips=tips.value,
            reading=part.reading,
            designator=part.designator,
            why=self._cannot or (hands.why if tips is Tips.WRONG else ""),
            held=_held(part, self._job, held, self._told),
        )


def _coming(part: Part) -> Coming:
    near = None
    if part.near is not None:
        near = tuple(
            (-UNBOUNDED if low is None else low, UNBOUNDED if high is None else high)
            for low, high in part.near
        )
    return Coming(part.reading, function_of(part.function), near, part.over, part.by_key)


def _taken(part: Part, job: str, took: Took) -> Taken:
    return taken_of(
        part, took.reading, job=job, settled=took.settled, heading=took.heading, looked=took.looked
    )


def _held(part: Part, job: str, held: Took | None, told: Hands | None) -> Taken | None:
    """What is held, made once: told again with another time it would be news."""
    if held is None:
        return None
    before = told.held if told is not None else None
    if before is not None and (before.reading, before.raw, before.value) == (
        part.reading,
        held.reading.raw,
        held.reading.value,
    ):
        return before
    return _taken(part, job, held)
