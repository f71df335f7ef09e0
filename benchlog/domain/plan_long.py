"""Plans for what comes after the first power-up, from the same six numbers: adjusting, warm-up, soak; no lamp.

Bands and dwells are bench habit (common practice, no source) and meant to be edited: the unit's own sheet comes first.
"""

from collections.abc import Iterator
from dataclasses import replace

from benchlog.domain import guard_defaults
from benchlog.domain.plan import Mover, Plan, Source
from benchlog.domain.plan_building import clipped, mains_stage, whole
from benchlog.domain.plan_limit import Action, Limit, LimitKind
from benchlog.domain.plan_stage import StagePlan, Wait
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.quantity import show
from benchlog.domain.run_kind import RunKind
from benchlog.domain.sixnumbers import DROP, SixNumbers, points
from benchlog.domain.trim import Trim
from benchlog.errors import BadInput

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
REFORM_STEPS = (0.25, 0.5, 0.75, 1.0)
REFORM_AMPS = 0.01
"""What a supply may give to a capacitor that is reformed, A."""
REFORM_DWELL = 900.0
LOST_SHARE = 0.1
"""Of what is applied, across the resistor: more after an hour is hopeless."""
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


def discharge(six: SixNumbers, switch: str) -> Plan:
    """Nothing is switched on: each reservoir is followed until it was seen low, and read again a minute later."""
    traces = clipped(six, [trace for trace in points(six) if trace.role is Role.RAIL])
    plan = _direct(six, "Discharge", switch, traces, (StagePlan(name="discharge", fraction=0.0, dwell=0.0),))
    about = "Unplugged, mains switch on, a resistor across each capacitor's own terminals."
    return replace(plan, name="Discharge", about=about, kind=RunKind.DISCHARGE, limit=())


def reform(six: SixNumbers, supply: str) -> Plan:
    """A capacitor taken up to its rated volts through a resistor, whose drop is the current it takes: I = U / R.

    `six.rail` is what it is rated for, `six.across` the resistor. It goes on once no more than a tenth of what is
    applied is lost across that.
    """
    if not supply:
        raise BadInput("supply", "is missing", "name the supply of the bench that feeds the capacitor")
    own = [
        TracePlan(name=f"reforming {word}", role=role, meter=supply, channel="1")
        for word, role in (
            ("volts", Role.SUPPLY_VOLTS),
            ("current", Role.SUPPLY_AMPS),
            ("state", Role.SUPPLY_STATE),
        )
    ]
    wanted = [
        TracePlan(name="drop", role=Role.DROP, ohms=six.across),
        TracePlan(name="can", role=Role.CAN, critical=False),
    ]
    read = clipped(six, wanted)
    stages = [
        StagePlan(
            name=f"{volts:g} V",
            volts=volts,
            current_limit=REFORM_AMPS,
            dwell=REFORM_DWELL,
            wait=(Wait(trace="drop", high=round(LOST_SHARE * volts, 3), seconds=60.0),),
        )
        for share in REFORM_STEPS
        for volts in (round(share * six.rail, 1),)
    ]
    limits = [limit for trace in read for limit in _on_reformed(six, trace)]
    plan = whole(
        six,
        f"Reform, {six.rail:g} V through {show(six.across, 'ohm')}",
        Source(moved_by=Mover.PROGRAM, chain=(supply, "series resistor"), supply=supply),
        (*own, *read),
        tuple(stages),
        tuple(limits),
    )
    about = (
        f"One capacitor of {six.rail:g} V through {show(six.across, 'ohm')}: the drop across the resistor is its "
        "current. Stop where the case warms, the current rises, or it vents."
    )
    return replace(plan, about=about, kind=RunKind.REFORM)


def _on_reformed(six: SixNumbers, trace: TracePlan) -> Iterator[Limit]:
    """A current that rises, or that is still high after an hour; a case that warms."""
    if trace.role is Role.DROP:
        rises = "its current rises: it heats itself"
        yield Limit(
            trace=trace.name, kind=LimitKind.RISE, fraction=0.15, window=600.0, after_steady=600.0, why=rises
        )
        hopeless = "after an hour it should take far less"
        yield Limit(
            trace=trace.name,
            kind=LimitKind.HIGH,
            value=round(LOST_SHARE * six.rail, 3),
            after_steady=3600.0,
            persistence=60.0,
            action=Action.WARN,
            why=hopeless,
        )
    else:
        warm = "its case warms"
        yield Limit(
            trace=trace.name, kind=LimitKind.RISE, value=10.0, window=600.0, after_steady=60.0, why=warm
        )


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
