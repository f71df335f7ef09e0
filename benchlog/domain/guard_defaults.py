"""The limits a made plan starts with: the bench's usual table, for the traces there are.

The numbers are bench habit (common practice, no source) and meant to be edited.
"""

from collections.abc import Iterator
from dataclasses import replace

from benchlog.domain.plan_limit import Action, Gate, Limit, LimitKind, OfTrace
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.sixnumbers import SixNumbers

LAMP_TRIPS, LAMP_WARNS = 0.12, 0.06
"""Above the lamp's healthy share of the mains."""
RISE_TRIPS, RISE_WARNS = 0.25, 0.10
"""A lamp that brightens by so much in a minute of rest."""
MIDPOINT_ROOM = 0.05
"""Of the rail, either way of half of it: a tenth of what the midpoint should read."""
IDLE_LEAST = 0.2
"""Of its target: less is a clip that is off, or a stage that sleeps."""
SINK_MOST, CAN_MOST, CAN_RISE = 60.0, 45.0, 0.4
"""degC of a heat sink and of a reservoir's can, and K/min of the can."""
RATINGS = (16.0, 25.0, 35.0, 40.0, 50.0, 63.0, 80.0, 100.0, 160.0, 200.0, 250.0, 350.0, 400.0, 450.0)
OVERVOLTAGE = 1.1
"""Mains may be a tenth high: the ceiling is the next usual rating of a capacitor above that."""
NO_RAIL = 8.0
"""Seconds after on from which offset and idle mean something where no rail is metered: a relay's delay."""


def ceiling(rail: float) -> float:
    """The capacitors' likely rating, V."""
    above = [rating for rating in RATINGS if rating >= OVERVOLTAGE * rail]
    return above[0] if above else round(OVERVOLTAGE * rail, 1)


def limits(six: SixNumbers, traces: tuple[TracePlan, ...]) -> tuple[Limit, ...]:
    """The table's limits on these traces, in their order."""
    return tuple(limit for trace in traces for limit in _on(six, trace, traces))


def _on(six: SixNumbers, trace: TracePlan, traces: tuple[TracePlan, ...]) -> Iterator[Limit]:
    if trace.role is Role.LAMP:
        yield from _lamp(six, trace)
    elif trace.role is Role.RAIL:
        yield from _rail(six, trace, traces)
    elif trace.role is Role.OFFSET:
        yield _gated(six, traces, trace, value=1.0, persistence=1.0)
        yield _gated(six, traces, trace, value=0.1, persistence=30.0, action=Action.WARN)
    elif trace.role is Role.IDLE:
        twice = "idle current above twice its target"
        yield _gated(six, traces, trace, value=2.0 * six.idle, persistence=3.0, why=twice)
        yield _gated(six, traces, trace, value=5.0 * six.idle)
        least = IDLE_LEAST * six.idle
        yield replace(
            _gated(six, traces, trace, value=least, persistence=5.0, action=Action.WARN),
            kind=LimitKind.LOW,
            once_set=True,
        )
        yield Limit(trace=trace.name, kind=LimitKind.RUNAWAY, target=six.idle)
    elif trace.role is Role.MIDPOINT:
        yield from _midpoint(six, trace, traces)
    elif trace.role is Role.MAINS_AMPS:
        yield Limit(trace=trace.name, kind=LimitKind.HIGH, times_healthy=2.0, persistence=2.0, after_on=3.0)
    elif trace.role is Role.SINK:
        yield Limit(trace=trace.name, kind=LimitKind.HIGH, value=SINK_MOST, after_on=60.0)
        yield Limit(trace=trace.name, kind=LimitKind.RUNAWAY)
    elif trace.role is Role.CAN:
        warn = Limit(trace=trace.name, kind=LimitKind.HIGH, after_on=60.0, action=Action.WARN)
        yield replace(warn, value=CAN_MOST)
        yield replace(
            warn, kind=LimitKind.RISE, value=3.0 * CAN_RISE, window=180.0, after_on=0.0, after_steady=60.0
        )


def _lamp(six: SixNumbers, trace: TracePlan) -> Iterator[Limit]:
    slow = {meter.job for meter in six.meters if meter.handheld}
    high = Limit(trace=trace.name, kind=LimitKind.HIGH, after_on=5.0 if trace.job in slow else 3.0)
    more = "the unit draws too much"
    yield replace(high, over_healthy=LAMP_TRIPS, persistence=1.0, why=more)
    yield replace(high, over_healthy=LAMP_WARNS, persistence=5.0, action=Action.WARN)
    rise = Limit(trace=trace.name, kind=LimitKind.RISE)
    yield replace(rise, fraction=RISE_TRIPS, why="the unit draws more and more")
    yield replace(rise, fraction=RISE_WARNS, action=Action.WARN)


def _midpoint(six: SixNumbers, trace: TracePlan, traces: tuple[TracePlan, ...]) -> Iterator[Limit]:
    """Half the rail as measured; where no meter is on the rail nobody knows what half of it is."""
    for rail in [one.name for one in traces if one.role is Role.RAIL][:1]:
        for kind, way in ((LimitKind.HIGH, 1.0), (LimitKind.LOW, -1.0)):
            yield Limit(
                trace=trace.name,
                kind=kind,
                of_trace=OfTrace(trace=rail, share=round(0.5 + way * MIDPOINT_ROOM, 3)),
                persistence=2.0,
                gate=Gate(any_of=(rail,), above=round(six.rail / 2.0, 2)),
                why="the midpoint is not half the rail",
            )


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
