"""A run on one page, as plain text: what was done, what it reads at the end, what differs, what to look at next.

Made in this one place for the window, the terminal and whoever copies it. Nothing in it says that a unit is safe.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from benchlog.domain.differing import apart, differs, finals
from benchlog.domain.discharge import MEASURE, SEEN_LOW
from benchlog.domain.drift import MINUTES, Drift
from benchlog.domain.moved import Moved
from benchlog.domain.plan import Plan
from benchlog.domain.plan_trace import Role, shown
from benchlog.domain.quantity import show
from benchlog.domain.run_kind import RunKind
from benchlog.domain.stage_numbers import Result, StageRow
from benchlog.domain.trim import BEHIND_LAMP, Stand, Trim, current_in_words, homing

WIDE = 80
"""Letters of the widest line."""
DASH = "-"
MOST = 12
"""So many warnings are told one by one; the rest are counted."""
_TELLS = ("trip", "warn", "clip", "idle", "limit", "observed", "spot", "again", "alone", "paused", "drill")
"""Events that are part of what was done."""


@dataclass(frozen=True, slots=True)
class Told:
    """An event or a note: when, its kind (`note` for one that was written), the sentence, its data."""

    t: float
    kind: str
    text: str
    data: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything that a page is made from; times in plan seconds since the start.

    Attributes:
        unit, visit: what they are called; empty where there is none.
        began: day and time as a person reads them.
        ending: how it ended, in words, with the reason; `off` how the off-switch stood, in words.
        on, off_at: when the unit went on and off; None where it did not.
        before: the last visit's run of the same kind, its day empty where there is none.
    """

    unit: str
    visit: str
    plan: Plan | None
    plan_name: str
    began: str
    length: float
    ending: str
    off: str
    on: float | None
    off_at: float | None
    rows: tuple[StageRow, ...]
    told: tuple[Told, ...]
    moved: tuple[Moved, ...] = ()
    drifts: Mapping[str, Drift] = field(default_factory=dict)
    before_day: str = ""
    before: tuple[StageRow, ...] = ()
    reservoirs: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)


def page(facts: Facts) -> str:
    """The page."""
    blocks = [
        _head(facts),
        _cold(facts),
        _done(facts),
        _stages(facts),
        _as_left(facts),
        _drift(facts),
        _moved(facts),
        _reservoirs(facts),
        _differing(facts),
        _next(facts),
    ]
    return "\n\n".join("\n".join(block) for block in map(list, blocks) if block) + "\n"


def _head(facts: Facts) -> Iterator[str]:
    yield ", ".join(filter(None, (facts.unit, facts.visit))) or "No unit was in hand"
    kind = facts.plan.run_kind.value if facts.plan is not None else ""
    name = facts.plan_name
    yield name if not kind or kind in name.casefold() else f"{name} ({kind})"
    on = (
        f", on for {clock(facts.off_at - facts.on)}"
        if facts.on is not None and facts.off_at is not None
        else ""
    )
    yield f"{facts.began}, {clock(facts.length)}{on}"
    yield f"It {facts.ending}." if facts.ending else "It is still open."
    if facts.off and (facts.plan is None or facts.plan.run_kind.feeds):
        yield f"Off-switch: {facts.off}."


def _cold(facts: Facts) -> Iterator[str]:
    found = [one for one in facts.told if one.kind == "cold"]
    if not found:
        return
    yield "COLD CHECKS"
    good = [one.text for one in found if one.data.get("holds") is True]
    if good:
        yield from wrapped(f"  {'; '.join(good)}.", "  ")
    for one in found:
        if one.data.get("holds") is not True:
            yield f"  ! {one.text}"


def _done(facts: Facts) -> Iterator[str]:
    told = [one for one in facts.told if one.kind in (*_TELLS, "note")]
    touched = [one for one in facts.told if one.kind == "trimmer"]
    if touched:
        times = "" if len(touched) == 1 else f", the last time at {clock(touched[-1].t)}"
        told.append(Told(touched[0].t, "trimmer", f"a trimmer was turned{times}"))
        told.sort(key=lambda one: one.t)
    if not told:
        return
    yield "WHAT HAPPENED"
    warned = [one for one in told if one.kind == "warn"]
    left_out = set(map(id, warned[MOST:]))
    for one in told:
        if id(one) not in left_out:
            mark = "note: " if one.kind == "note" else ""
            yield from wrapped(f"{clock(one.t):>7}  {mark}{one.text}", " " * 9)
    if left_out:
        yield f"         and {len(left_out)} warnings more"


def _stages(facts: Facts) -> Iterator[str]:
    """Each stay with its length and what was set there; all else stands in the run stage by stage."""
    spans = list(dict.fromkeys(row.span for row in facts.rows))
    if not spans:
        return
    yield "STAGE BY STAGE"
    for span in spans:
        rows = [row for row in facts.rows if row.span == span]
        trims = _trims(facts, span.index, span.name)
        said = [
            f"{row.trace} {_value(row, row.final)}{_stands(trims.get(row.trace), row.final)}"
            for row in rows
            if row.final is not None and (row.trace in trims or (not trims and _told_of(row)))
        ]
        bad = [f"{row.trace} {row.result}" for row in rows if row.result in _BAD]
        lamp = f" ({_behind(facts, span.index)})" if _behind(facts, span.index) else ""
        yield from wrapped(
            f"  {span.called:<13}{clock(span.end - span.begin):>8}  {', '.join((*said, *bad))}{lamp}",
            " " * 25,
        )


