"""Plans made from six numbers: a text that passes as written by hand, to be kept and edited.

Dwells and steps are bench habit (common practice, no source).
"""

from dataclasses import replace
from enum import StrEnum

from benchlog.domain import guard_defaults, plan_long
from benchlog.domain.plan import Mover, Plan, Source
from benchlog.domain.plan_building import clipped, from_mains, lamp_words, mains_stage, whole
from benchlog.domain.plan_limit import Action, Limit, LimitKind
from benchlog.domain.plan_stage import StagePlan
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.sixnumbers import SixNumbers, clip, points, sided
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
    ADJUST = "adjust"
    WARM_UP = "warm-up"
    SOAK = "soak"
    DISCHARGE = "discharge"
    REFORM = "reform"

    @property
    def by_supply(self) -> bool:
        """Whether a supply of the bench feeds it, set by the program."""
        return self in (Template.BOARD, Template.REFORM)


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
    if template is Template.REFORM:
        return plan_long.reform(six, supply)
    if template in _LONG:
        return _LONG[template](six, switch)
    return _variable(six, switch)


def _ladder(six: SixNumbers, switch: str) -> Plan:
    """A stage for each lamp up to the largest at hand, and one without; between them the unit is off."""
    rungs = [watts for watts in LAMPS if watts < six.lamp_watts]
    rungs += [six.lamp_watts, 0.0] if six.lamp_watts else [0.0]
    traces = clipped(six, points(six))
    first = _behind(six, rungs[0])
    chain = (switch, "series lamp") if rungs[0] else (switch,)
    made = from_mains(
        first,
        "Lamp ladder",
        chain,
        traces,
        ((1.0, LADDER_DWELL),),
    )
    stages = [
        replace(
            mains_stage(replace(made.source, lamp_watts=watts), traces, 1.0, LADDER_DWELL),
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
    traces = clipped(six, points(six), most)
    title = f"{name}, {lamp_words(six)}" if six.lamp_watts else f"{name}, direct"
    chain = (switch, lamp_words(six)) if six.lamp_watts else (switch,)
    return from_mains(six, title, chain, traces, ((1.0, dwell),))


def _variable(six: SixNumbers, switch: str) -> Plan:
    lamp = (lamp_words(six),) if six.lamp_watts else ()
    behind = f" behind a {lamp_words(six)}" if lamp else ""
    chain = (switch, "variable transformer", *lamp)
    return from_mains(six, f"Variable transformer{behind}", chain, clipped(six, points(six)), STEPS)


def _safety(six: SixNumbers, switch: str) -> Plan:
    """Each rail through a resistor; the drop across it is what the unit draws."""
    signs = "+-" if six.paired else "+"
    drops = [TracePlan(name=f"drop {sign}", role=Role.DROP) for sign in signs]
    traces = clipped(six, points(six, first=drops))
    where = "safety resistors in the rails" if six.paired else "safety resistor in the rail"
    resistor = f"{SAFETY_OHMS:g} ohm {where}"
    lamp = (lamp_words(six),) if six.lamp_watts else ()
    chain = (switch, "variable transformer", *lamp, resistor)
    names = {drop.name for drop in drops}
    others = tuple(trace for trace in traces if trace.name not in names)
    read = [trace.name for trace in traces if trace.name in names]
    found = [limit for name in read for limit in _on_drop(six, name)]
    if len(read) == len(signs) > 1:
        found.append(DROPS_APART)
    return from_mains(
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
    return whole(
        six,
        "Board on a supply",
        Source(moved_by=Mover.PROGRAM, chain=(supply,), supply=supply),
        traces,
        tuple(stages),
        (*limits, *guard_defaults.limits(six, traces)),
    )


def _behind(six: SixNumbers, watts: float) -> SixNumbers:
    return replace(six, lamp_watts=watts)


_LONG = {
    Template.ADJUST: plan_long.adjust,
    Template.WARM_UP: plan_long.warm_up,
    Template.SOAK: plan_long.soak,
    Template.DISCHARGE: plan_long.discharge,
}
"""What comes after the first power-up."""
