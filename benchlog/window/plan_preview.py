"""A plan that is being made, drawn small: its ladder, what is watched and when it trips, and what is not guarded."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout

from benchlog.domain.guarded import bound_in_words, tripping, unguarded
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import LimitKind
from benchlog.window.climb import Rung, setting_of
from benchlog.window.graph_scale import moment
from benchlog.window.ladder import LEAST, Ladder
from benchlog.window.lines import Line, Lines
from benchlog.window.look import Look
from benchlog.window.page import card, label
from benchlog.window.shapes import Shape

RUNG = LEAST + 8.0
_FOLLOWS = {
    LimitKind.RAIL_LOW: "too low",
    LimitKind.RAIL_HIGH: "too high",
    LimitKind.POLARITY: "wrong sign",
    LimitKind.SUPPLY: "limiting or off",
}


def watched_of(plan: Plan) -> tuple[Line, ...]:
    """Each trace with what it trips on, in few words."""
    found = []
    for trace in plan.trace:
        own = [limit for limit in tripping(plan, trace.name) if limit.trace == trace.name]
        bounds = [_FOLLOWS.get(limit.kind) or bound_in_words(limit, trace) for limit in own]
        found.append(Line(f"{trace.name}: {', '.join(bounds)}" if bounds else f"{trace.name}: shown only"))
    return tuple(found)


class PlanPreview:
    """The card; `show_plan(None, why)` says what is still lacking."""

    def __init__(self, look: Look) -> None:
        self.frame = card()
        self.title = label("", "head", wrap=True)
        self.ladder = Ladder(look)
        self.watched = Lines(look, 14, gap=3, name="what is watched")
        self.bare = Lines(look, 14, gap=3, name="what is not guarded")
        self._heads = (label("Switches off at", "head"), label("Not guarded", "head"))
        beside = QVBoxLayout()
        beside.setSpacing(5)
        for widget in (self._heads[0], self.watched, self._heads[1], self.bare):
            beside.addWidget(widget)
        beside.addStretch(1)
        below = QHBoxLayout()
        below.setSpacing(14)
        below.addWidget(self.ladder, 0, Qt.AlignmentFlag.AlignTop)
        below.addLayout(beside, 1)
        column = QVBoxLayout(self.frame)
        column.addWidget(self.title)
        column.addLayout(below)
        self.show_plan(None, "")

    def show_plan(self, plan: Plan | None, lacks: str) -> None:
        """Show a plan, or what is lacking before there is one."""
        self.title.setText(plan.name if plan is not None else lacks)
        rungs: tuple[Rung, ...] = ()
        if plan is not None:
            rungs = tuple(
                Rung(stage.name, setting_of(plan, stage), moment(stage.dwell)) for stage in plan.stage
            )
            self.watched.show_lines(watched_of(plan))
            self.bare.show_lines(Line(name, shape=Shape.DOUBT) for name in unguarded(plan))
        self.ladder.show_rungs(rungs)
        self.ladder.setFixedHeight(round(RUNG * len(rungs)))
        for widget in (self.ladder, self.watched, *self._heads, self.bare):
            widget.setVisible(plan is not None)
        if plan is not None and not self.bare.lines:
            self.bare.show_lines([Line("what only a person hears, sees and smells", shape=Shape.DOUBT)])