_BAD = (Result.TRIPPED, Result.LOST, Result.DOUBTED, Result.WARNED)


def _told_of(row: StageRow) -> bool:
    return row.role in (Role.RAIL, Role.LAMP, Role.OFFSET, Role.IDLE, Role.DROP, Role.REGULATED)


def _trims(facts: Facts, index: int, name: str) -> dict[str, Trim]:
    """What is set at a stage, by trace."""
    plan = facts.plan
    if plan is None or not 0 <= index < len(plan.stage) or plan.stage[index].name != name:
        return {}
    return {trim.trace: trim for trim in plan.stage[index].trim}


def _stands(trim: Trim | None, value: float | None) -> str:
    if trim is None:
        return ""
    stand = homing(trim, value).stand
    return f" {stand}" if stand is Stand.WITHIN else f" {stand.upper()}"


def _behind(facts: Facts, index: int) -> str:
    """That a stage stood behind a lamp; empty where it did not."""
    plan = facts.plan
    if plan is None or not 0 <= index < len(plan.stage):
        return ""
    watts = plan.fitted_at(index).lamp_watts
    return f"behind a {watts:g} W lamp" if watts > 0.0 else ""


def _as_left(facts: Facts) -> Iterator[str]:
    """The last stage's numbers, the other side and the last visit beside them."""
    last = finals(facts.rows)
    if not last:
        return
    before = finals(facts.before)
    lamp = bool(_behind(facts, next(iter(last.values())).span.index))
    yield "AS LEFT, at the end of the last stage"
    day = facts.before_day
    yield f"  {'':<12}{'now':>10}{'lowest':>11}{'highest':>11}{day:>13}  settled".rstrip()
    kept_out = []
    for name, row in last.items():
        if lamp and row.role in (Role.IDLE, Role.OFFSET):
            kept_out.append(name)
            continue
        earlier = before.get(name)
        cells = [_value(row, number) for number in (row.final, row.lowest, row.highest)]
        then = _value(earlier, earlier.final) if earlier is not None else ""
        settled = f"after {clock(row.settled)}" if row.settled is not None else row.unsettled
        settled = _UNSETTLED.get(settled, settled)
        yield f"  {name:<12}{cells[0]:>10}{cells[1]:>11}{cells[2]:>11}{then:>13}  {settled}".rstrip()
        if current := _current(facts, row):
            yield f"  {'':<12} {current}"
    for name in kept_out:
        yield f"  {name:<12} {BEHIND_LAMP}"


_UNSETTLED = {"follows the mains": "", "too short": "too short to tell"}


def _current(facts: Facts, row: StageRow) -> str:
    """The current of the last stage's drop, where the plan says what it is across."""
    plan = facts.plan
    if plan is None or row.final is None:
        return ""
    if row.role is Role.DROP:
        ohms = next((trace.ohms for trace in plan.trace if trace.name == row.trace), 0.0)
        return f"{show(abs(row.final) / ohms, 'A')} through {show(ohms, 'ohm')}" if ohms else ""
    if row.role is not Role.IDLE:
        return ""
    trims = [trim for stage in plan.stage for trim in stage.trim if trim.trace == row.trace and trim.ohms]
    return current_in_words(trims[-1], row.final) if trims else ""


def _drift(facts: Facts) -> Iterator[str]:
    known = {name: drift for name, drift in facts.drifts.items() if any(one is not None for one in drift.at)}
    if not known or facts.plan is None:
        return
    yield "COLD TO HOT"
    yield f"  {'':<12}" + "".join(f"{f'{minutes} min':>12}" for minutes in MINUTES)
    for name, drift in known.items():
        trace = facts.plan.find(name)
        yield f"  {name:<12}" + "".join(f"{DASH if v is None else trace.shown(v):>12}" for v in drift.at)


def _moved(facts: Facts) -> Iterator[str]:
    """Every trace of a long run, mains among them."""
    if facts.plan is None or not (facts.plan.run_kind.goes_on and facts.moved):
        return
    yield "WHAT MOVED"
    yield f"  {'':<11}{'first':>10}{'last':>10}{'drift':>10}{'lowest':>10}{'at':>8}{'highest':>10}{'at':>8}"
    for one in facts.moved:
        low, high = one.lowest, one.highest
        if one.first is None or low is None or high is None:
            yield f"  {one.trace:<11} nothing read"
            continue
        yield (
            f"  {one.trace:<11}{_of(one, one.first):>10}{_of(one, one.last):>10}{_signed(one, one.drift):>10}"
            f"{_of(one, low[0]):>10}{clock(low[1]):>8}{_of(one, high[0]):>10}{clock(high[1]):>8}"
        )
    silent = [(one.trace, one.silences) for one in facts.moved if one.silences]
    for name, silences in silent:
        longest = max(silences, key=lambda one: one[1])
        count = "1 silence" if len(silences) == 1 else f"{len(silences)} silences, the longest"
        yield f"  {name}: {count} of {clock(longest[1])} from {clock(longest[0])}"
    if not silent:
        yield "  No meter fell silent."


