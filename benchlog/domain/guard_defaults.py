"""The limits a made plan starts with: the bench's usual table, for the traces there are.

The numbers are bench habit (common practice, no source) and meant to be edited.
"""

from collections.abc import Iterator

from benchlog.domain.plan_limit import Action, Gate, Limit, LimitKind
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.sixnumbers import SixNumbers

HEALTHY_LAMP = ((40.0, 0.37), (60.0, 0.21), (100.0, 0.10), (150.0, 0.06))
"""Lamp watts and the share of the applied voltage across it behind which a sound unit idles (calculated)."""
LAMP_MOST = 0.60
LAMP_ROOM = 0.25
"""Above the healthy share while only the table says what is healthy."""
RATINGS = (16.0, 25.0, 35.0, 40.0, 50.0, 63.0, 80.0, 100.0, 160.0, 200.0, 250.0, 350.0, 400.0, 450.0)
OVERVOLTAGE = 1.1
"""Mains may be a tenth high: the ceiling is the next usual rating of a capacitor above that."""
NO_RAIL = 8.0
"""Seconds after on from which offset and idle mean something where no rail is metered: a relay's delay."""


def lamp_bound(watts: float) -> float:
    """The share of the applied voltage across a lamp above which the unit draws too much."""
    healthy = [share for table, share in HEALTHY_LAMP if table <= watts]
    return min(LAMP_MOST, round(healthy[-1] + LAMP_ROOM, 2)) if healthy else LAMP_MOST


def ceiling(rail: float) -> float:
    """The capacitors' likely rating, V."""
    above = [rating for rating in RATINGS if rating >= OVERVOLTAGE * rail]
    return above[0] if above else round(OVERVOLTAGE * rail, 1)


def limits(six: SixNumbers, traces: tuple[TracePlan, ...]) -> tuple[Limit, ...]:
    """The table's limits on these traces, in their order."""
    return tuple(limit for trace in traces for limit in _on(six, trace, traces))


def _on(six: SixNumbers, trace: TracePlan, traces: tuple[TracePlan, ...]) -> Iterator[Limit]:
    if trace.role is Role.LAMP:
        slow = {meter.job for meter in six.meters if meter.handheld}
        yield Limit(
            trace=trace.name,
            kind=LimitKind.HIGH,
            of_source=lamp_bound(six.lamp_watts),
            after_on=5.0 if trace.job in slow else 3.0,
            persistence=1.0,
            why="the unit draws too much",
        )
    elif trace.role is Role.RAIL:
        yield from _rail(six, trace, traces)
    elif trace.role is Role.OFFSET:
        yield _gated(six, traces, trace, value=1.0, persistence=1.0)
        yield _gated(six, traces, trace, value=0.1, persistence=30.0, action=Action.WARN)
    elif trace.role is Role.IDLE:
        twice = "idle current above twice its target"
        yield _gated(six, traces, trace, value=2.0 * six.idle, persistence=3.0, why=twice)
        yield _gated(six, traces, trace, value=5.0 * six.idle)
        yield Limit(trace=trace.name, kind=LimitKind.RUNAWAY, target=six.idle)


def _rail(six: SixNumbers, trace: TracePlan, traces: tuple[TracePlan, ...]) -> Iterator[Limit]:
    guessed = "guessed from the rail: write here what its capacitors are rated for"
    yield Limit(trace=trace.name, kind=LimitKind.HIGH, value=ceiling(six.rail), why=guessed)
    for kind in (LimitKind.RAIL_LOW, LimitKind.RAIL_HIGH, LimitKind.POLARITY):
        yield Limit(trace=trace.name, kind=kind)
    others = [other.name for other in traces if other.role is Role.RAIL and other.sign != trace.sign]
    if others and trace.sign > 0:
        yield Limit(trace=trace.name, kind=LimitKind.APART, partner=others[0])


def _gated(
    six: SixNumbers,
    traces: tuple[TracePlan, ...],
    trace: TracePlan,
    *,
    value: float,
    persistence: float | None = None,
    action: Action = Action.TRIP,
    why: str = "",
) -> Limit:
    """A high limit that means something only once either rail is past half."""
    rails = tuple(one.name for one in traces if one.role in (Role.RAIL, Role.SUPPLY_VOLTS))
    return Limit(
        trace=trace.name,
        kind=LimitKind.HIGH,
        value=round(value, 6),
        persistence=persistence,
        after_on=0.0 if rails else NO_RAIL,
        gate=Gate(any_of=rails, above=round(six.rail / 2.0, 2)) if rails else None,
        action=action,
        why=why,
    )
