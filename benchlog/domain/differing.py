"""What differs at the end of a run: the sides from each other, and from what the last visit's run left.

The bounds are bench habit (common practice, no source).
"""

from collections.abc import Iterator, Mapping, Sequence

from benchlog.domain.plan import Plan
from benchlog.domain.plan_trace import Role, shown
from benchlog.domain.stage_numbers import StageRow

SHARES = {Role.IDLE: 0.10, Role.RAIL: 0.05, Role.DROP: 0.10, Role.REGULATED: 0.02, Role.MIDPOINT: 0.05}
"""By what share of the larger one two figures may differ."""
STEPS = {Role.OFFSET: 10e-3, Role.SINK: 5.0, Role.CAN: 5.0}
"""By how much, where a share of something near zero means nothing."""


def finals(rows: Sequence[StageRow]) -> dict[str, StageRow]:
    """The rows of the last stay at a stage, by trace; those with a number."""
    if not rows:
        return {}
    span = rows[-1].span
    return {row.trace: row for row in rows if row.span == span and row.final is not None}


def apart(plan: Plan | None, last: Mapping[str, StageRow]) -> Iterator[str]:
    """Where the two sides, or the two rails, differ by more than they should."""
    if plan is None:
        return
    there = [trace for trace in plan.trace if trace.name in last]
    for at, one in enumerate(there):
        for other in there[at + 1 :]:
            sides = {one.side, other.side} == {"left", "right"}
            rails = one.role is Role.RAIL and one.sign != other.sign
            if one.role is other.role and (sides or rails):
                first, second = last[one.name], last[other.name]
                yield from _beyond(f"{other.name} from {one.name}", first, second, sizes=rails)


def differs(day: str, last: Mapping[str, StageRow], before: Mapping[str, StageRow]) -> Iterator[str]:
    """What an earlier run read otherwise at its end."""
    for name, row in last.items():
        if day and name in before and row.unit == before[name].unit:
            yield from _beyond(f"{name} from {day}", before[name], row)


def _beyond(what: str, one: StageRow, other: StageRow, *, sizes: bool = False) -> Iterator[str]:
    first, second, role = one.final, other.final, one.role
    if first is None or second is None or role is None:
        return
    if sizes:
        first, second = abs(first), abs(second)
    by = second - first
    more = "more" if by > 0.0 else "less"
    values = f"{shown(second, other.unit, role.digit)} against {shown(first, one.unit, role.digit)}"
    if role in STEPS and abs(by) > STEPS[role]:
        yield f"{what}: {values}, {shown(abs(by), one.unit, role.digit)} {more}"
    elif role in SHARES and (most := max(abs(first), abs(second))) > 0.0 and abs(by) > SHARES[role] * most:
        yield f"{what}: {values}, {100.0 * abs(by) / most:.0f} % {more}"
