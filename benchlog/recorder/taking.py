"""Taking part readings with a walking meter: settle, tell, and tell again until it is kept."""

import threading
from collections.abc import Callable
from dataclasses import dataclass

from benchlog.domain.reading import HEADING, Function, Reading
from benchlog.domain.settle import Settler
from benchlog.errors import BadInput
from benchlog.recorder.clock import SECOND, Clock, utc_now, wire_now
from benchlog.recorder.messages import Part, Take, Taken

REPEAT_SECONDS = 1.0
TOUCH_SECONDS = 30.0
"""Plan seconds a taking waits for any answer at all before it is given up."""


@dataclass(slots=True)
class _Taking:
    request: Take
    settler: Settler


@dataclass(slots=True)
class _Unkept:
    taken: Taken
    told: int


class Takings:
    """What is being taken, one at a time for each meter, and what was taken but not yet kept.

    `on_taken` hears each reading once when it settles; `send` publishes it, again each second until
    `kept` names it. Called from the meters' threads, the client's and the watch thread.
    """

    def __init__(
        self, clock: Clock, send: Callable[[Taken], None], on_taken: Callable[[Taken], None]
    ) -> None:
        self._clock = clock
        self._send = send
        self._on_taken = on_taken
        self._lock = threading.Lock()
        self._takings: dict[str, _Taking] = {}
        self._unkept: dict[str, _Unkept] = {}

    def busy(self, job: str) -> str:
        """The part that is being taken with that meter; empty where none is."""
        with self._lock:
            taking = self._takings.get(job)
            return taking.request.designator if taking is not None else ""

    def begin(self, request: Take) -> Function:
        """A part is under the probes of `request.job`; the function its meter must be set to."""
        function = function_of(request.function)
        with self._lock:
            if request.job in self._takings:
                busy = self._takings[request.job].request.designator
                raise BadInput("take", f"{request.job} is still taking {busy}", "wait for it")
            self._takings[request.job] = _Taking(request, Settler(self._clock.now()))
        return function

    def give_up(self, job: str) -> None:
        """The meter could not be set: nothing is being taken with it."""
        with self._lock:
            self._takings.pop(job, None)

    def reading(self, job: str, reading: Reading) -> bool:
        """Offer a reading; true where it belonged to a taking that ended with it."""
        with self._lock:
            taking = self._takings.get(job)
            if taking is None or reading.function.value != taking.request.function:
                return False
            found = taking.settler.take(reading, self._clock.of(reading.at))
            if found is None:
                return False
            del self._takings[job]
            kept, settled = found
            heading = None if settled else taking.settler.heading
        self.tell(taken_of(taking.request, kept, settled=settled, heading=heading))
        return True

    def tell(self, taken: Taken) -> None:
        """A part reading is there: tell it until it is kept."""
        with self._lock:
            self._unkept[taken.reading] = _Unkept(taken, wire_now())
        self._on_taken(taken)
        self._send(taken)

    def overdue(self) -> list[str]:
        """Jobs whose meter has said nothing for too long; their takings are over."""
        now = self._clock.now()
        with self._lock:
            late = [
                job
                for job, taking in self._takings.items()
                if now - taking.settler.began > TOUCH_SECONDS * SECOND
            ]
            for job in late:
                del self._takings[job]
        return late

    def kept(self, reading: str) -> None:
        """The library has it."""
        with self._lock:
            self._unkept.pop(reading, None)

    def repeat(self) -> None:
        """Tell again what nobody has kept for a second."""
        now = wire_now()
        with self._lock:
            again = [u for u in self._unkept.values() if now - u.told > REPEAT_SECONDS * SECOND]
            for unkept in again:
                unkept.told = now
        for unkept in again:
            self._send(unkept.taken)


def function_of(word: str) -> Function:
    """The function a request names; BadInput where a meter has none such."""
    try:
        return Function(word)
    except ValueError:
        known = ", ".join(Function)
        raise BadInput("take", f"{word!r} is no function of a meter", f"use one of {known}") from None


def taken_of(
    of: Take | Part,
    reading: Reading,
    *,
    job: str = "",
    settled: bool,
    heading: float | None,
    looked: bool = False,
) -> Taken:
    """A reading as that of the part it was asked for; `job` where that does not say it."""
    beside = dict(reading.beside)
    if heading is not None:
        beside[HEADING] = heading
    return Taken(
        reading=of.reading,
        designator=of.designator,
        part=of.part,
        job=of.job if isinstance(of, Take) else job,
        function=reading.function.value,
        outcome=reading.outcome.value,
        value=reading.value,
        unit=reading.function.unit,
        raw=reading.raw,
        utc=utc_now(),
        resolution=reading.resolution,
        settled=settled,
        flags=list(reading.flags),
        negative=reading.negative,
        error=reading.error,
        nulled=reading.nulled,
        beside=beside,
        looked=looked,
        measure=of.measure,
    )
