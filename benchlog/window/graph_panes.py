"""One panel of a graph worked out from what it shows: its lines, its scale, what stands in it. No Qt."""

from collections.abc import Mapping
from dataclasses import dataclass

from benchlog.window import graph_scale
from benchlog.window.graph_frame import Line, Pane
from benchlog.window.graph_scene import Scene
from benchlog.window.series import Series, stroke


@dataclass(frozen=True, slots=True)
class Room:
    """What a panel is drawn in: columns across, its height and that of a line of text, in logical pixels."""

    columns: int
    height: float
    line: float


def pane_of(
    scene: Scene, panel: str, series: Mapping[str, Series], shown: tuple[float, float], room: Room
) -> Pane:
    """A panel over a stretch of time."""
    t0, t1 = shown
    own = scene.of_panel(panel)
    lines, extremes = [], []
    for line in own:
        columns = series[line.name].columns(t0, t1, room.columns)
        drawn = stroke(columns, t0, t1, room.columns)
        if len(drawn.low):
            extremes.append((float(drawn.low.min()), float(drawn.high.max())))
        end = float(columns.last[-1]) if len(columns) else None
        lines.append(Line(line.name, line.colour, line.side == "right", drawn, end))
    bands = tuple(
        band
        for band in scene.bands
        if band.panel == panel and band.from_t <= t1 and (band.to_t is None or band.to_t >= t0)
    )
    bounds = tuple(bound for bound in scene.bounds if bound.panel == panel)
    low, high = graph_scale.value_range(
        extremes, [(band.low, band.high) for band in bands], [bound.value for bound in bounds]
    )
    scale = graph_scale.value_scale(
        low,
        high,
        own[0].unit,
        own[0].digit,
        height=room.height,
        line=room.line,
        words_below=any(bound.value == low for bound in bounds),
    )
    return Pane(panel, scale, tuple(lines), bands, bounds)
