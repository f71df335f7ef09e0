"""Another value for a limit while a run is open: tightened freely, loosened only with a reason.

Pure: gives the limit as it is to be, or says why not. What the plan check accepted is the outermost for what
keeps parts from bursting and for what the supply itself does.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from benchlog.domain.judges import APART_FRACTION
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Limit, LimitKind
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.quantity import quantity, show
from benchlog.domain.reading import Function
from benchlog.errors import BadInput

FIELDS = ("value", "of_source", "over_healthy", "times_healthy", "fraction", "persistence")
"""What of a limit may be set, the first one it has before the others where nothing is said."""
LONGEST = 60.0
"""Seconds of persistence beyond which a limit would watch over nothing."""
_OF_SUPPLY = (Role.SUPPLY_VOLTS, Role.SUPPLY_AMPS, Role.SUPPLY_STATE)
_UNITS = {"persistence": "s", "fraction": "", "of_source": "", "over_healthy": "", "times_healthy": ""}
_BOUNDS = FIELDS[:4]
_BETWEEN = {
    "fraction": (0.0, 1.0),
    "persistence": (0.0, LONGEST),
    "of_source": (0.0, 1.0),
    "over_healthy": (0.0, 1.0),
    "times_healthy": (1.0, 100.0),
}
_MAKE: dict[str, Callable[[Limit, float], Limit]] = {
    "value": lambda limit, new: replace(limit, value=new),
    "of_source": lambda limit, new: replace(limit, of_source=new),
    "over_healthy": lambda limit, new: replace(limit, over_healthy=new),
    "times_healthy": lambda limit, new: replace(limit, times_healthy=new),
    "fraction": lambda limit, new: replace(limit, fraction=new),
    "persistence": lambda limit, new: replace(limit, persistence=new),
}
_BANDS = {LimitKind.APART: APART_FRACTION}
"""The fraction of a limit whose plan gives none."""


@dataclass(frozen=True, slots=True)
class Change:
    """A limit as it is to be; `text` says what becomes of it, old and new, and why."""

    limit: Limit
    field: str
    old: float
    new: float
    loosened: bool
    text: str


def field_of(limit: Limit) -> str:
    """What is meant by the value of a limit: its bound where it has one, else its band, else its persistence."""
    for bound in _BOUNDS:
        if getattr(limit, bound) is not None:
            return bound
    return "fraction" if limit.fraction is not None or limit.kind in _BANDS else "persistence"


def figure(limit: Limit, field: str) -> float | None:
    """What a field of a limit is now; None where it has none."""
    if field == "persistence":
        return limit.seconds
    if field == "fraction":
        return limit.fraction if limit.fraction is not None else _BANDS.get(limit.kind)
    found: float | None = getattr(limit, field)
    return found


def shown_figure(trace: TracePlan, field: str, number: float) -> str:
    """A figure of a limit for a person."""
    if field == "value":
        return show(number, trace.measures.unit)
    return f"{number:g} s" if field == "persistence" else f"{100 * number:g} %"


def typed_figure(limit: Limit, trace: TracePlan, field: str, text: str) -> float:
    """What somebody typed for a field of a limit; BadInput where it is none.

    A bare number is of the unit, with its prefix, in which the figure is shown.
    """
    old = figure(limit, field) or 0.0
    unit = shown_figure(trace, field, old).rpartition(" ")[2]
    bare = text.strip().removesuffix("%").strip()
    if bare and not any(sign.isalpha() for sign in bare):
        bare = bare if unit == "%" else f"{bare} {unit}"
    return quantity(bare, _UNITS.get(field, trace.measures.unit)).value * (0.01 if unit == "%" else 1.0)


def with_figure(limit: Limit, field: str, new: float) -> Limit:
    """The same limit with another figure."""
    return _MAKE[field](limit, new)


def loosens(limit: Limit, field: str, new: float) -> bool:
    """Whether a limit would be broken later, or more rarely, by that figure."""
    old = figure(limit, field)
    below = limit.kind is LimitKind.LOW and field in ("value", "of_source")
    return old is not None and (new < old if below else new > old)


def named(limit: Limit) -> str:
    """A limit for a person: +B high."""
    return f"{limit.trace} {limit.kind.value.replace('_', ' ')}"


def changed(plan: Plan, checked: Plan, at: int, new: float, *, field: str = "", reason: str = "") -> Change:
    """That limit of the plan, numbered from 0, at a new figure; `checked` is the plan as it was checked.

    BadInput where it cannot be so, or is loosened without a reason or beyond what was checked.
    """
    if not 0 <= at < len(plan.limit):
        raise BadInput("limit", f"there is no limit {at + 1}", f"the plan has {len(plan.limit)}")
    limit = plan.limit[at]
    field, what, trace = field or field_of(limit), named(limit), plan.find(limit.trace)
    old = figure(limit, field) if field in FIELDS else None
    if old is None:
        has = " or ".join(one for one in FIELDS if figure(limit, one) is not None)
        raise BadInput("limit", f"{what} has no {field}", f"it has {has}")
    _check_number(trace, what, field, new)
    if new == old:
        raise BadInput("limit", f"{what} is {shown_figure(trace, field, old)} already", "give another value")
    loosened = loosens(limit, field, new)
    if loosened and _outermost(limit, trace):
        most = figure(checked.limit[at], field)
        if most is not None and new > most:
            problem = f"{what} goes no further than {shown_figure(trace, field, most)} while it is live"
            raise BadInput("limit", problem, "switch off, change the plan, have it checked again")
    if loosened and not reason.strip():
        raise BadInput("limit", f"{what} would be looser, and no reason is given", "say why with it")
    way, given = "loosened" if loosened else "tightened", reason.strip()
    text = f"{what} {way} from {shown_figure(trace, field, old)} to {shown_figure(trace, field, new)}"
    return Change(
        with_figure(limit, field, new), field, old, new, loosened, f"{text}: {given}" if given else text
    )


def _check_number(trace: TracePlan, what: str, field: str, new: float) -> None:
    """BadInput where it is no number that such a limit can have."""
    least = -math.inf if trace.measures is Function.TEMPERATURE else 0.0
    lowest, highest = _BETWEEN.get(field, (least, math.inf))
    if not math.isfinite(new) or not lowest <= new <= highest:
        fix = f"give {lowest:g} to {highest:g}" if math.isfinite(highest) else "give a number above nothing"
        raise BadInput("limit", f"{what} cannot be {new:g}", fix)


def _outermost(limit: Limit, trace: TracePlan) -> bool:
    """Whether it is a ceiling on what bursts, or one of the supply's own: the plan check has the last word."""
    ceiling = limit.kind is LimitKind.HIGH and trace.role in (Role.RAIL, Role.REGULATED)
    return ceiling or trace.role in _OF_SUPPLY
