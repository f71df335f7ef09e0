"""From cold to hot: what a figure read so many minutes after the unit was switched on, and since when it is settled."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from benchlog.domain.detail import of_readings
from benchlog.domain.plan_trace import Role
from benchlog.domain.stage_numbers import FOLLOWS, SETTLED_FOR, settling
from benchlog.domain.trace import SECOND

Floats = npt.NDArray[np.float64]
MINUTES = (1, 5, 15, 30, 60)
"""When a figure is looked at; common practice, no source."""
REACH = 15.0
"""Seconds before such a moment from which a reading may still stand for it."""
DRIFTS = (Role.IDLE, Role.OFFSET, Role.SINK, Role.MIDPOINT, Role.REGULATED)
"""What is looked at so; mains and raw rails go with the wall, not with heat."""

Happening = tuple[float, str, Mapping[str, Any]]
"""When, which kind of event, and its data."""


def on_since(happened: Iterable[Happening]) -> float | None:
    """When the unit was switched on for the last time before it went off; None where it never was."""
    on: float | None = None
    for t, kind, data in happened:
        if kind == "off":
            break
        if switched_on(kind, data):
            on = t
    return on


def switched_on(kind: str, data: Mapping[str, Any]) -> bool:
    """Whether an event says that the unit is on from now on: seen, carried out, or told."""
    if kind == "told":
        return data.get("prompt") == "switch_on" and bool(data.get("done"))
    return kind == "on" and bool(data.get("done", True))


@dataclass(frozen=True, slots=True)
class Drift:
    """One trace cold to hot: its value at each of `MINUTES`, None where nothing was read then."""

    trace: str
    at: tuple[float | None, ...]


def drift_of(trace: str, t: Floats, value: Floats, on: float, until: float | None = None) -> Drift:
    """The newest number at each moment or shortly before; `t` in seconds, ascending, NaN for no number.

    `until` is when it went off: what is read later is no heat of its own.
    """
    good = np.isfinite(value)
    t, value = t[good], value[good]
    found: list[float | None] = []
    for minutes in MINUTES:
        moment = on + 60.0 * minutes
        at = int(np.searchsorted(t, moment, side="right")) - 1
        there = at >= 0 and (until is None or moment <= until) and moment - t[at] <= REACH and t[at] >= on
        found.append(float(value[at]) if there else None)
    return Drift(trace, tuple(found))


def settled_in_words(t: Floats, value: Floats, since: float, role: Role) -> str:
    """Whether a figure is settled by now, and since when (rule 23); empty where it has no such rule."""
    later = t >= since
    t, value = t[later], value[later]
    if not len(t):
        return ""
    numbers = value[np.isfinite(value)]
    read = of_readings(np.rint(t * SECOND).astype(np.int64), value)
    after, why = settling(read, float(numbers[-1]) if len(numbers) else None, since, role)
    if after is not None:
        return f"settled for {(t[-1] - since - after) / 60.0:.0f} min"
    if why == FOLLOWS:
        return ""
    if why == "too short":
        left = max(0.0, SETTLED_FOR - (t[-1] - since))
        return f"{left / 60.0:.0f} min yet to settle"
    return "not settled"


def table(names: Sequence[str], drifts: Mapping[str, Drift]) -> tuple[Drift, ...]:
    """The drift of each trace in that order; all unknown where there is none."""
    unknown: tuple[float | None, ...] = (None,) * len(MINUTES)
    return tuple(drifts.get(name, Drift(name, unknown)) for name in names)
