"""What was foretold of a trace, in words: where it is heading and when, or why nobody can tell. No Qt."""

import math
from dataclasses import dataclass

from benchlog.domain.plan_trace import Role, TracePlan, shown
from benchlog.electronics.asked import Answer

STALE = 15.0
"""Seconds of the window's clock after which a forecast that was not made anew is shown no more."""
NO_FORECAST = "no forecast"


@dataclass(frozen=True, slots=True)
class Foretold:
    """An answer, the plan seconds of the last reading it was made from, and when it came by the window's clock."""

    answer: Answer
    t: float
    came: float

    def stale(self, now: float) -> bool:
        """Whether it may no longer be shown."""
        return now - self.came > STALE


def in_time(seconds: float) -> str:
    """A time to come, as exactly as anybody wants to know it."""
    if seconds < 99.5:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5970.0 else f"{seconds / 3600.0:.1f} h"


def between(soonest: float, latest: float) -> str:
    """Two times to come as one text: `20 to 22 s`."""
    one, other = in_time(soonest), in_time(latest)
    unit = other.partition(" ")[2]
    return other if one == other else f"{one.removesuffix(f' {unit}')} to {other}"


def headings(foretold: Foretold, trace: TracePlan, t: float) -> tuple[str, ...]:
    """In a few words, and in fewer where there is less room; `t` in plan seconds. Empty where nothing is to be said."""
    answer = foretold.answer
    if answer.settled:
        return ("settled",)
    if answer.value is None:
        return (f"{NO_FORECAST}: {answer.why}", NO_FORECAST) if answer.why else ()
    value, low, high = answer.value
    after = answer.after[0] - (t - foretold.t) if answer.after is not None else 0.0
    said = f"heading for {_near(trace, value, high - low)}"
    shorter = f"to {_near(trace, value, high - low)}"
    if after <= 0.0:
        return said, shorter
    return f"{said} in {in_time(after)}", f"{shorter} in {in_time(after)}", shorter


def at_length(foretold: Foretold, trace: TracePlan, t: float) -> str:
    """The same with what it lies between and how long was looked."""
    answer = foretold.answer
    if answer.value is None:
        if answer.steady:
            return f"steady for {in_time(answer.seen)}, nothing to foretell"
        return "".join(headings(foretold, trace, t)[:1])
    _, low, high = answer.value
    said = f"{headings(foretold, trace, t)[0]}; 9 in 10 between {_near(trace, low, high - low)}"
    said = f"{said} and {_near(trace, high, high - low)}"
    if answer.after is None or answer.after[0] <= 0.0:
        return said
    gone = t - foretold.t
    soonest, latest = (max(0.0, one - gone) for one in answer.after[1:])
    return f"{said}, in {between(soonest, latest)}"


def falling(foretold: Foretold | None, t: float) -> str:
    """What is foretold of a reservoir that falls, behind that it does; never that it is discharged."""
    if foretold is None:
        return ""
    answer, gone = foretold.answer, t - foretold.t
    if answer.to_one is None:
        return f"{NO_FORECAST}: {answer.why}" if answer.why else ""
    soonest, latest = (max(0.0, one - gone) for one in answer.to_one[1:])
    said = f"1 V in {between(soonest, latest)} if it goes on"
    if answer.to_five is not None and answer.to_five[0] > gone:
        said = f"5 V in {in_time(answer.to_five[0] - gone)}, {said}"
    return said


def _near(trace: TracePlan, value: float, width: float) -> str:
    """A value to the digit that its interval leaves it."""
    return shown(value, trace.measures.unit, digit_of(trace.role, width))


def digit_of(role: Role | None, width: float) -> float:
    """The last digit worth showing of a value whose interval is that wide."""
    digit = 10.0 ** math.floor(math.log10(width)) if width > 0.0 else 0.0
    return max(role.digit if role is not None else 0.0, digit)
