"""The scales of a graph: which range is shown, where the numbers stand, what they say. No Qt."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from benchlog.domain.quantity import step, symbol

SECONDS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800, 43200)
DAY = 86400.0
LEAST_SPAN = 0.2
"""Nothing on a bench is worth a closer look than this, s."""

_LOW = 5.0
"""A panel of fewer lines of text than this is a low one."""

_HEADROOM = 0.42
"""Of a low panel the words at its top take no more than this."""

REACH = 4.0
"""A limit is in view as long as it is no further from nothing than so many times what is shown."""


@dataclass(frozen=True, slots=True)
class Scale:
    """A range of values with its lines: `low` to `high` in SI, the number at each line or none, and the unit."""

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...]
    unit: str


def round_step(rough: float) -> float:
    """The next of 1, 2, 5 times a power of ten that is not below `rough`."""
    if rough <= 0.0 or not math.isfinite(rough):
        return 1.0
    power = math.floor(math.log10(rough))
    for digit in (1, 2, 5, 10):
        found = float(f"{digit}e{power}")
        if found >= rough * (1.0 - 1e-9):
            return found
    return float(f"1e{power + 1}")


def value_scale(
    low: float, high: float, unit: str, digit: float, *, height: float, line: float, words_below: bool = False
) -> Scale:
    """A scale for a panel of that height that holds `low` to `high` and ends on round values.

    There is room for a line of words above all that is drawn, below it too where that is asked for and the panel
    is not low; at the top of the numbers there is room for the unit.
    """
    least = 100.0 * digit
    if high - low < least:
        middle = (low + high) / 2.0
        low, high = middle - least / 2.0, middle + least / 2.0
    exponent, prefix = step(max(abs(low), abs(high)), unit)
    span = high - low
    headroom = min(_HEADROOM, 1.45 * line / max(height, line))
    footroom = headroom if words_below and height > _LOW * line else 0.05
    fine = round_step(span / 40.0)
    whole = span / (1.0 - headroom - footroom)
    low = math.floor((low - footroom * whole) / fine) * fine
    high = math.ceil((high + headroom * whole) / fine) * fine
    per = height / (high - low)
    # The lowest number may reach into the space between two panels.
    seen = (low, high - 1.7 * line / per)
    ticks = _ticks(low, high, seen, most=height / (2.0 * line), closest=1.1 * line / per, exponent=exponent)
    return Scale(low, high, ticks, f"{prefix}{symbol(unit)}")


def _ticks(
    low: float, high: float, seen: tuple[float, float], *, most: float, closest: float, exponent: int
) -> tuple[tuple[float, str], ...]:
    """Where lines stand, and the number of each one that has room; two numbers at least where that can be."""
    apart = round_step((high - low) / max(1.0, most))
    while True:
        first, last = math.ceil(low / apart - 1e-9), math.floor(high / apart + 1e-9)
        values = [i * apart for i in range(first, last + 1)]
        finer = round_step(apart * 0.4)
        if sum(seen[0] <= value < seen[1] for value in values) >= 2 or finer < closest:
            break
        apart = finer
    places = max(0, -math.floor(math.log10(apart) + 1e-9) + exponent)
    return tuple((v, _number(v, exponent, places) if seen[0] <= v < seen[1] else "") for v in values)


def _number(value: float, exponent: int, places: int) -> str:
    text = f"{value / 10.0**exponent:.{places}f}"
    return text if float(text) else text.lstrip("-")


def value_range(
    extremes: Iterable[tuple[float, float]],
    bands: Iterable[tuple[float, float]],
    bounds: Sequence[float],
) -> tuple[float, float]:
    """What must be in view: all readings, all bands, and on each side the nearest limit unless it is far off."""
    shown = [*extremes, *bands]
    if not shown:
        above, below = [one for one in bounds if one > 0.0], [one for one in bounds if one < 0.0]
        return (max(below, default=0.0), min(above, default=0.0)) if bounds else (0.0, 1.0)
    low, high = min(one[0] for one in shown), max(one[1] for one in shown)
    above = [bound for bound in bounds if high < bound <= max(REACH * high, 0.0)]
    below = [bound for bound in bounds if min(REACH * low, 0.0) <= bound < low]
    low, high = max(below, default=low), min(above, default=high)
    # Nothing itself is in view where it is not far: a height means more from the ground.
    if 0.0 < low < 0.75 * high:
        low = 0.0
    elif 0.75 * low < high < 0.0:
        high = 0.0
    return low, high


def time_ticks(t0: float, t1: float, most: int) -> tuple[tuple[float, str], ...]:
    """Round moments of a run and how they are written, at most `most` of them."""
    rough = (t1 - t0) / max(1, most)
    apart = next((one for one in SECONDS if one >= rough), None) or math.ceil(rough / DAY) * DAY
    first, last = math.ceil(t0 / apart - 1e-9), math.floor(t1 / apart + 1e-9)
    return tuple((i * apart, moment(i * apart, fine=apart < 1.0)) for i in range(first, last + 1))


def moment(t: float, *, fine: bool = False) -> str:
    """A time of a run: `7:42`, `1:07:42`, with tenths where they are asked for."""
    tenths = round(abs(t) * 10.0) if fine else math.floor(abs(t) + 1e-9) * 10
    minutes, rest = divmod(tenths, 600)
    seconds = f"{rest // 10:02d}" + (f".{rest % 10}" if fine else "")
    hours, minutes = divmod(minutes, 60)
    text = f"{hours}:{minutes:02d}:{seconds}" if hours else f"{minutes}:{seconds}"
    return f"-{text}" if t < 0.0 and tenths else text


def whole_run(start: float, latest: float) -> tuple[float, float]:
    """The range for all of a run; its end moves in small steps, so that the picture does not creep."""
    span = max(latest - start, 30.0)
    apart = next((one for one in SECONDS if one >= span / 60.0), DAY)
    return start, start + math.ceil(span / apart) * apart


def spread(wanted: Sequence[float], height: float, low: float, high: float) -> list[float]:
    """Middles for labels of one height, as near as can be to where they are wanted, none on another."""
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    placed = [min(max(wanted[i], low + height / 2.0), high - height / 2.0) for i in order]
    for k in range(1, len(placed)):
        placed[k] = max(placed[k], placed[k - 1] + height)
    over = placed[-1] - (high - height / 2.0) if placed else 0.0
    if over > 0.0:
        placed[-1] -= over
        for k in range(len(placed) - 2, -1, -1):
            placed[k] = min(placed[k], placed[k + 1] - height)
    found = [0.0] * len(wanted)
    for k, i in enumerate(order):
        found[i] = placed[k]
    return found


def gathered(placed: Sequence[tuple[float, str]], height: float) -> list[tuple[float, str]]:
    """Labels given from the top, each with its middle; those less than a height below the first of a group as one.

    A group is told by its letters, with which each label begins: up to three, else the first and how many more.
    """
    groups: list[list[tuple[float, str]]] = []
    for y, text in placed:
        if groups and y - groups[-1][0][0] < height:
            groups[-1].append((y, text))
        else:
            groups.append([(y, text)])
    found = []
    for group in groups:
        letters = sorted({text[0] for _, text in group})
        said = "".join(letters) if len(letters) <= 3 else f"{letters[0]}+{len(letters) - 1}"
        found.append((sum(y for y, _ in group) / len(group), said if len(group) > 1 else group[0][1]))
    return found
