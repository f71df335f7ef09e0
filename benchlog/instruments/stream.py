"""A free-running instrument's bytes to readings: no questions, so no step to lose.

No I/O and no clock: bytes and monotonic nanoseconds come in, readings come out.
"""

from collections.abc import Callable

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.instruments.decode import as_text, decoder
from benchlog.instruments.display import Display
from benchlog.instruments.framer import FrameFramer, LineFramer
from benchlog.instruments.profile import Profile
from benchlog.instruments.sheet import Sheet

CUT_OFF = 1_000_000_000
"""A line that stops for so long in its middle, in ns, was cut off; what follows is not its rest."""


class Stream:
    """The lines or frames of one free-running instrument.

    A frame says itself where it begins; of lines, the first end only marks where whole ones begin.
    Where none came for the profile's deadline, one reading says so, and another one each deadline after.

    Attributes:
        due: monotonic ns at which `expire` must be called.
        function: what the instrument was last seen to measure.
        sheet: what is known of it besides.
    """

    def __init__(
        self, profile: Profile, function: Function | None, now: int, sheet: Sheet | None = None
    ) -> None:
        only = None if profile.reply.names_functions else next(iter(profile.function.values()), None)
        reply = (only and only.reply) or profile.reply
        self._in_frames = reply.frame is not None
        self._framer: LineFramer | FrameFramer
        if reply.frame is not None:
            self._framer = FrameFramer(reply.frame.length, reply.frame.index)
            self._text: Callable[[bytes], str] = Display(reply.frame).text
        else:
            self._framer = LineFramer(profile.link.reply_end.encode("ascii"), profile.link.longest_line)
            self._text = as_text
        self._decode = decoder(reply, only.scale if only else 1.0)
        self.sheet = sheet or Sheet.of(profile)
        self._deadline = round(profile.link.deadline * 1e9)
        self._whole = False
        self._last = now
        self.due = now + self._deadline
        self.function = function or profile.functions[0]

    def feed(self, data: bytes, now: int) -> list[Reading]:
        """The readings that `data` completes, all with the time it came."""
        if now - self._last > CUT_OFF and not self._framer.empty:
            self.forget()
        self._last = now
        lines = self._framer.feed(data)
        if lines and not (self._whole or self._in_frames):
            del lines[0]
            self._whole = True
        readings = []
        for line in lines:
            # An unreadable line is one of the function seen last.
            reading = self._decode(self._text(line), self.function, now)
            readings.append(self.sheet.complete(reading))
            self.function = reading.function
        if readings:
            self.due = now + self._deadline
        return readings

    def expire(self, now: int) -> Reading:
        """No line came until `due`."""
        self.due = now + self._deadline
        rest = self._framer.rest
        half = rest.hex() if self._in_frames else as_text(rest)
        return Reading(Outcome.MISSING, None, self.function, now, half)

    def forget(self) -> None:
        """Drop a line that has begun; whole lines begin after the next line end."""
        self._framer.clear()
        self._whole = False
