"""A meter that is asked: set up for a function, then one question after the other, in slices."""

import time
from typing import Protocol

from benchlog.domain.leads import LeadNull
from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.errors import BadInput, TimedOut
from benchlog.instruments.decode import decoder
from benchlog.instruments.dialogue import Phase
from benchlog.instruments.link import Link
from benchlog.instruments.order import order
from benchlog.instruments.profile import Profile
from benchlog.instruments.profile_function import FunctionSettings
from benchlog.instruments.range_told import RangeTold
from benchlog.instruments.sheet import Sheet
from benchlog.instruments.talk import Clock, Steps, Talk

SET_UPS = 2
"""So often a set-up is begun before the instrument counts as not answering its error queue."""

_IDLE = Phase.IDLE
_ASKED = Phase.ASKED


class Instrument(Protocol):
    """What a thread that owns an instrument drives; all but `wake` belong to that thread."""

    @property
    def job(self) -> str:
        """Its unique label on the bench."""

    @property
    def identity(self) -> str:
        """What it says it is; empty where it never says."""

    def step(self, wait: float) -> list[Reading]:
        """One slice of at most `wait` real seconds; raises a LinkError when the wire is dead."""

    def wake(self) -> None:
        """End the slice under way, or the next one, from any thread."""

    def close(self) -> None:
        """Close its wire."""


class ConfigurableMeter(Instrument, Protocol):
    """An instrument that measures one function at a time, and may rest."""

    @property
    def function(self) -> Function | None:
        """What it was last told to measure, or was last seen to."""

    def configure(self, function: Function) -> None:
        """Measure this from now on; BadInput where the kind of instrument cannot."""

    def pause(self) -> None:
        """Give no readings until `resume`."""

    def resume(self) -> None:
        """Give readings again, each begun after this call."""


