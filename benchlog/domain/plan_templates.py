"""Plans made from six numbers: a text that passes as written by hand, to be kept and edited.

Dwells and steps are bench habit (common practice, no source).
"""

from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum

from benchlog.domain import guard_defaults
from benchlog.domain.plan import Mover, Plan, Source
from benchlog.domain.plan_limit import Action, Limit, LimitKind
from benchlog.domain.plan_stage import StagePlan, Wait
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.sixnumbers import DROP, SixNumbers, clip, points, sided
from benchlog.errors import BadInput

WALL = "wall switch"
"""What stands first in the chain where no bench says what switches."""
LAMPS = (40.0, 60.0, 100.0, 150.0)
STEPS = ((0.1, 20.0), (0.2, 20.0), (0.4, 30.0), (0.6, 40.0), (0.8, 60.0), (1.0, 120.0))
"""Fraction of mains and dwell, s."""
LADDER_DWELL = 60.0
QUICK_POINTS = 3
SAFETY_OHMS = 22.0
DROP_MOST = 10.0
"""Volts across a safety resistor that are a fault, whatever the unit should draw."""
DROPS_APART = Limit(
    trace="drop +",
    kind=LimitKind.APART,
    partner="drop -",
    fraction=0.1,
    floor=0.1,
    persistence=5.0,
    after_on=2.0,
    action=Action.WARN,
)
"""The two sides of a sound unit draw alike."""
BOARD_STEPS = ((1 / 3, 30.0), (2 / 3, 30.0), (1.0, 60.0))
BOARD_FIRST_AMPS = 0.1
BOARD_AMPS = 0.25
CHARGED = 1.5
"""Seconds in which a supply has charged the reservoirs of a board."""


class Template(StrEnum):
    """What a plan can be made for."""

    LAMP_LADDER = "lamp ladder"
    VARIABLE_TRANSFORMER = "variable transformer behind a lamp"
    BOARD = "dual supply on a board"
    SAFETY_RESISTORS = "safety resistors in the rails"
    QUICK = "quick run"


def plan(template: Template, six: SixNumbers, supply: str = "", switch: str = WALL) -> Plan:
    """The plan of this template.

    `supply` is the job of the supply that feeds a board, `switch` what switches everything else, by its job.
    BadInput names what does not fit.
    """
    six.check()
    if template is Template.LAMP_LADDER:
        return _ladder(six, switch)
    if template is Template.BOARD:
        return _board(six, supply)
    if template is Template.SAFETY_RESISTORS:
        return _safety(six, switch)
    if template is Template.QUICK:
        return _quick(six, switch)
    return _variable(six, switch)


def _ladder(six: SixNumbers, switch: str) -> Plan:
    """A stage for each lamp up to the largest at hand, and one without; between them the unit is off."""
    rungs = [watts for watts in LAMPS if watts < six.lamp_watts]
    rungs += [six.lamp_watts, 0.0] if six.lamp_watts else [0.0]
    traces = _clipped(six, points(six))
    first = _behind(six, rungs[0])
    chain = (switch, "series lamp") if rungs[0] else (switch,)
    made = _from_mains(
        first,
        "Lamp ladder",
        chain,
        traces,
        ((1.0, LADDER_DWELL),),
    )
    stages = [
        replace(
            _stage(replace(made.source, lamp_watts=watts), traces, 1.0, LADDER_DWELL),
            name=f"{watts:g} W lamp" if watts else "direct",
            lamp_watts=watts,
        )
        for watts in rungs
    ]
    return replace(made, stage=tuple(stages))


def _quick(six: SixNumbers, switch: str) -> Plan:
    """Switch on, watch three things."""
    return _at_once(six, switch, "Quick run", 60.0, most=QUICK_POINTS)


