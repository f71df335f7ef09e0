"""The account of a run at a terminal: what happened, what it read, how it was switched off."""

from pathlib import Path
from typing import Any

from benchlog.commands.conduct import Course
from benchlog.domain.discharge import MEASURE, SEEN_LOW
from benchlog.domain.offproof import CutOutcome
from benchlog.domain.plan_trace import Role
from benchlog.domain.quantity import show
from benchlog.domain.reading import STATES
from benchlog.instruments.bench import Bench
from benchlog.store import query
from benchlog.store.picture import numbers
from benchlog.store.records import Ending
from benchlog.store.sweep import SweepReport

STATUS = {Ending.COMPLETED: 0, Ending.TRIPPED: 3, Ending.STOPPED: 4}
MILLION = 1_000_000


def only_by_hand(bench: Bench) -> bool:
    """Whether a hand is all there is to switch off with, so that a person's word may stand for the proof."""
    return all(switch.kind == "hand" for switch in bench.off_switch)


def status(found: dict[str, Any]) -> int:
    """The exit status of an account: 0 done and proven off, 4 ended by the operator.

    3 where it tripped, was not proven off, or an off-switch failed though it was seen off by another.
    """
    ended = STATUS.get(found.get("outcome", Ending.LOST), 4)
    return ended if ended or (found["off_proven"] and not found["failed"]) else 3


def account(course: Course, *, by_hand: bool) -> dict[str, Any]:
    """The run as one JSON object; times in milliseconds of wire time, values in base SI units.

    `by_hand` is whether a hand is the only off-switch: then what the person said stands where no trace shows it.
    """
    found: dict[str, Any] = {"stages": course.stages}
    told = by_hand and course.told_off and course.off != CutOutcome.STILL_LIVE
    found["failed"] = course.failed
    found["off_proven"] = course.off == CutOutcome.VERIFIED or told
    closed = course.closed
    if closed is not None:
        found |= {
            "outcome": closed.outcome,
            "reason": closed.reason,
            "session": closed.path,
            "folded": closed.folded,
        }
        traces = query.traces(Path(closed.path))
        read = numbers(Path(closed.path), [trace.id for trace in traces], None)
        found["traces"] = [
            {
                "trace": trace.name,
                "unit": trace.unit,
                "role": trace.role,
                "final": read[trace.id].final,
                "lowest": read[trace.id].low,
                "highest": read[trace.id].high,
                "readings": read[trace.id].rows,
            }
            for trace in traces
        ]
    found["not_discharged"] = [
        {"trace": name, "volts": one["volts"], "why": one["said"]}
        for name, one in course.reservoirs.items()
        if one["charge"] not in SEEN_LOW
    ]
    trip = course.trip
    if trip is not None:
        found["trip"] = {
            "trace": trip.trace,
            "limit": trip.limit,
            "reason": trip.text,
            "value": trip.value,
            "bound": trip.bound,
        }
    found["off"] = [_off(course, path) for path in dict.fromkeys(cut.path for cut in course.cuts)]
    return found


def _off(course: Course, path: str) -> dict[str, Any]:
    said = [cut for cut in course.cuts if cut.path == path]
    last = said[-1]
    off: dict[str, Any] = {"switch": path, "outcome": last.outcome, "text": last.text}
    # Only a limit broken by a reading has a moment on the wire to count from; silence has none.
    if course.trip is not None and course.trip.limit not in ("lost", "beside the plan"):
        off["reading_to_cut_ms"] = round((last.asked_ns - course.trip.wire_ns) / MILLION, 3)
    if last.outcome == CutOutcome.VERIFIED:
        off["cut_to_verified_ms"] = round((last.at_ns - last.asked_ns) / MILLION, 1)
    return off


def _values(trace: dict[str, Any]) -> str:
    """Final, lowest and highest of a trace in words; a supply's state has an end and no extremes."""
    if trace["final"] is None:
        return "no reading"
    role = Role(trace["role"])
    if role is Role.SUPPLY_STATE:
        return f"final {STATES[int(trace['final'])]:>10}"
    final, low, high = (
        show(trace[key], trace["unit"], resolution=role.digit) for key in ("final", "lowest", "highest")
    )
    return f"final {final:>10}   lowest {low:>10}   highest {high:>10}"


def _charged(found: list[dict[str, Any]]) -> list[str]:
    """What the reservoirs held at the close, those that were not seen to discharge; and what goes for all."""
    held = [
        f"{one['trace']} {show(one['volts'], 'V', resolution=0.01) if one['volts'] is not None else 'not known'}"
        for one in found
    ]
    said = [f"Rails not seen discharged: {', '.join(held)}."] if held else []
    return [*said, f"Never trust this alone: before you touch, {MEASURE}."]


def swept_in_words(report: SweepReport) -> list[str]:
    """What was found at the opening of the library: runs that were never closed, files that cannot be read."""
    lost = [f"Run {line.file.stem} was not closed: {line.reason}." for line in report.closed]
    return [*lost, *(str(fault) for fault in report.problems)]


def in_words(found: dict[str, Any]) -> list[str]:
    """The account as lines for a person."""
    lines = [f"Stages reached: {', '.join(found['stages']) or 'none'}."]
    if "outcome" in found:
        lines.append(f"Run {found['outcome']}: {found['reason']}.")
    lines.extend(f"  {trace['trace']:<14} {_values(trace)}" for trace in found.get("traces", ()))
    for off in found["off"]:
        times = []
        if "reading_to_cut_ms" in off:
            times.append(f"violating reading to cut on the wire {off['reading_to_cut_ms']:.2f} ms")
        if "cut_to_verified_ms" in off:
            times.append(f"cut to verified off {off['cut_to_verified_ms']:.0f} ms")
        lines.append(f"Off-switch {off['switch']}: {off['outcome']} ({off['text']}).")
        lines.extend(f"  {time}" for time in times)
    lines.extend(
        f"{name} failed: find its fault; until it is proven anew nothing is armed."
        for name in found["failed"]
    )
    if found["off"] and not found["off_proven"]:
        lines.append("Nothing shows that the unit is off: pull the plug.")
    if found["off"]:
        lines.extend(_charged(found["not_discharged"]))
    if "session" in found:
        lines.append(f"Run kept in {found['session']}")
    return lines
