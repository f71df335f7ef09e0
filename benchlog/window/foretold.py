"""What was foretold of a trace, in words: where it is heading and when, or why nobody can tell. No Qt."""

import math
from dataclasses import dataclass

from benchlog.domain.plan_trace import Role, TracePlan, shown
from benchlog.domain.quantity import show
from benchlog.electronics.asked import REFORM, Answer, Progress

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
    if answer.kind == REFORM:
        return _reforming(answer, t - foretold.t)
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
    if answer.kind == REFORM or answer.value is None:
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


def stalled(answer: Answer) -> str:
    """That a capacitor which is re-formed takes as much as before, or will take more than it should."""
    amps = _amps(answer.amps)
    if answer.value is None:
        return f"not improving: still {amps} after {in_time(answer.seen)}"
    return f"{amps}, heading for {_amps_near(answer.value)}, not for {_amps(answer.target)}"


def _reforming(answer: Answer, gone: float) -> tuple[str, ...]:
    """The current now, and when it is low enough, in ever fewer words; `gone` in seconds since its last reading."""
    amps, under = _amps(answer.amps), f"under {_amps(answer.target)}"
    if answer.progress is Progress.PLATEAU:
        if answer.value is not None:
            return stalled(answer), f"heading for {_amps_near(answer.value)}"
        return stalled(answer), f"not improving: {amps}", "not improving"
    if answer.progress is Progress.RISING:
        return f"{amps}, rising", "rising"
    if answer.amps <= answer.target:
        return f"{amps}, {under}", amps
    if answer.after is None:
        return f"{amps}, {NO_FORECAST}: {answer.why}", f"{amps}, {NO_FORECAST}", NO_FORECAST
    best, soonest, latest = (max(0.0, one - gone) for one in answer.after)
    heads = answer.value is not None and answer.value[1] > 0.0
    heading = f", heading for {_amps_near(answer.value)};" if heads and answer.value is not None else ","
    if round(best) <= 0:
        return f"{amps}, {under} within {in_time(latest)}", f"{under} within {in_time(latest)}"
    when = f"{under} in about {in_time(best)}"
    return (
        f"{amps}{heading} {when} ({between(soonest, latest)})",
        f"{amps}, {when}",
        f"{under} in {in_time(best)}",
    )


def _amps(value: float) -> str:
    """A current in three digits: the capacitor's own moves by more than that."""
    return show(value, "A", resolution=10.0 ** (math.floor(math.log10(value)) - 2) if value > 0.0 else 1e-9)


def _amps_near(value: tuple[float, float, float]) -> str:
    best, low, high = value
    digit = 10.0 ** math.floor(math.log10(high - low)) if high > low else 0.0
    return shown(best, "A", digit)


def _near(trace: TracePlan, value: float, width: float) -> str:
    """A value to the digit that its interval leaves it."""
    return shown(value, trace.measures.unit, digit_of(trace.role, width))


def digit_of(role: Role | None, width: float) -> float:
    """The last digit worth showing of a value whose interval is that wide."""
    digit = 10.0 ** math.floor(math.log10(width)) if width > 0.0 else 0.0
    return max(role.digit if role is not None else 0.0, digit)
