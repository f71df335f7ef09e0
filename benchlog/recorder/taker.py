"""Parts taken with the walking meters of the open bench: one when it is asked for, or hands-free."""

from collections.abc import Callable
from concurrent.futures import Future
from typing import Any

from benchlog.domain.reading import Function, Reading
from benchlog.errors import BadInput, BenchlogError, TimedOut
from benchlog.recorder import messages
from benchlog.recorder.clock import Clock
from benchlog.recorder.desk import AnyMeter, Desk
from benchlog.recorder.hands import HandsFreeTaking
from benchlog.recorder.outlet import Outlet
from benchlog.recorder.run import Run
from benchlog.recorder.taking import Takings
from benchlog.store.records import TakenRow

SETTING_SECONDS = 10.0
"""Real seconds a meter has to take its setting."""


class Taker:
    """Works the meters for what is taken; `desk` gives the open bench, `run` the run there is."""

    def __init__(
        self, clock: Clock, outlet: Outlet, desk: Callable[[], Desk | None], run: Callable[[], Run | None]
    ) -> None:
        self._clock = clock
        self._outlet = outlet
        self._desk = desk
        self._run = run
        self._takings = Takings(clock, outlet.send, self.keep)
        self._hands = HandsFreeTaking(
            clock, self._takings.tell, outlet.send, self._set_meter, self._rest, self._check
        )

    # --- what is asked ----------------------------------------------------------------------------

    def take(self, request: messages.Take) -> dict[str, Any]:
        """Take one part; waits until the meter is set."""
        meter = self._the_desk().walking(request.job)
        if request.job == self._hands.job:
            raise BadInput("take", f"{request.job} is taking hands-free", "end that first")
        function = self._takings.begin(request)
        try:
            self._check_run(request.job, function)
            _wait_for(meter.do(lambda instrument: _begin(instrument, function)), request.job)
        except BenchlogError:
            self._takings.give_up(request.job)
            raise
        return {}

    def ahead(self, request: messages.Ahead) -> dict[str, Any]:
        """Take these hands-free from now on; none ends it."""
        if request.parts:
            self._the_desk().walking(request.job)
            busy = self._takings.busy(request.job)
            if busy:
                raise BadInput("hands-free", f"{request.job} is still taking {busy}", "wait for it")
        self._hands.ahead(request)
        return {}

    def press(self, request: messages.Press) -> dict[str, Any]:
        """A key or a pedal, hands-free."""
        self._hands.press(request)
        return {}

    def null(self, request: messages.Null) -> dict[str, Any]:
        """Take a meter's leads off what it reads from now on."""
        self._the_desk("null").null(request.job, request.value, request.utc)
        return {}

    def kept(self, reading: str) -> None:
        """The library has it."""
        self._takings.kept(reading)

    def end(self) -> None:
        """The bench is closed: nothing is taken hands-free with it any more."""
        self._hands.end()

    # --- what comes -------------------------------------------------------------------------------

    def reading(self, job: str, reading: Reading) -> None:
        """Offer a reading of a meter that no run has a use for."""
        if not self._hands.reading(job, reading):
            self._takings.reading(job, reading)

    def opened(self, job: str) -> None:
        """A meter was opened, perhaps anew."""
        self._hands.opened(job)

    def look(self) -> None:
        """Look at the clock: tell again what nobody has kept, and of meters that say nothing."""
        self._hands.look()
        self._takings.repeat()
        for job in self._takings.overdue():
            problem, fix = "gave no reading to take", "check its leads and try again"
            self._outlet.send(messages.Notice(place=job, problem=problem, fix=fix))

    def keep(self, taken: messages.Taken) -> None:
        """A part reading is there: its meter rests unless it goes on by itself, and a live session keeps it as well."""
        if taken.job != self._hands.job:
            self._rest(taken.job)
        writer = self._outlet.writer
        if writer is not None:
            t = max(self._clock.now() - self._outlet.zero, 0)
            body = {name: getattr(taken, name) for name in taken.__struct_fields__}
            writer.add_taken(TakenRow(taken.reading, t, body))
        run = self._run()
        if run is not None and run.session is not None and run.teller.takes(taken, self._outlet.send):
            self._takings.kept(taken.reading)

    # --- the meters -------------------------------------------------------------------------------

    def _the_desk(self, what: str = "take") -> Desk:
        desk = self._desk()
        if desk is None:
            raise BadInput(what, "no bench is open", "open one first")
        return desk

    def _check(self, job: str, function: Function) -> None:
        self._the_desk().walking(job)
        self._check_run(job, function)

    def _check_run(self, job: str, function: Function) -> None:
        run = self._run()
        if run is not None:
            run.check_take(job, function)

    def _set_meter(self, job: str, function: Function, ended: Callable[[str], None]) -> None:
        desk = self._desk()
        if desk is None:
            ended("no bench is open")
        else:
            desk.walking(job).do(lambda instrument: _begin(instrument, function), ended)

    def _rest(self, job: str) -> None:
        desk = self._desk()
        if desk is not None:
            desk.walking(job).do(lambda instrument: instrument.pause())


def _begin(instrument: AnyMeter, function: Function) -> None:
    instrument.configure(function)
    instrument.resume()


def _wait_for(setting: Future[None], job: str) -> None:
    """Wait until a meter has taken its setting; TimedOut where it does not."""
    try:
        setting.result(SETTING_SECONDS)
    except TimeoutError:
        setting.cancel()
        problem = f"did not take its setting within {SETTING_SECONDS:g} s"
        raise TimedOut(job, problem, "check its power and its cable") from None