def _reservoirs(facts: Facts) -> Iterator[str]:
    """What each held when the run closed, and whether it was seen to get there."""
    if facts.reservoirs:
        yield "RESERVOIRS, as the run closed"
    for name, one in facts.reservoirs.items():
        volts = one.get("volts")
        held = shown(float(volts), "V", Role.RAIL.digit) if volts is not None else "not known"
        yield from wrapped(f"  {name:<12}{held:>10}  {one.get('said', '')}", " " * 26)


def _differing(facts: Facts) -> Iterator[str]:
    last = finals(facts.rows)
    found = [*apart(facts.plan, last), *differs(facts.before_day, last, finals(facts.before))]
    if last:
        yield "WHAT DIFFERS"
        for text in found or ["Nothing by more than is usual."]:
            yield from wrapped(f"  {text}", "    ")
        if not facts.before_day:
            yield "  There is no earlier good run of this kind to hold it against."


def _next(facts: Facts) -> Iterator[str]:
    yield "WHAT TO LOOK AT NEXT"
    for text in dict.fromkeys(_to_look_at(facts)):
        yield from wrapped(f"  - {text}", "    ")
    yield from wrapped(f"  Never trust this page alone: before you touch, {MEASURE}.", "  ")


def _to_look_at(facts: Facts) -> Iterator[str]:
    for one in facts.told:
        if one.kind == "trip":
            yield f"It tripped: {one.text}. Find the cause before it goes on again."
        elif one.kind == "cold" and one.data.get("holds") is not True:
            yield f"Cold check still open: {one.text}."
    charged = [name for name, one in facts.reservoirs.items() if one.get("charge") not in SEEN_LOW]
    if charged:
        yield f"Not seen to discharge: {', '.join(charged)}."
    last = finals(facts.rows)
    for name, row in last.items():
        if row.result in _BAD:
            yield f"{name}: {row.result}."
        trim = _trims(facts, row.span.index, row.span.name).get(name)
        if trim is not None and row.final is not None and homing(trim, row.final).stand is not Stand.WITHIN:
            yield f"{name} was left outside its band."
        if row.unsettled == "not settled":
            yield f"{name} was not settled at the end{_mains(last)}."
    marked = {one.data.get("trace"): bool(one.data.get("set")) for one in facts.told if one.kind == "idle"}
    kind = facts.plan.run_kind if facts.plan is not None else None
    if kind is RunKind.ADJUST:
        unset = [name for name, row in last.items() if row.role is Role.IDLE and not marked.get(name)]
        if unset:
            yield f"Not marked as set: {', '.join(unset)}."
    if _completed(facts) and kind in _THEN:
        yield _THEN[kind]


def _mains(last: Mapping[str, StageRow]) -> str:
    """Between what the mains moved meanwhile: much of what moves goes with it."""
    for row in last.values():
        if row.role is Role.MAINS:
            return f" (mains {_value(row, row.lowest)} to {_value(row, row.highest)})"
    return ""


def _completed(facts: Facts) -> bool:
    return facts.ending.startswith("went through") and not any(one.kind == "trip" for one in facts.told)


_THEN = {
    RunKind.POWER_UP: "Then: adjust, without a lamp.",
    RunKind.BOARD: "Then: the whole unit, from the lowest stage.",
    RunKind.ADJUST: "Then: warm-up and soak, lid on; look at idle and offset once more after an hour, and cold again.",
    RunKind.WARM_UP: "Then: soak.",
    RunKind.SOAK: "Then: the load test.",
}
"""What comes after a run that went through; common practice, no source."""


# --- words -----------------------------------------------------------------------------------------


def clock(seconds: float) -> str:
    """`4:05`, `1:02:09`."""
    whole = max(0, round(seconds))
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{left:02d}" if hours else f"{minutes}:{left:02d}"


def wrapped(text: str, indent: str = "") -> Iterator[str]:
    """The text in lines of at most `WIDE` letters, those after the first indented."""
    while len(text) > WIDE:
        cut = text.rfind(" ", len(indent) + 1, WIDE + 1)
        if cut < 0:
            break
        yield text[:cut].rstrip()
        text = indent + text[cut + 1 :].lstrip()
    yield text.rstrip()


def _value(row: StageRow, value: float | None) -> str:
    if value is None:
        return DASH
    return (
        shown(value, row.unit, row.role.digit if row.role is not None else 0.01) if row.unit else f"{value:g}"
    )


def _of(one: Moved, value: float | None) -> str:
    if value is None:
        return DASH
    return (
        shown(value, one.unit, one.role.digit if one.role is not None else 0.01) if one.unit else f"{value:g}"
    )


def _signed(one: Moved, value: float | None) -> str:
    said = _of(one, value)
    return said if said.startswith(("-", DASH)) else f"+{said}"