def _at_once(six: SixNumbers, switch: str, name: str, dwell: float, most: int | None = None) -> Plan:
    traces = _clipped(six, points(six), most)
    title = f"{name}, {_lamp(six)}" if six.lamp_watts else f"{name}, direct"
    chain = (switch, _lamp(six)) if six.lamp_watts else (switch,)
    return _from_mains(six, title, chain, traces, ((1.0, dwell),))


def _variable(six: SixNumbers, switch: str) -> Plan:
    lamp = (_lamp(six),) if six.lamp_watts else ()
    behind = f" behind a {_lamp(six)}" if lamp else ""
    chain = (switch, "variable transformer", *lamp)
    return _from_mains(six, f"Variable transformer{behind}", chain, _clipped(six, points(six)), STEPS)


def _safety(six: SixNumbers, switch: str) -> Plan:
    """Each rail through a resistor; the drop across it is what the unit draws."""
    signs = "+-" if six.paired else "+"
    drops = [TracePlan(name=f"drop {sign}", role=Role.DROP) for sign in signs]
    traces = _clipped(six, points(six, first=drops))
    where = "safety resistors in the rails" if six.paired else "safety resistor in the rail"
    resistor = f"{SAFETY_OHMS:g} ohm {where}"
    lamp = (_lamp(six),) if six.lamp_watts else ()
    chain = (switch, "variable transformer", *lamp, resistor)
    names = {drop.name for drop in drops}
    others = tuple(trace for trace in traces if trace.name not in names)
    clipped = [trace.name for trace in traces if trace.name in names]
    found = [limit for name in clipped for limit in _on_drop(six, name)]
    if len(clipped) == len(signs) > 1:
        found.append(DROPS_APART)
    return _from_mains(
        six,
        f"{where[:1].upper()}{where[1:]}",
        chain,
        traces,
        STEPS,
        (*found, *guard_defaults.limits(six, others)),
    )


def _on_drop(six: SixNumbers, name: str) -> list[Limit]:
    """What a safety resistor's drop must not be."""
    draws = "the unit draws too much through its safety resistor"
    found = [Limit(trace=name, kind=LimitKind.HIGH, value=DROP_MOST, after_on=2.0, why=draws)]
    thrice = round(3.0 * SAFETY_OHMS * six.idle_amps * six.channels, 3)
    if thrice < DROP_MOST:
        more = "three times what the idle currents come to"
        found.append(
            Limit(trace=name, kind=LimitKind.HIGH, value=thrice, after_on=2.0, persistence=1.0, why=more)
        )
    return found


def _board(six: SixNumbers, supply: str) -> Plan:
    """A board on a programmable supply, which cuts and limits by itself; meters go to idle and offset."""
    if not supply:
        raise BadInput("supply", "is missing", "name the supply of the bench that feeds the board")
    outputs = (("+", "1"), ("-", "2")) if six.paired else (("+", "1"),)
    own = [
        TracePlan(name=f"raw {sign} {word}", role=role, meter=supply, channel=output)
        for word, role in (
            ("volts", Role.SUPPLY_VOLTS),
            ("current", Role.SUPPLY_AMPS),
            ("state", Role.SUPPLY_STATE),
        )
        for sign, output in outputs
    ]
    wanted = [*sided(six, "idle", Role.IDLE), *sided(six, "offset", Role.OFFSET)]
    traces = (*own, *clip(wanted, six.meters))
    states = [trace.name for trace in own if trace.role is Role.SUPPLY_STATE]
    limits = [Limit(trace=name, kind=LimitKind.SUPPLY, after_steady=CHARGED) for name in states]
    amps = round(max(BOARD_AMPS, 2.0 * six.idle_amps * six.channels), 3)
    stages = [
        StagePlan(
            name=f"{volts:g} V",
            volts=volts,
            current_limit=BOARD_FIRST_AMPS if step == 0 else amps,
            dwell=dwell,
        )
        for step, (part, dwell) in enumerate(BOARD_STEPS)
        for volts in (round(part * six.rail, 1),)
    ]
    return _whole(
        six,
        "Board on a supply",
        Source(moved_by=Mover.PROGRAM, chain=(supply,), supply=supply),
        traces,
        tuple(stages),
        (*limits, *guard_defaults.limits(six, traces)),
    )


