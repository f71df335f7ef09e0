"""One picture of the graph, worked out and ready to be drawn. No Qt.

Values are SI, times plan seconds; columns are counted from the left edge of the panels, a logical pixel each.
"""

from dataclasses import dataclass

from benchlog.window.graph_scale import Scale
from benchlog.window.graph_scene import Band, Bound, Note, StageMark
from benchlog.window.series import Stroke


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One trace in a panel: its stroke, how it is drawn, and the value its name stands at.

    `letter` is that of another run, empty for the run itself; `label` what stands at its end then, and `until` the
    column it is shown to, None for all of it; a line of a higher `rank` is fainter.
    """

    name: str
    colour: int
    dashed: bool
    stroke: Stroke
    end: float | None
    rank: int = 0
    letter: str = ""
    label: str = ""
    until: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Pane:
    """One panel: its scale, and what stands in it."""

    title: str
    scale: Scale
    lines: tuple[Line, ...]
    bands: tuple[Band, ...]
    bounds: tuple[Bound, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """All panels over one stretch of time.

    `first` is the number of the left column counted from time 0; `behind` says that newer readings are out of view.
    `base` says what the times below are counted from, `cross_word` how the crosshair's is written; `cursors` are the
    first and the second.
    """

    t0: float
    t1: float
    first: int
    ticks: tuple[tuple[float, str], ...]
    panes: tuple[Pane, ...]
    marks: tuple[StageMark, ...] = ()
    notes: tuple[Note, ...] = ()
    cross: float | None = None
    behind: bool = False
    base: str = ""
    cross_word: str = ""
    cursors: tuple[float | None, float | None] = (None, None)

    def share(self, t: float) -> float:
        """How far across the panels a time stands, 0 to 1 where it is in view."""
        return (t - self.t0) / (self.t1 - self.t0)
