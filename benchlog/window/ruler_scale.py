"""Where everything lies on a tolerance ruler: no Qt, all places as shares of its width from 0 to 1.

The band of what is wanted takes about half the ruler. A reading far outside does not stretch it: its
pointer is parked at the edge and says which way it went.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from benchlog.domain.expectation import Expectation
from benchlog.domain.kind import Kind
from benchlog.domain.quantity import Overload, scaled, show, step, symbol, tidy
from benchlog.domain.standing import replace_beyond

AROUND = 0.55
"""How far the ruler goes beyond the band on either side, as a share of the band's width."""
STRETCH = 1.6
"""A reading that lies beyond the band by up to this share of its width still stretches the ruler."""
OPEN_FROM = 0.72
"""Where the field for OL begins on a ruler of something that should read OL, or may."""
PARKED = 0.015

Zone = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark with its number."""

    at: float
    text: str


@dataclass(frozen=True, slots=True)
class Pointer:
    """Where a reading stands; `beyond` is -1 or 1 where it is parked at an edge."""

    at: float
    beyond: int = 0


@dataclass(frozen=True, slots=True)
class Scale:
    """A ruler as it is drawn.

    Attributes:
        band: what is wanted, None where nobody knows.
        drifted: zones outside the marking in which a part may stay.
        guards: strips inside the limits that hand-over figures may not reach.
        nominal: the value it is made for.
        pointer, error: the reading, and how far the meter can be off to either side.
        other: the same part on the other side.
        ticks, unit: the numbers below, and their unit.
        over: the field that stands for OL, where there is one.
    """

    band: Zone | None = None
    drifted: tuple[Zone, ...] = ()
    guards: tuple[Zone, ...] = ()
    nominal: float | None = None
    pointer: Pointer | None = None
    error: Zone | None = None
    other: Pointer | None = None
    ticks: tuple[Tick, ...] = ()
    unit: str = ""
    over: Zone | None = None


@dataclass(frozen=True, slots=True)
class Ruled:
    """What a ruler is drawn from: `error` is the meter's half-width, `guard` how far limits are drawn in."""

    expectation: Expectation | None = None
    value: float | Overload | None = None
    other: float | Overload | None = None
    error: float | None = None
    guard: float | None = None
    kind: Kind | None = None
    unit: str = ""


@dataclass(slots=True)
class _Axis:
    """A stretch of values and the share of the ruler it takes."""

    low: float
    high: float
    right: float = 1.0
    marks: list[float] = field(default_factory=list)

    def at(self, value: float) -> float:
        return (value - self.low) / (self.high - self.low) * self.right

    def clipped(self, value: float) -> float:
        return min(self.right, max(0.0, self.at(value)))

    def zone(self, low: float, high: float) -> Zone | None:
        ends = self.clipped(low), self.clipped(high)
        return ends if ends[1] > ends[0] else None


def scale_of(ruled: Ruled, most_ticks: int = 7) -> Scale:
    """The ruler of a part; empty where nothing says what it should read and nothing was read."""
    expectation = ruled.expectation
    unit = expectation.unit if expectation is not None and expectation.unit else ruled.unit
    if expectation is not None and expectation.open:
        return _open(ruled)
    axis = _axis(ruled, expectation)
    if axis is None:
        return Scale()
    over = (OPEN_FROM + 0.06, 1.0) if axis.right < 1.0 else None
    ticks, shown = _ticks(axis, unit, most_ticks)
    pointer = _pointer(axis, ruled.value, over)
    error = None
    if isinstance(ruled.value, float) and ruled.error and pointer is not None and not pointer.beyond:
        error = axis.zone(ruled.value - ruled.error, ruled.value + ruled.error)
    low, high = (expectation.low, expectation.high) if expectation is not None else (math.nan, math.nan)
    band = axis.zone(low, high) if expectation is not None else None
    if band is not None and over is not None and math.isinf(high):
        band = band[0], over[1]
    return Scale(
        band=band,
        drifted=_drifted(axis, ruled),
        guards=_guards(axis, low, high, ruled.guard),
        nominal=axis.clipped(expectation.nominal)
        if expectation is not None and expectation.nominal is not None
        else None,
        pointer=pointer,
        error=error,
        other=_pointer(axis, ruled.other, over),
        ticks=ticks,
        unit=shown,
        over=over,
    )


def _open(ruled: Ruled) -> Scale:
    """OL is what is wanted: no numbers, a field for OL, and everything else left of it."""
    over = (OPEN_FROM, 1.0)

    def place(value: float | Overload | None) -> Pointer | None:
        if value is None:
            return None
        return Pointer((over[0] + over[1]) / 2) if isinstance(value, Overload) else Pointer(PARKED, -1)

    return Scale(band=over, pointer=place(ruled.value), other=place(ruled.other), over=over)


