"""What can be touched at a live bench, in words: clips that may be moved, figures of limits, what rests. No Qt."""

from collections.abc import Iterator
from dataclasses import dataclass

from benchlog.domain.clips import has_clip
from benchlog.domain.loosening import FIELDS, figure, shown_figure
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Limit
from benchlog.domain.plan_trace import Role
from benchlog.window.lines import Line
from benchlog.window.run_view import Phase, RunView
from benchlog.window.shapes import Shape

_OF_FIELD = {
    "persistence": ", for",
    "fraction": " by",
    "of_source": ", of the source",
    "over_healthy": ", over its healthy figure",
    "times_healthy": ", times its healthy figure",
}


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a limit: which limit of the plan, which field of it, and its words."""

    at: int
    field: str
    text: str


def touchable(view: RunView) -> bool:
    """Whether the recorder guards, so that there is something to touch."""
    return view.phase in (Phase.ARMED, Phase.LIVE)


def clips_of(plan: Plan) -> tuple[str, ...]:
    """The traces whose meters have clips."""
    return tuple(trace.name for trace in plan.trace if has_clip(trace))


def in_hand(view: RunView) -> str:
    """The trace whose clip is being moved; empty where none is."""
    clips = view.stage.clips if view.stage is not None and touchable(view) else ()
    return clips[0][0] if clips else ""


def idles_of(view: RunView) -> tuple[str, ...]:
    """The traces that show an idle."""
    return () if view.plan is None else tuple(trace.name for trace in view.plan.of_role(Role.IDLE))


def limited(plan: Plan) -> tuple[str, ...]:
    """The traces that have a limit."""
    return tuple(dict.fromkeys(limit.trace for limit in plan.limit))


def figures_of(plan: Plan, name: str) -> tuple[Figure, ...]:
    """Every figure of that trace's limits that can be set."""
    return tuple(
        Figure(at, field, _said(plan, limit, field, number))
        for at, limit in enumerate(plan.limit)
        if limit.trace == name
        for field in FIELDS
        if (number := figure(limit, field)) is not None
    )


def _said(plan: Plan, limit: Limit, field: str, number: float) -> str:
    kind = limit.kind.value.replace("_", " ") + (f" {limit.partner}" if limit.partner else "")
    return f"{kind}{_OF_FIELD.get(field, '')} {shown_figure(plan.find(limit.trace), field, number)}"


def countdowns(view: RunView) -> Iterator[Line]:
    """What rests because somebody has a hand on it, and for how long yet."""
    if view.stage is None or not touchable(view):
        return
    for name, left in view.stage.clips:
        yield Line(f"{name}: clip being moved, rests", f"{left:.0f} s left", Shape.NOTHING, bold=True)
    if view.stage.adjusting > 0.0:
        yield Line("adjusting: runaway rests", f"{view.stage.adjusting:.0f} s left", Shape.TO_DO)
