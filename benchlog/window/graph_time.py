"""The time scale of a graph: since the start of the run, of each stage, or by the clock. No Qt.

What is drawn stands at plan seconds whatever the scale; only what is written below and beside it changes.
"""

import math
from bisect import bisect_right
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from enum import StrEnum

from benchlog.store.ids import utc_moment
from benchlog.window.graph_scale import DAY, SECONDS, moment, time_ticks
from benchlog.window.graph_scene import StageMark

FINE = 120.0
"""Up to so many seconds in view a moment is told to a tenth."""

_ROOM = 0.7
"""A time is left out where the next stage begins within so much of the space between two."""

AGAIN = " again"
"""Behind a time of the clock that came an hour earlier already: that hour comes twice when summer time ends."""


class Base(StrEnum):
    """What times are counted from; the word stands beside the scale."""

    RUN = "run"
    STAGE = "stage"
    CLOCK = "clock"


@dataclass(frozen=True, slots=True)
class TimeScale:
    """How the moments of a run are written.

    Attributes:
        base: what they are counted from.
        marks: the stages of the run, in time.
        started: local time at plan second 0; None where nobody knows, and then there is no clock. Its zone says when
            the clock is put forward or back.
        rate: plan seconds for each second of the clock, more than 1 at a simulated bench only.
    """

    base: Base = Base.RUN
    marks: tuple[StageMark, ...] = ()
    started: datetime | None = None
    rate: float = 1.0

    @property
    def next(self) -> Base:
        """The scale after this one, of those that say anything here."""
        possible = [Base.RUN]
        if self.marks:
            possible.append(Base.STAGE)
        if self.started is not None:
            possible.append(Base.CLOCK)
        at = possible.index(self.base) if self.base in possible else -1
        return possible[(at + 1) % len(possible)]

    def word(self, t: float, *, fine: bool = False) -> str:
        """A moment as this scale writes it, with tenths where they are asked for."""
        if self.base is Base.CLOCK and self.started is not None:
            return self._clock_word(t, self._midnight + self._put_on(t) + t / self.rate, fine=fine)
        if self.base is Base.STAGE:
            return moment(t - self._stage_began(t), fine=fine)
        return moment(t, fine=fine)

    def place(self, t: float, *, fine: bool = False) -> str:
        """The same where it stands alone: with the stage it is counted from."""
        at = bisect_right(self.marks, t, key=lambda mark: mark.t)
        within = f" in {self.marks[at - 1].text}" if self.base is Base.STAGE and at else ""
        return f"{self.word(t, fine=fine)}{within}"

    def ticks(self, t0: float, t1: float, most: int) -> tuple[tuple[float, str], ...]:
        """Round moments from `t0` to `t1` and how they are written, about `most` of them."""
        if self.base is Base.CLOCK and self.started is not None:
            return self._clock_ticks(t0, t1, most)
        if self.base is Base.STAGE and self.marks:
            return self._stage_ticks(t0, t1, most)
        return time_ticks(t0, t1, most)

    @property
    def _midnight(self) -> float:
        """Seconds of the clock from midnight to plan second 0."""
        began = self.started
        if began is None:
            return 0.0
        return began.hour * 3600.0 + began.minute * 60.0 + began.second + began.microsecond * 1e-6

    def _local(self, t: float) -> datetime:
        """The local time of a moment."""
        began = self.started or datetime.now(UTC)
        return datetime.fromtimestamp(began.timestamp() + t / self.rate, began.tzinfo)

    def _put_on(self, t: float) -> float:
        """Seconds by which the clock was put forward from plan second 0 to a moment; negative where it was put back."""
        now, began = self._local(t).utcoffset(), self._local(0.0).utcoffset()
        return 0.0 if now is None or began is None else (now - began).total_seconds()

    def _clock_word(self, t: float, seconds: float, *, fine: bool) -> str:
        """A moment as the clock shows it, that many seconds after the first midnight."""
        return _clock(seconds, fine=fine) + (AGAIN if self._local(t + 1e-3).fold else "")

    def _clock_ticks(self, t0: float, t1: float, most: int) -> tuple[tuple[float, str], ...]:
        rate = self.rate
        apart = _apart((t1 - t0) / rate / max(1, most))
        found: list[tuple[float, str]] = []
        for from_t, to_t in self._between_changes(t0, t1):
            began = self._midnight + self._put_on((from_t + to_t) / 2.0)
            first, last = (began + from_t / rate) / apart, (began + to_t / rate) / apart
            for i in range(math.ceil(first - 1e-9), math.floor(last + 1e-9) + 1):
                t = (i * apart - began) * rate
                if found and t - found[-1][0] < _ROOM * apart * rate:
                    continue
                found.append((t, self._clock_word(t, i * apart, fine=apart < 1.0)))
        return tuple(found)

    def _between_changes(self, t0: float, t1: float) -> tuple[tuple[float, float], ...]:
        """A stretch in two where the clock is put forward or back within it."""
        first, last = self._put_on(t0), self._put_on(t1)
        if first == last:
            return ((t0, t1),)
        before, after = t0, t1
        while after - before > 1e-3 * self.rate:
            middle = (before + after) / 2.0
            before, after = (middle, after) if self._put_on(middle) == first else (before, middle)
        change = round(after / self.rate, 1) * self.rate
        return ((t0, change - 0.1 * self.rate), (change, t1))

    def _stage_began(self, t: float) -> float:
        """When the stage of a moment was reached; before the first one it is the start of the run."""
        at = bisect_right(self.marks, t, key=lambda mark: mark.t)
        return self.marks[at - 1].t if at else 0.0

    def _stage_ticks(self, t0: float, t1: float, most: int) -> tuple[tuple[float, str], ...]:
        """Times that begin anew with each stage."""
        apart = _apart((t1 - t0) / max(1, most))
        begins = sorted({0.0, *(mark.t for mark in self.marks)})
        found: list[tuple[float, str]] = []
        for begin, end in zip(begins, [*begins[1:], math.inf], strict=True):
            if end < t0 or begin > t1:
                continue
            first = math.ceil(max(0.0, t0 - begin) / apart - 1e-9)
            last = math.floor((min(t1, end) - begin) / apart + 1e-9)
            for i in range(first, last + 1):
                t = begin + i * apart
                crowded = bool(found) and t - found[-1][0] < _ROOM * apart
                # Of short stages some beginnings have room, so that no scale is without a time.
                if crowded or (i > 0 and t > end - _ROOM * apart):
                    continue
                found.append((t, moment(i * apart, fine=apart < 1.0)))
        return tuple(found)


