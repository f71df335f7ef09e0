"""Plans for what comes after the first power-up, from the same six numbers: adjusting, warm-up, soak; no lamp.

Bands and dwells are bench habit (common practice, no source) and meant to be edited: the unit's own sheet comes first.
"""

from dataclasses import replace

from benchlog.domain import guard_defaults
from benchlog.domain.plan import Mover, Plan, Source
from benchlog.domain.plan_building import clipped, mains_stage, whole
from benchlog.domain.plan_stage import StagePlan
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.run_kind import RunKind
from benchlog.domain.sixnumbers import DROP, SixNumbers, points
from benchlog.domain.trim import Trim

OFFSET_BAND = 5e-3
"""Either way of nothing, V."""
IDLE_BAND = 0.05
"""Of what the sheet says, either way."""
LEAST_BAND = 0.2e-3
"""V: no trimmer is set finer than that."""
COLD_LEAST = 0.4
"""Of the final idle: cold it is set to half or two thirds, since it rises as it warms; never above the final one."""
SETTING, WARMING, AGAIN = 60.0, 1200.0, 600.0
"""Dwells of setting something cold, of warming up at idle, and of the offset after that, s."""
WARM_UP = 3600.0
SOAK = 8 * 3600.0
_FIRST = (Role.IDLE, Role.OFFSET, Role.MAINS, Role.SINK)
"""What is looked at while a trimmer is turned; the meters that are left go to the rails."""


def adjust(six: SixNumbers, switch: str) -> Plan:
    """Offset, idle cold, idle warm, offset again: each stage offered once its figures stay in their bands."""
    six = replace(six, lamp_watts=0.0)
    traces = _traces(six)
    idles = [trace.name for trace in traces if trace.role is Role.IDLE]
    offsets = [trace.name for trace in traces if trace.role is Role.OFFSET]
    room = max(IDLE_BAND * six.idle, LEAST_BAND)
    cold = [_idle(six, name, COLD_LEAST * six.idle, six.idle + room) for name in idles]
    warm = [_idle(six, name, six.idle - room, six.idle + room) for name in idles]
    zero = [Trim(trace=name, low=-OFFSET_BAND, high=OFFSET_BAND) for name in offsets]
    steps = [
        ("offset", SETTING, zero),
        ("idle, cold", SETTING, cold),
        ("idle, warm", WARMING, warm),
        ("offset again", AGAIN, zero),
    ]
    stages = tuple(
        replace(_stage(six, traces, name, dwell), trim=tuple(trims)) for name, dwell, trims in steps if trims
    )
    plan = _direct(six, "Adjust", switch, traces, stages or (_stage(six, traces, "warm", WARMING),))
    return replace(plan, kind=RunKind.ADJUST)


def warm_up(six: SixNumbers, switch: str) -> Plan:
    """An hour at full mains, to be looked at cold to hot."""
    six = replace(six, lamp_watts=0.0)
    traces = _traces(six)
    plan = _direct(six, "Warm-up", switch, traces, (_stage(six, traces, "warm-up", WARM_UP),))
    return replace(plan, kind=RunKind.WARM_UP)


def soak(six: SixNumbers, switch: str) -> Plan:
    """Eight hours at full mains: drift, not a single number."""
    six = replace(six, lamp_watts=0.0)
    traces = _traces(six)
    plan = _direct(six, "Soak", switch, traces, (_stage(six, traces, "soak", SOAK),))
    return replace(plan, kind=RunKind.SOAK)


def _traces(six: SixNumbers) -> tuple[TracePlan, ...]:
    """The points worth a meter, those that are set or drift first."""
    wanted = points(six)
    first = [trace for role in _FIRST for trace in wanted if trace.role is role]
    return clipped(six, [*first, *(trace for trace in wanted if trace not in first)])


def _idle(six: SixNumbers, name: str, low: float, high: float) -> Trim:
    return Trim(trace=name, low=round(low, 6), high=round(high, 6), ohms=six.across)


def _source(six: SixNumbers, switch: str) -> Source:
    return Source(moved_by=Mover.HAND, chain=(switch,), mains=six.mains, ratio=six.ratio, diode_drop=DROP)


def _stage(six: SixNumbers, traces: tuple[TracePlan, ...], name: str, dwell: float) -> StagePlan:
    return replace(mains_stage(_source(six, ""), traces, 1.0, dwell), name=name)


def _direct(
    six: SixNumbers, name: str, switch: str, traces: tuple[TracePlan, ...], stages: tuple[StagePlan, ...]
) -> Plan:
    """No lamp stands before it: behind one no figure of these means anything."""
    limits = guard_defaults.limits(six, traces)
    return whole(six, f"{name}, direct", _source(six, switch), traces, stages, limits)