class Meter:
    """An asked meter, labelled by its job.

    Without a function it is a walking meter: it rests until it is told what to measure and
    resumed. `interval` is in real seconds between questions, 0 for as fast as it answers.
    """

    def __init__(
        self,
        job: str,
        link: Link,
        profile: Profile,
        function: Function | None = None,
        interval: float = 0.0,
        *,
        sheet: Sheet | None = None,
        clock: Clock = time.monotonic_ns,
    ) -> None:
        self.job = job
        self.sheet = sheet or Sheet.of(profile)
        self.function: Function | None = None
        self._profile = profile
        self._talk = Talk(link, profile, job, clock)
        self._clock = clock
        self._interval = round(max(interval, profile.link.interval) * 1e9)
        self._next = 0
        self._paced = False
        """Whether there may be something to wait for before the next question."""
        self._paused = function is None
        self._open = False
        """Whether a question for a reading is open."""
        self._void = False
        """Whether the open question was asked before a pause or for another function."""
        self._steps: Steps | None = None
        """The set-up under way, its question asked or due."""
        self._step_due = ""
        self._stepping = False
        """Whether a question of the set-up is open."""
        self._unset = False
        """Whether a set-up is wanted or under way."""
        self._line_up: tuple[str, ...] = ()
        """Its commands; none where only the range is asked for."""
        self._set_ups = 0
        """How often it was begun."""
        if function is not None:
            self.configure(function)

    @property
    def identity(self) -> str:
        """What it says it is; empty until it said so, or where it never does."""
        return self._talk.dialogue.identity

    def prove(self, patience: float | None = None) -> None:
        """Block until it said what it is, at most `patience` s; Refused, TimedOut or Gone where it does not."""
        self._talk.settle(patience)

    def configure(self, function: Function) -> None:
        """Have the next slices set it up; a refused set-up is raised by `step`."""
        settings = self._profile.function.get(function)
        if settings is None:
            known = ", ".join(self._profile.functions)
            raise BadInput(
                self.job, f"{self._profile.name} does not measure {function}", f"it measures {known}"
            )
        self.function = function
        self._take_settings(settings)
        self._void = self._open
        self._steps = None
        self._unset = bool(self._line_up)
        self._set_ups = 0

    def null(self, null: LeadNull | None) -> None:
        """Take the leads off two-wire ohms from now on, or no longer."""
        self.sheet = self.sheet.nulled(null, self._clock())

    def pause(self) -> None:
        """Ask no more; a reading already asked for is thrown away."""
        self._paused = True
        self._void = self._open

    def resume(self) -> None:
        """Ask again, beginning at once; a walking meter must have been told what."""
        self._paused = self.function is None
        self._next = 0

    def step(self, wait: float) -> list[Reading]:
        """One slice of at most `wait` real seconds: usually one reading, none where nothing came."""
        talk = self._talk
        if talk.dialogue.phase is not _IDLE:
            reply = talk.poll(wait)
        elif self._unset or self._paused or self._paced:
            reply = talk.poll(self._begin(wait))
        else:
            # At full pace: nothing to wait for but the answer.
            self._open = talk.ask(self._question, self._deadline)
            reply = talk.look(min(wait, self._soonest))
        if reply is not None:
            return self._answered(reply)
        if talk.dialogue.late or ((self._open or self._stepping) and talk.dialogue.phase is not _ASKED):
            return self._went_wrong()
        return []

    def wake(self) -> None:
        """End the slice under way, or the next one; from any thread."""
        self._talk.wake()

    def close(self) -> None:
        """Close its wire."""
        self._talk.close()

    def _take_settings(self, settings: FunctionSettings) -> None:
        link = self._profile.link
        self._settling = round(settings.settling * 1e9)
        self._paced = bool(self._interval or self._settling)
        self._question = self._talk.dialogue.line(settings.question)
        self._decode = decoder(settings.reply or self._profile.reply, settings.scale)
        top = self.sheet.range_in(self.function)
        fixed = settings.range_for(top) if top is not None else None
        self._line_up = settings.line_up(fixed, self.sheet.frequency_in(self.function))
        self._range = RangeTold(settings, fixed, wanted=self.sheet.needs_range(self.function))
        deadline = settings.deadline or link.deadline
        self._deadline = round(deadline * 1e9)
        self._soonest = min(deadline, link.quiet)

    def _begin(self, wait: float) -> float:
        """Ask what is due; gives how long to wait for what follows."""
        if (self._unset and self._set_up()) or self._paused:
            return wait
        if self._paced:
            now = self._clock()
            rest = self._next - now
            if rest > 0:
                return min(wait, rest * 1e-9)
            # Behind by an interval or more, the pace starts anew instead of catching up.
            following = self._next + self._interval
            self._next = following if following > now else now + self._interval
        self._open = self._talk.ask(self._question, self._deadline)
        return wait

    def _set_up(self) -> bool:
        """Begin a set-up, or ask its next question; False where nothing is left to ask."""
        if self._steps is None:
            self._set_ups += 1
            self._steps = self._set_up_steps()
            self._step_due = next(self._steps, "")
        if not self._step_due:
            self._set_up_done()
            return False
        line = self._talk.dialogue.line(self._step_due)
        self._stepping = self._talk.ask(line, round(self._profile.link.deadline * 1e9))
        return True

    def _set_up_steps(self) -> Steps:
        """Choose function and range, or ask which range is in use."""
        if self._line_up:
            yield from order(self._talk, self._profile.errors, self._line_up)
        else:
            self._range.take((yield self._range.question))

    def _set_up_done(self) -> None:
        self._steps = None
        self._unset = False
        if self._settling and self._line_up:
            self._next = max(self._next, self._clock() + self._settling)

    def _answered(self, reply: str) -> list[Reading]:
        """The open question's answer came: a set-up's, or a reading."""
        if not self._open:
            self._next_step(reply)
            return []
        self._open = False
        if self._void or self.function is None:
            self._void = False
            return []
        reading = self._decode(reply, self.function, self._talk.at)
        if reading.outcome is Outcome.MALFORMED:
            self._talk.doubt()
        made = self.sheet.complete(reading, self._range.of(reading))
        if self._range.doubtful(reading):
            self._line_up, self._unset, self._set_ups = (), True, 0
        return [made]

    def _next_step(self, reply: str) -> None:
        """A set-up's answer came; its next question is asked by the next slice."""
        self._stepping = False
        if self._steps is None:
            return  # the set-up was given up for another function meanwhile
        try:
            self._step_due = self._steps.send(reply)
        except StopIteration:
            self._set_up_done()

    def _went_wrong(self) -> list[Reading]:
        """The open question was missed, or something came that answers none."""
        talk, function = self._talk, self.function
        lost = talk.dialogue.phase is not _ASKED
        missed = lost and (self._open or self._stepping) and not self._void
        if lost and self._stepping and self._steps is not None:
            self._steps = None
            if not self._line_up:
                self._range.give_up()
                self._unset = False
            elif self._set_ups >= SET_UPS:
                raise TimedOut(self.job, f"did not answer {self._step_due}", "check [errors] of its profile")
        if lost:
            self._open = self._void = self._stepping = False
        late = talk.dialogue.collect_late()
        if function is None:
            return []
        readings = [Reading(Outcome.LATE, None, function, talk.at, text) for text in late]
        if missed:
            readings.insert(0, Reading(Outcome.MISSING, None, function, talk.at, talk.dialogue.half_line()))
        return readings
