"""What happened in a run, in the words of the bench: one sentence and one shape for each event. No Qt."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from benchlog.domain.discharge import SEEN_LOW
from benchlog.domain.offproof import CutOutcome
from benchlog.domain.stages import State
from benchlog.domain.trace import SECOND
from benchlog.store.records import EventRow
from benchlog.window import words
from benchlog.window.shapes import Shape

OF_CUT = {
    CutOutcome.VERIFIED: Shape.GOOD,
    CutOutcome.STILL_LIVE: Shape.STOP,
    CutOutcome.REFUSED: Shape.STOP,
    CutOutcome.UNKNOWN: Shape.NOTHING,
}
"""How an off-switch stands, as a shape."""

ASKED = {
    "next": "you asked for the next stage",
    "back": "you asked to go back a stage",
    "hold": "you held the run",
    "resume": "you let the run go on",
    "off": "you asked to switch off",
    "close": "you closed the run",
}
TOLD = {
    "set_dial": ("you said: the dial is set", "you said: the dial is not set"),
    "switch_on": ("you said: it is switched on", "you said: it is not switched on"),
    "switch_off": ("you said: it is switched off", "you said: it is not switched off"),
    "rebound": ("you measured: every reservoir under 1 V", "you measured: not every reservoir under 1 V"),
}


@dataclass(frozen=True, slots=True)
class Told:
    """One line of what happened.

    Attributes:
        t: plan seconds since the start.
        text: one sentence for a person.
        shape: none for what is only said.
        minor: whether the eye may pass over it.
        note: whether a person wrote it.
    """

    t: float
    text: str
    shape: Shape | None = None
    minor: bool = False
    note: bool = False


def told(event: EventRow) -> Told:
    """An event of a session file as a line."""
    t = event.t / SECOND
    make = _OF_KIND.get(event.kind)
    if make is not None:
        return make(t, event.text, event.data)
    return Told(t, event.text, minor=True)


def _stage(t: float, text: str, data: Mapping[str, Any]) -> Told:
    name, _, state = text.rpartition(": ")
    try:
        known = State(str(data.get("state", state)))
    except ValueError:
        return Told(t, text, minor=True)
    return Told(t, f"{name}: {words.RUN_STATE[known]}", minor=known not in (State.DWELLING, State.DRILL))


def _asked(t: float, text: str, data: Mapping[str, Any]) -> Told:
    said = ASKED.get(str(data.get("act", "")), text)
    early = data.get("early")
    if isinstance(early, int | float) and early > 0.0:
        return Told(t, f"{said}, {early:.0f} s before the end of the dwell")
    return Told(t, said, minor=True)


def _answered(t: float, text: str, data: Mapping[str, Any]) -> Told:
    done, not_done = TOLD.get(str(data.get("prompt", "")), ("", ""))
    if data.get("prompt") == "fit_lamp":
        fitted = text.replace("told:", "you said: fitted", 1).removesuffix(" done")
        return Told(t, fitted if data.get("done") else "you said: it is not fitted")
    if not done:
        return Told(t, text.replace("told:", "you said:", 1))
    yes = bool(data.get("done"))
    return Told(t, done if yes else not_done, minor=yes)


def _cut(t: float, text: str, data: Mapping[str, Any]) -> Told:
    try:
        outcome = CutOutcome(str(data.get("outcome", "")))
    except ValueError:
        return Told(t, text)
    switch, _, found = text.partition(": ")
    if outcome is CutOutcome.ASKED:
        return Told(t, f"{switch}: asked to switch off")
    known = words.CUT_BY_ANOTHER if data.get("seen_off") else words.CUT_OUTCOME
    said = f"{switch}: {known.get(outcome, words.CUT_OUTCOME[outcome])}"
    return Told(t, f"{said}: {found}" if found and found not in said else said, OF_CUT[outcome])


def _off(t: float, text: str, data: Mapping[str, Any]) -> Told:
    # The reason of a trip stands in the line above already.
    return Told(t, "everything off" if data.get("why") == "trip" else f"off: {text}")


def _drill(t: float, text: str, data: Mapping[str, Any]) -> Told:
    return Told(t, text, Shape.GOOD if data.get("seen") else Shape.NOTHING)


def _discharge(t: float, text: str, data: Mapping[str, Any]) -> Told:
    charge = str(data.get("charge", ""))
    return Told(
        t, text, None if charge in SEEN_LOW else Shape.DOUBT, minor=charge in ("falling", "still charged")
    )


def _meter(t: float, text: str, data: Mapping[str, Any]) -> Told:
    state = str(data.get("state", ""))
    if state not in words.METER_STATE:
        return Told(t, text)
    bad = state in ("gone", "refused")
    line = f"{data.get('job', '')}: {words.METER_STATE[state]}"
    return Told(t, line, Shape.NOTHING if bad else None, minor=not bad)


def _cold(t: float, text: str, data: Mapping[str, Any]) -> Told:
    holds = data.get("holds") is True
    return Told(t, f"cold check: {text}", None if holds else Shape.DOUBT, minor=holds)


_OF_KIND: Mapping[str, Callable[[float, str, Mapping[str, Any]], Told]] = {
    "stage": _stage,
    "asked": _asked,
    "told": _answered,
    "cut": _cut,
    "off": _off,
    "drill": _drill,
    "meter": _meter,
    "paused": lambda t, text, data: Told(
        t, text, Shape.GOOD if data.get("outcome") == CutOutcome.VERIFIED else Shape.NOTHING
    ),
    "trip": lambda t, text, _: Told(t, f"tripped: {text}", Shape.STOP),
    "warn": lambda t, text, _: Told(t, text, Shape.DOUBT),
    "wrong function": lambda t, text, _: Told(t, text, Shape.DOUBT),
    "clip": lambda t, text, _: Told(t, text),
    "trimmer": lambda t, text, _: Told(t, text),
    "idle": lambda t, text, _: Told(t, text),
    "observed": lambda t, text, _: Told(t, text),
    "spot": lambda t, text, _: Told(t, text),
    "cold": _cold,
    "alone": lambda t, text, _: Told(t, text),
    "again": lambda t, text, _: Told(t, text),
    "limit": lambda t, text, data: Told(t, text, Shape.DOUBT if data.get("loosened") else None),
    "overdue": lambda t, text, _: Told(t, text, Shape.NOTHING),
    "discharge": _discharge,
    "closed": lambda t, _text, _data: Told(t, "the run is closed", minor=True),
    "reference": lambda t, text, _: Told(t, text, minor=True),
    "armed": lambda t, _text, _data: Told(t, "the run begins, off", minor=True),
}