def _axis(ruled: Ruled, expectation: Expectation | None) -> _Axis | None:
    """From where to where the ruler goes."""
    numbers = [value for value in (ruled.value, ruled.other) if isinstance(value, float)]
    if expectation is None:
        if not numbers:
            return None
        middle = numbers[-1]
        reach = max(abs(middle) * 0.2, *(abs(one - middle) * 1.3 for one in numbers)) or 1.0
        return _Axis(middle - reach, middle + reach)
    low, high = expectation.low, expectation.high
    if math.isinf(high):
        far = max([low * 3, *(one * 1.1 for one in numbers if one < low * 10)])
        return _Axis(min(0.0, low * 2), max(far, low + 1.0 if low <= 0 else far), OPEN_FROM)
    if math.isinf(low):
        return _Axis(high - abs(high) * 2 or -1.0, high + (abs(high) or 1.0))
    width = (high - low) or abs(high) * 0.1 or 1.0
    ends = [low - AROUND * width, high + AROUND * width]
    for zone in _stay(ruled):
        if low - width <= zone[0] and zone[1] <= high + width:
            ends += [zone[0] - 0.1 * width, zone[1] + 0.1 * width]
    error = min(ruled.error or 0.0, width)
    for one in numbers:
        reach = error if one == ruled.value else 0.0
        if low - STRETCH * width <= one <= high + STRETCH * width:
            ends += [one - reach - 0.1 * width, one + reach + 0.1 * width]
    least = min(ends)
    if low >= 0.0 and least < 0.0:
        least = 0.0 if low > 0.0 else -0.12 * width
    return _Axis(least, max(ends))


def _stay(ruled: Ruled) -> list[Zone]:
    """Zones outside the marking in which such a part may stay, in its unit."""
    expectation = ruled.expectation
    if expectation is None or not expectation.tolerance or ruled.kind is None or not expectation.nominal:
        return []
    shares = (
        replace_beyond(ruled.kind, expectation.tolerance) if ruled.kind.unit == expectation.unit else None
    )
    if shares is None:
        return []
    low, high = sorted(tidy(expectation.nominal * (1 + share)) for share in shares)
    found = [(low, expectation.low), (expectation.high, high)]
    return [zone for zone in found if zone[1] > zone[0]]


def _drifted(axis: _Axis, ruled: Ruled) -> tuple[Zone, ...]:
    zones = [axis.zone(*zone) for zone in _stay(ruled)]
    return tuple(zone for zone in zones if zone is not None)


def _guards(axis: _Axis, low: float, high: float, guard: float | None) -> tuple[Zone, ...]:
    """The strips inside each limit."""
    if not guard:
        return ()
    strips = []
    if math.isfinite(low):
        strips.append(axis.zone(low, min(low + guard, high)))
    if math.isfinite(high):
        strips.append(axis.zone(max(high - guard, low), high))
    return tuple(strip for strip in strips if strip is not None)


def _pointer(axis: _Axis, value: float | Overload | None, over: Zone | None) -> Pointer | None:
    if value is None:
        return None
    if isinstance(value, Overload):
        if over is not None:
            return Pointer((over[0] + over[1]) / 2)
        return Pointer(PARKED, -1) if value is Overload.NEGATIVE else Pointer(1.0 - PARKED, 1)
    at = axis.at(value)
    if at < 0.0:
        return Pointer(PARKED, -1)
    if at > axis.right:
        return Pointer(axis.right - PARKED, 1)
    return Pointer(at)


def _ticks(axis: _Axis, unit: str, most: int) -> tuple[tuple[Tick, ...], str]:
    """Round numbers along the ruler in one prefix, and the unit they are in."""
    exponent, prefix = step(max(abs(axis.low), abs(axis.high)), unit)
    if exponent and abs(axis.low) < abs(axis.high) / 1000:
        exponent, prefix = step(abs(axis.high) * 0.999, unit)
    apart = _round_step((axis.high - axis.low) / max(1, most))
    first = math.ceil(axis.low / apart - 1e-9)
    last = math.floor(axis.high / apart + 1e-9)
    places = _places(scaled(apart, -exponent))
    marks = []
    for number in range(first, last + 1):
        value = tidy(number * apart)
        marks.append(Tick(axis.at(value), f"{scaled(value, -exponent):.{places}f}"))
    return tuple(marks), f"{prefix}{symbol(unit)}"


def _places(apart: float) -> int:
    """How many digits after the point such steps need."""
    return max(0, *(0 - int(Decimal(repr(apart)).normalize().as_tuple().exponent), 0))


def _round_step(least: float) -> float:
    """The smallest of 1, 2, 2.5 and 5 times a power of ten that is no smaller."""
    power = 10.0 ** math.floor(math.log10(least))
    factors = (1, 2, 2.5, 5, 10)
    factor = next(one for one in factors if one * power >= least * (1 - 1e-9))
    return float(f"{factor * power:.6g}")


def described(ruled: Ruled) -> str:
    """The ruler for those who cannot see it."""
    said: Sequence[str] = [
        f"should read {ruled.expectation.shown}" if ruled.expectation is not None else "",
        f"reads {_show(ruled.value, ruled.unit)}" if ruled.value is not None else "not read yet",
        f"the other side {_show(ruled.other, ruled.unit)}" if ruled.other is not None else "",
        f"the meter can be off by {show(ruled.error, ruled.unit, digits=3)}" if ruled.error else "",
    ]
    return ", ".join(one for one in said if one)


def _show(value: float | Overload, unit: str) -> str:
    return value.value if isinstance(value, Overload) else show(value, unit)
