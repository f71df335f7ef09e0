"""A free-running meter on a wire: readings come when it sends them, in slices."""

import time

from benchlog.domain.leads import LeadNull
from benchlog.domain.reading import Function, Reading
from benchlog.errors import BadInput
from benchlog.instruments.link import Link
from benchlog.instruments.profile import Profile
from benchlog.instruments.sheet import Sheet
from benchlog.instruments.stream import Stream
from benchlog.instruments.talk import Clock

MOST_CHUNKS = 64
"""So many chunks of old lines are thrown away at most when a rest ends."""


class StreamMeter:
    """A meter that writes its display unasked, labelled by its job.

    Its own dial chooses the function and each line names it, so `configure` only checks that this
    kind of meter has it. Without a function it is a walking meter and rests until resumed.
    """

    def __init__(
        self,
        job: str,
        link: Link,
        profile: Profile,
        function: Function | None = None,
        *,
        sheet: Sheet | None = None,
        clock: Clock = time.monotonic_ns,
    ) -> None:
        self.job = job
        self.identity = profile.name
        self._link = link
        self._profile = profile
        self._clock = clock
        self._stream = Stream(profile, function, clock(), sheet)
        self._paused = function is None

    @property
    def function(self) -> Function | None:
        """What it was last seen to measure, or should."""
        return self._stream.function

    def configure(self, function: Function) -> None:
        """Expect this function; turning the dial is the person's."""
        if function not in self._profile.functions:
            known = ", ".join(self._profile.functions)
            raise BadInput(
                self.job, f"{self._profile.name} does not measure {function}", f"it measures {known}"
            )
        self._stream.function = function

    def null(self, null: LeadNull | None) -> None:
        """Take the leads off two-wire ohms from now on, or no longer."""
        self._stream.sheet = self._stream.sheet.nulled(null, self._clock())

    def pause(self) -> None:
        """Throw away what comes until `resume`."""
        self._paused = True

    def resume(self) -> None:
        """Give readings again, of lines that begin after this call."""
        self._paused = False
        for _ in range(MOST_CHUNKS):
            if not self._link.receive(0.0):
                break
        self._stream.forget()

    def step(self, wait: float) -> list[Reading]:
        """One slice of at most `wait` real seconds: the readings that came in it."""
        left = (self._stream.due - self._clock()) * 1e-9
        data = self._link.receive(min(wait, max(left, 0.0)))
        now = self._clock()
        readings: list[Reading] = []
        if data:
            readings = self._stream.feed(data, now)
        elif now >= self._stream.due:
            readings = [self._stream.expire(now)]
        return [] if self._paused else readings

    def wake(self) -> None:
        """End the slice under way, or the next one; from any thread."""
        self._link.wake()

    def close(self) -> None:
        """Close its wire."""
        self._link.close()
