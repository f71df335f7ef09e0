"""Where a value stands: beside its limits, beside the meter's error, and beside the same part on the other side.

Two decision rules, as JCGM 106 and ISO/IEC 17025 ask them to be stated with every verdict:

* `bench`: the limits as they are; outside by no more than the meter's error is in doubt.
* `handover`: the limits drawn in by the expanded uncertainty (guard band w = U, k = 2); what lies
  nearer to a limit than U, on either side, is in doubt, and without a known error everything is.
"""

import math
from dataclasses import dataclass
from enum import Enum, StrEnum

from benchlog.domain.accuracy import COVERAGE
from benchlog.domain.kind import CAPACITORS, RESISTORS, Kind
from benchlog.domain.quantity import Overload, tidy
from benchlog.domain.tolerance import Tolerance

MIRROR_WITHIN = 0.05
"""Part against part (common practice, no source)."""

NODE_WITHIN = 0.10
"""Node to node, where several parts lie in the path (common practice, no source)."""

MIRROR_FLOOR = {"ohm": 0.1, "V": 1e-3, "A": 1e-6, "F": 10e-12, "": 0.005}
"""Two sides that differ by no more than this agree, whatever the share (common practice, no source)."""

LEADS_WITHIN = 0.05
"""Both lead directions of a part that is nothing but a resistance (common practice, no source)."""

IDLE_DROPS_WITHIN = 0.30
"""Drops across two emitter resistors in operation that speak for both (common practice, no source)."""

REPLACE_BEYOND: tuple[tuple[float, Tolerance], ...] = (
    (0.01, (-0.02, 0.02)),
    (0.05, (-0.10, 0.10)),
    (math.inf, (-0.10, 0.20)),
)
"""(marked tolerance up to, replace beyond): 1 % types, film, carbon (common practice, no source)."""

REPLACE_FILM: Tolerance = (-0.10, 0.10)
ELECTROLYTIC_HIGH = 0.30
"""Above nominal by more than this an old electrolytic may leak instead of holding more (common practice, no source)."""


class Rule(StrEnum):
    """By which limits a verdict was given."""

    BENCH = "bench"
    HANDOVER = "handover"


class Side(Enum):
    """On which side of the limits a value lies."""

    BELOW = -1
    INSIDE = 0
    ABOVE = 1


@dataclass(frozen=True, slots=True)
class Standing:
    """A side, and whether it holds whatever the meter's error does."""

    side: Side
    sure: bool


def stand(value: float, low: float, high: float, error: float | None, rule: Rule) -> Standing:
    """Where a value stands between limits; `error` is the meter's rectangular half-width."""
    side = Side.BELOW if value < low else Side.ABOVE if value > high else Side.INSIDE
    if error is None:
        return Standing(side, rule is Rule.BENCH)
    margin = error if rule is Rule.BENCH else expanded(error)
    if side is Side.INSIDE:
        return Standing(side, tidy(min(value - low, high - value)) >= margin)
    return Standing(side, tidy(max(low - value, value - high)) > margin)


def expanded(error: float) -> float:
    """The expanded uncertainty (k = 2) of a rectangular half-width (JCGM 100, 4.3.7)."""
    return tidy(COVERAGE * error / math.sqrt(3.0))


def probability(value: float, low: float, high: float, error: float) -> float:
    """The probability of conformity (JCGM 106): how likely the true value lies between the limits."""
    standard = error / math.sqrt(3.0)
    if not standard:
        return 1.0 if low <= value <= high else 0.0
    # Both tails are taken on their small side, where the difference of two near-ones would lose digits.
    above, below = _tail((high - value) / standard), _tail((value - low) / standard)
    return max(0.0, 1.0 - above - below)


def agrees(one: float | Overload, other: float | Overload, within: float, unit: str = "") -> bool:
    """Whether two readings are the same within a share of the second, or of the floor of their unit."""
    if isinstance(one, Overload) or isinstance(other, Overload):
        return one is other
    allowed = max(within * abs(other), MIRROR_FLOOR.get(unit, 0.0))
    return tidy(abs(one - other)) <= tidy(allowed)


def leads_agree(forward: float, back: float) -> bool:
    """Whether both lead directions read the same, as a plain resistance does."""
    return abs(forward - back) <= LEADS_WITHIN * max(abs(forward), abs(back))


def idle_drops_agree(one: float, other: float) -> bool:
    """Whether the drops across two emitter resistors in operation speak for both, volts."""
    return one * other > 0 and abs(one - other) <= IDLE_DROPS_WITHIN * max(abs(one), abs(other))


def replace_beyond(kind: Kind | None, marked: Tolerance) -> Tolerance | None:
    """Beyond which shares a part is replaced, never tighter than it is marked; None where limits are limits."""
    if kind in RESISTORS:
        widest = max(map(abs, marked))
        low, high = next(shares for up_to, shares in REPLACE_BEYOND if widest <= up_to)
    elif kind is Kind.ELECTROLYTIC:
        low, high = marked[0], ELECTROLYTIC_HIGH
    elif kind in CAPACITORS:
        low, high = REPLACE_FILM
    else:
        return None
    return min(low, marked[0]), max(high, marked[1])


def too_coarse(low: float, high: float, error: float) -> bool:
    """Whether the meter's error exceeds a third of the tolerance, so that it cannot judge such parts."""
    return math.isfinite(low) and math.isfinite(high) and error > tidy((high - low) / 2 / 3)


def _tail(z: float) -> float:
    """The share of a normal distribution beyond `z` standard deviations."""
    return 0.5 * math.erfc(z / math.sqrt(2.0))