def _behind(six: SixNumbers, watts: float) -> SixNumbers:
    return replace(six, lamp_watts=watts)


def _lamp(six: SixNumbers) -> str:
    return f"{six.lamp_watts:g} W lamp"


def _clipped(six: SixNumbers, wanted: Sequence[TracePlan], most: int | None = None) -> tuple[TracePlan, ...]:
    traces = clip(wanted, six.meters)[:most]
    if not any(trace.critical for trace in traces):
        fix = "use one for volts, with an isolated link and rated for the mains where it goes across the lamp"
        raise BadInput("meters", "none of them can read a point of this plan", fix)
    return traces


def _from_mains(
    six: SixNumbers,
    name: str,
    chain: tuple[str, ...],
    traces: tuple[TracePlan, ...],
    steps: Sequence[tuple[float, float]],
    limits: tuple[Limit, ...] | None = None,
) -> Plan:
    source = Source(
        moved_by=Mover.HAND,
        chain=chain,
        mains=six.mains,
        lamp_watts=six.lamp_watts,
        ratio=six.ratio,
        diode_drop=DROP,
    )
    stages = tuple(_stage(source, traces, fraction, dwell) for fraction, dwell in steps)
    return _whole(
        six, name, source, traces, stages, guard_defaults.limits(six, traces) if limits is None else limits
    )


def _stage(source: Source, traces: tuple[TracePlan, ...], fraction: float, dwell: float) -> StagePlan:
    """A step with what must hold: rails as expected where that is known, and a lamp that stays as it is."""
    bare = StagePlan(name=f"{100 * fraction:.0f} %", fraction=fraction, dwell=dwell)
    seen = source.lamp_watts == 0.0 or any(trace.role is Role.LAMP for trace in traces)
    waits = []
    for trace in traces:
        if trace.role is Role.RAIL:
            # Behind a lamp that no meter watches nobody knows what is left for the unit.
            known = seen and source.left(bare) > 0.0
            steady = Wait(trace=trace.name, steady=0.05, seconds=5.0)
            waits.append(Wait(trace=trace.name, as_expected=True) if known else steady)
        elif trace.role is Role.LAMP and fraction >= 0.6:
            waits.append(Wait(trace=trace.name, steady=0.1, seconds=10.0))
    return StagePlan(name=bare.name, fraction=fraction, dwell=dwell, wait=tuple(waits))


def _offset(traces: tuple[TracePlan, ...]) -> bool:
    return any(trace.role is Role.OFFSET for trace in traces)


def _whole(
    six: SixNumbers,
    name: str,
    source: Source,
    traces: tuple[TracePlan, ...],
    stages: tuple[StagePlan, ...],
    limits: tuple[Limit, ...],
) -> Plan:
    rails = f"+/-{six.rail:g} V rails" if six.paired else f"one rail, +{six.rail:g} V"
    offset = "" if six.paired else " Take the offset after the output capacitor."
    if offset and source.moved_by is Mover.PROGRAM:
        # A board may end before it; what stands there then is half the rail, and would trip.
        offset = f"{offset[:-1]}; where there is none, leave it out of the plan." if _offset(traces) else ""
    each = " in each of two channels" if six.channels > 1 else ""
    about = (
        f"{rails[:1].upper()}{rails[1:]}, {1e3 * six.idle_amps:.3g} mA idle{each}"
        f" ({1e3 * six.idle:.3g} mV across {six.across:g} ohm). Inputs shorted, no speakers.{offset}"
    )
    return Plan(
        file=f"{Plan.FILE} {Plan.VERSION}",
        name=name,
        about=about,
        source=source,
        trace=traces,
        limit=limits,
        stage=stages,
    )
