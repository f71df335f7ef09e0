"""What instruments said, as plain lines of a transcript: time, job, what happened. No Qt."""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any

from benchlog.domain.quantity import show
from benchlog.domain.reading import STATES, Function, Outcome
from benchlog.instruments.bench import MeterEntry
from benchlog.recorder.client import messages
from benchlog.window import words

_CURRENT = {
    Function.VOLTS_DC: " DC",
    Function.VOLTS_AC: " AC",
    Function.AMPS_DC: " DC",
    Function.AMPS_AC: " AC",
}
_MAINS_WORDS = ("lamp", "mains", "variac", "transformer", "wall")


def stamp(at: datetime, *, fine: bool = False) -> str:
    """A time of day, with its milliseconds where it is `fine`."""
    return at.strftime("%H:%M:%S.%f")[:-3] if fine else at.strftime("%H:%M:%S")


def said(function: Function, outcome: str, value: float | None) -> str:
    """A reading in words: `+2.31 V AC (ok)`, `OL (overload)`."""
    if value is None:
        return f"{words.NO_NUMBER.get(Outcome(outcome), 'no number')} ({outcome})"
    if function is Function.STATE:
        return f"{STATES[int(value)]} ({outcome})"
    sign = "+" if value > 0 and function in _CURRENT else ""
    return f"{sign}{show(value, function.unit)}{_CURRENT.get(function, '')} ({outcome})"


def without_job(job: str, sentence: str) -> str:
    """A sentence about an instrument where its job stands beside it already."""
    return sentence.removeprefix(f"{job}: ")


def of_state(message: messages.Meter, at: datetime) -> str:
    """How an instrument is doing, as it says itself."""
    state = words.METER_STATE.get(message.state, message.state)
    behind = message.identity or without_job(message.job, message.text)
    return f"{stamp(at)}\t{message.job}\t{state}{f': {behind}' if behind else ''}"


def of_pedal(message: messages.Pedal, at: datetime) -> str:
    """A pedal was pressed."""
    does = "cut" if message.does == "cut" else f"{message.does}, on the Parts page"
    return f"{stamp(at)}\t{message.job}\tpressed: {does}"


def of_reading(
    entry: MeterEntry, outcome: str, value: float | None, at: datetime, *, asked: bool = True
) -> str:
    """One reading of a meter of the bench; one that is not asked writes by itself."""
    function = entry.function or Function.OHMS
    return f"{stamp(at)}\t{entry.job}\t{'asked, answered' if asked else 'wrote'} {said(function, outcome, value)}"


def of_exchange(job: str, data: Mapping[str, Any], began: datetime) -> Iterator[str]:
    """One instrument tried by itself: each line on its wire, then what came of it."""
    for seconds, who, text in data["lines"]:
        at = began + timedelta(seconds=seconds)
        yield f"{stamp(at, fine=True)}\t{job}\t{who}\t{text}"
    for channel, function, outcome, value in data["read"]:
        output = f"output {channel} " if channel else ""
        yield f"\t{job}\t{output}reads {said(Function(function), outcome, value)}"
    if data.get("unreadable"):
        yield f"\t{job}\t{data['unreadable']}"
    if data["wrong"]:
        yield f"\t{job}\t{without_job(job, data['wrong'])}"
    elif not data["read"]:
        yield f"\t{job}\tanswers; it walks with you, so nothing was measured"


def mains_side(entry: MeterEntry) -> bool:
    """Whether a meter is likely on the mains side: it measures AC where lamp or mains are named."""
    named = f"{entry.job} {entry.clipped_to}".casefold()
    measures = entry.function in (None, Function.VOLTS_AC, Function.AMPS_AC)
    return measures and any(word in named for word in _MAINS_WORDS)


MAINS_CAUTION = (
    "On the mains side, across the lamp or at the mains, the link of a meter must be isolated from its input, and "
    "input and leads rated for the mains: CAT II 300 V or better, fused. A power-up refuses a meter there whose "
    "link is not isolated."
)

RELAY_CAUTION = (
    "benchlog sees the low-voltage side alone: the coil of a ready-made, enclosed mains relay with certified "
    "isolation, both poles, fused, and always a hand switch in series. No solid-state relay: it fails closed and "
    "leaks. Contacts can weld. Licensed practice comes first."
)