def _apart(rough: float) -> float:
    """The next round time that is not below `rough`, s."""
    return next((one for one in SECONDS if one >= rough), None) or math.ceil(rough / DAY) * DAY


def _clock(seconds: float, *, fine: bool) -> str:
    """Seconds after midnight as the time of day."""
    tenths = round(seconds * 10.0) if fine else math.floor(seconds + 1e-6) * 10
    whole, tenth = divmod(tenths % round(DAY * 10.0), 10)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" + (f".{tenth}" if fine else "")


class Here(tzinfo):
    """The zone of this computer with its changes of the clock, which an offset alone does not know."""

    def fromutc(self, when: datetime) -> datetime:
        """Local time, and which of two alike it is."""
        return datetime.fromtimestamp(when.replace(tzinfo=UTC).timestamp()).replace(tzinfo=self)  # noqa: DTZ006

    def utcoffset(self, when: datetime | None) -> timedelta | None:
        """How far it is ahead of UTC just then."""
        return None if when is None else when.replace(tzinfo=None).astimezone().utcoffset()

    def dst(self, _when: datetime | None) -> timedelta | None:
        """Not told: nobody asks."""
        return None

    def tzname(self, when: datetime | None) -> str | None:
        """What the zone is called just then."""
        return None if when is None else when.replace(tzinfo=None).astimezone().tzname()


def began_at(utc: str) -> datetime | None:
    """The local time of a moment as the library writes it; None where it is none."""
    try:
        return utc_moment(utc).astimezone(Here())
    except ValueError:
        return None
