"""What a person tells a run: notes, observations, spot readings; each is kept with its time."""

from collections.abc import Callable

from benchlog.domain import spot as spots
from benchlog.domain.observed import Observation
from benchlog.domain.quantity import Overload
from benchlog.domain.reading import Outcome
from benchlog.domain.spot import SpotReading
from benchlog.domain.stages import Stages
from benchlog.errors import BadInput, BenchlogError
from benchlog.recorder import messages
from benchlog.recorder.clock import SECOND, wire_now
from benchlog.recorder.means import Means
from benchlog.recorder.stage_news import StageNews
from benchlog.store.records import RemarkRow

LONGEST_AGO = 3600.0
"""Wire seconds that a note may look back."""


class Teller:
    """Hears what a person tells of one run."""

    def __init__(self, stages: Stages, news: StageNews, means: Means) -> None:
        self._stages = stages
        self._news = news
        self._means = means

    def remark(self, identity: str, text: str, ago: float = 0.0) -> None:
        """Keep a timed note on what was `ago` wire seconds before now, never before the run began."""
        outlet = self._means.outlet
        writer = outlet.writer
        if writer is None:
            raise BadInput("note", "no run is open", "arm a plan first")
        t = self._means.session_time(self._then(ago))
        writer.add_remark(RemarkRow(identity, t, text))
        outlet.send(messages.Event(t=t, kind="remark", text=text))

    def observe(self, what: str, ago: float = 0.0) -> None:
        """Keep what was seen, heard, smelt or felt, for the stage that may wait for it."""
        try:
            known = Observation(what)
        except ValueError:
            raise BadInput(
                "observe", f"{what!r} is nothing to tell by a key", f"use {', '.join(Observation)}"
            ) from None
        if not self._stages.live:
            raise BadInput("observe", f"the run is {self._stages.state}", "write a note")
        t = self._then(ago)
        with self._news.lock:
            self._stages.observe(known, t)
        text = f"observed: {known}"
        if known.suggests_off:
            text = f"{text}; switch off unless you know why"
        self._means.outlet.event(t, "observed", text, what=known.value, suggests_off=known.suggests_off)
        self._news.say(self._means.clock.now(), now=True)

    def spot(self, name: str, text: str) -> None:
        """Keep what was typed for a spot of this stage, judged; skipped where nothing was."""
        with self._news.lock:
            asked = self._stages.spot_asked(name)
        self._keep(name, spots.typed(asked, text) if text.strip() else None, "typed", text.strip())

    def takes(self, taken: messages.Taken, send: Callable[[messages.Outgoing], None]) -> bool:
        """Whether what a walking meter took is a spot of this run; what is wrong with it is sent as a notice."""
        try:
            return self.spot_taken(taken)
        except BenchlogError as error:
            for fault in error.faults:
                send(messages.Notice(place=fault.place, problem=fault.problem, fix=fault.fix))
            return False

    def spot_taken(self, taken: messages.Taken) -> bool:
        """A walking meter has read what may be a spot of this stage; false where it is none."""
        if taken.part or all(spot.name != taken.designator for spot in self._stages.stage.spot):
            return False
        with self._news.lock:
            asked = self._stages.spot_asked(taken.designator)
        overload = Overload.NEGATIVE if taken.negative else Overload.POSITIVE
        value = overload if taken.outcome == Outcome.OVERLOAD else taken.value
        if value is None:
            raise BadInput(taken.designator, f"was not read: {taken.outcome}", "measure it again")
        self._keep(taken.designator, spots.judged(asked, value), taken.job, taken.raw)
        return True

    def _keep(self, name: str, reading: SpotReading | None, by: str, raw: str) -> None:
        t = self._means.clock.now()
        with self._news.lock:
            self._stages.spot_read(name, reading)
            stage = self._stages.stage.name
        if reading is None:
            self._means.outlet.event(t, "spot", f"{name}: skipped", spot=name, stage=stage, skipped=True)
        else:
            result = f", {reading.result}" if reading.result else ""
            self._means.outlet.event(
                t,
                "spot",
                f"{name}: {reading.shown}{result}",
                spot=name,
                stage=stage,
                value=reading.value,
                result=reading.result,
                reason=reading.reason,
                assumed=reading.assumed,
                by=by,
                raw=raw,
            )
        self._news.say(t, now=True)

    def _then(self, ago: float) -> int:
        """Plan time so many wire seconds ago."""
        return self._means.clock.of(wire_now() - round(min(max(ago, 0.0), LONGEST_AGO) * SECOND))
