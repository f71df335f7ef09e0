"""Lines of the benchmark's table: figures, what they are held against, and how they are shown."""

import dataclasses
import json
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

HEAD = ("what", "figure", "benchlog", "rival", "ratio", "goal", "verdict")
WIDTHS = (46, 12, 14, 14, 7, 12, 9)


@dataclass(frozen=True, slots=True)
class Line:
    """One figure: of what, against which rival, and whether its goal is met (None: there is none).

    `ours` is None where it could not be measured here; `ratio` is ours to the rival's.
    """

    what: str
    figure: str
    ours: float | None
    unit: str
    rival: float | None = None
    goal: str = ""
    met: bool | None = None
    note: str = ""

    @property
    def ratio(self) -> float | None:
        """Ours to the rival's; None without one."""
        return self.ours / self.rival if self.ours is not None and self.rival else None


@dataclass(frozen=True, slots=True)
class Spread:
    """How many values there were, their median, 99th percentile and highest."""

    count: int
    p50: float
    p99: float
    highest: float


def percentile(values: Sequence[float], fraction: float) -> float:
    """The value below or at which that fraction of them lies, by the nearest rank; nan of none."""
    if not values:
        return math.nan
    rank = max(math.ceil(fraction * len(values)), 1)
    return sorted(values)[rank - 1]


def median(values: Sequence[float]) -> float:
    """The middle one, or the mean of the two in the middle; nan of none."""
    ordered, half = sorted(values), len(values) // 2
    if not ordered:
        return math.nan
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2


def spread(values: Sequence[float]) -> Spread:
    """What a column of latencies comes to."""
    return Spread(len(values), median(values), percentile(values, 0.99), max(values) if values else math.nan)


def told(what: str, figure: str, ours: float | None, unit: str, note: str = "") -> Line:
    """A figure without a goal."""
    return Line(what, figure, ours, unit, note=note)


def at_most(what: str, figure: str, ours: float, unit: str, most: float, note: str = "") -> Line:
    """A figure with a highest one."""
    return Line(what, figure, ours, unit, goal=f"<= {most:g} {unit}", met=ours <= most, note=note)


def times_at_most(what: str, figure: str, ours: float, unit: str, rival: float, most: float) -> Line:
    """A figure that may be so many times the rival's."""
    return Line(what, figure, ours, unit, rival, f"<= {most:g} x", ours <= most * rival)


def times_at_least(what: str, figure: str, ours: float, unit: str, rival: float, least: float) -> Line:
    """A figure that must be so many times the rival's."""
    return Line(what, figure, ours, unit, rival, f">= {least:g} x", ours >= least * rival)


def head() -> str:
    """The table's first line."""
    return _laid_out(HEAD)


def shown(line: Line) -> str:
    """One line of the table, its note below it."""
    verdict = {None: "", True: "met", False: "NOT MET"}[line.met]
    ratio = f"{line.ratio:.2f}" if line.ratio is not None else ""
    ours = _figure(line.ours, line.unit) if line.ours is not None else "not here"
    rival = _figure(line.rival, line.unit) if line.rival is not None else ""
    text = _laid_out((line.what, line.figure, ours, rival, ratio, line.goal, verdict))
    return f"{text}\n    ({line.note})" if line.note else text


def as_json(row: str, line: Line) -> str:
    """One line as a JSON object."""
    known = {name: _finite(value) for name, value in dataclasses.asdict(line).items()}
    return json.dumps({"row": row, **known, "ratio": _finite(line.ratio)}, allow_nan=False)


def summary(lines: Iterable[Line]) -> str:
    """How many goals were met, and which were not."""
    judged = [line for line in lines if line.met is not None]
    missed = [f"{line.what}, {line.figure}" for line in judged if not line.met]
    said = f"{len(judged) - len(missed)} of {len(judged)} goals met"
    return f"{said}; not met: {'; '.join(missed)}." if missed else f"{said}."


def _figure(value: float, unit: str) -> str:
    """Three digits that mean something, thousands apart."""
    if value != 0.0 and abs(value) < 1000.0:
        digits = max(2 - math.floor(math.log10(abs(value))), 0) if math.isfinite(value) else 0
        return f"{value:.{min(digits, 4)}f} {unit}".rstrip()
    return f"{value:,.0f} {unit}".rstrip()


def _finite(value: object) -> object:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _laid_out(cells: Sequence[str]) -> str:
    first, second, *rest = zip(cells, WIDTHS, strict=True)
    left = [f"{text:<{width}}" for text, width in (first, second)]
    return " ".join([*left, *(f"{text:>{width}}" for text, width in rest)]).rstrip()
