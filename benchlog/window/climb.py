"""What is known of each stage of a power-up: behind, here or ahead, and what was told or seen there. No Qt.

A setting is told where a person said so, and seen where a meter shows it; which of the two is always said.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from benchlog.domain.plan import Mover, Plan
from benchlog.domain.plan_stage import StagePlan
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.quantity import show
from benchlog.domain.reading import Outcome
from benchlog.domain.stages import State
from benchlog.window import words
from benchlog.window.graph_scale import moment
from benchlog.window.run_view import Phase, RunView
from benchlog.window.shapes import Shape

FED = {Role.MAINS: 2.0, Role.LAMP: 1.0, Role.RAIL: 5.0, Role.SUPPLY_VOLTS: 1.0}
"""Volts above which such a trace shows that the unit is fed."""

_RESTS = (State.DWELLING, State.READY, State.HELD, State.DRILL)


@dataclass(frozen=True, slots=True)
class Rung:
    """One stage as it is drawn.

    Attributes:
        setting: what the source is set to there, as in `92.0 V`; empty where the name says it.
        shape: how it stands; None where there is nothing to say yet.
        here: whether the run stands there.
        line: when it was on, or how far the dwell is.
        known: what was told and what was seen of the setting.
        share: of the dwell that is over, 0 to 1.
    """

    name: str
    setting: str
    dwell: str
    shape: Shape = Shape.TO_DO
    here: bool = False
    line: str = ""
    known: str = ""
    share: float = 0.0


@dataclass(slots=True)
class Climb:
    """What meters showed of the source at each stage, kept for when the run has gone on."""

    seen: dict[int, str] = field(default_factory=dict)

    def look(self, view: RunView, now: float) -> None:
        """Take what is seen of the present stage; a new run begins with nothing."""
        if view.stage is None or not view.is_open:
            if view.phase is not Phase.CLOSED:
                self.seen.clear()
            return
        if view.state in _RESTS and (shown := metered(view, now)):
            self.seen[view.stage.index] = shown

    def rungs(self, view: RunView) -> tuple[Rung, ...]:
        """Every stage, the lowest first."""
        plan = view.plan
        if plan is None:
            return ()
        return tuple(_rung(view, plan, index, self.seen) for index in range(len(plan.stage)))


def setting_of(plan: Plan, stage: StagePlan) -> str:
    """What the source is set to at a stage: `92.0 V`; empty where the stage is called so already."""
    volts = stage.volts if stage.fraction is None else stage.fraction * plan.source.mains
    shown = "" if volts is None else show(volts, "V")
    return "" if shown == stage.name else shown


def metered(view: RunView, now: float) -> str:
    """What a meter shows of the source now; empty where none does."""
    for role in (Role.MAINS, Role.SUPPLY_VOLTS):
        for trace in view.plan.of_role(role) if view.plan is not None else ():
            value = fresh(view, trace, now)
            if value is not None:
                return trace.shown(value)
    return ""


def fresh(view: RunView, trace: TracePlan, now: float) -> float | None:
    """The value of a trace now; None where it is old or no number."""
    live = view.live.get(trace.name)
    if live is None or live.outcome != Outcome.OK or live.stale(now):
        return None
    return live.value


def on_in_words(view: RunView, now: float) -> str:
    """Whether the unit is on, and who says so."""
    plan = view.plan
    if plan is None or view.stage is None or not view.is_live:
        return ""
    for role, level in FED.items():
        for trace in plan.of_role(role):
            value = fresh(view, trace, now)
            if value is not None and abs(value) > level:
                return f"on: seen by {trace.name}"
    if view.state not in (State.STANDING, State.SETTING, State.SWITCHING_ON):
        return "on: told" if "switch_on" in view.told else "on: no meter shows it yet"
    return "off"


def known_of(view: RunView, index: int, seen: Mapping[int, str]) -> str:
    """What was told and seen of the setting of a stage that was reached."""
    plan = view.plan
    if plan is None:
        return ""
    stage = plan.stage[index]
    parts = []
    if plan.source.moved_by is Mover.HAND:
        parts.append(f"told {setting_of(plan, stage) or stage.name}")
    if index in seen:
        parts.append(f"seen {seen[index]}")
    return ", ".join(parts)


def at_of(view: RunView, name: str) -> tuple[float, float | None] | None:
    """From when to when, in plan seconds, the run was last at a stage; None where it never was."""
    for i in range(len(view.marks) - 1, -1, -1):
        t, known = view.marks[i]
        if known == name:
            later = view.marks[i + 1][0] if i + 1 < len(view.marks) else view.off_at
            return t, later
    return None


def completed(view: RunView) -> bool:
    """Whether the run went off through its last stage."""
    if view.closed is not None:
        return view.closed.outcome == "completed"
    last = view.plan is not None and view.stage is not None and view.stage.index + 1 == len(view.plan.stage)
    return view.off_why == "off" and last


_BEFORE = {Phase.CHECKED: "plan checked", Phase.PROVING: "proving", Phase.PROVEN: "proven"}


def standing_of(view: RunView) -> tuple[Shape, str]:
    """How the step of the power-up stands, for the column of steps: its shape, and a word or two."""
    if view.phase in _BEFORE:
        return Shape.TO_DO, _BEFORE[view.phase]
    if view.is_live and view.stage is not None and view.plan is not None:
        return Shape.HERE, f"stage {view.stage.index + 1} of {len(view.plan.stage)}"
    if view.phase is Phase.OFF:
        return Shape.DOUBT, "off, still logging"
    if view.phase is not Phase.CLOSED:
        return Shape.TO_DO, ""
    outcome = view.closed.outcome if view.closed is not None else ""
    shape = Shape.GOOD if completed(view) else Shape.STOP if view.trip is not None else Shape.DOUBT
    return shape, words.ENDING.get(outcome, outcome)


def _rung(view: RunView, plan: Plan, index: int, seen: Mapping[int, str]) -> Rung:
    stage = plan.stage[index]
    plain = Rung(stage.name, setting_of(plan, stage), moment(stage.dwell))
    at = at_of(view, stage.name)
    here = view.stage.index if view.stage is not None else -1
    if view.is_open and view.phase is not Phase.OFF and index == here:
        return _here(view, plain, stage, known_of(view, index, seen))
    if at is None or index > here or view.stage is None:
        return plain
    stopped = index == here and not completed(view)
    shape = Shape.GOOD
    if stopped:
        shape = Shape.STOP if view.trip is not None else Shape.DOUBT
    elif stage.name in view.early:
        shape = Shape.LIFT
    came, gone = at
    line = f"{moment(came)} to {moment(gone)}" if gone is not None else f"from {moment(came)}"
    if stage.name in view.early:
        line = f"{line}, early"
    return Rung(
        plain.name, plain.setting, plain.dwell, shape, False, line, known_of(view, index, seen), share=1.0
    )


def _here(view: RunView, plain: Rung, stage: StagePlan, known: str) -> Rung:
    left = view.stage.left if view.stage is not None else stage.dwell
    over = max(stage.dwell - left, 0.0)
    share = 1.0 if stage.dwell <= 0.0 else min(over / stage.dwell, 1.0)
    if view.state in (State.DWELLING, State.READY):
        line = f"{moment(over)} of {moment(stage.dwell)}"
    else:
        line = words.RUN_STATE[view.state]
        share = share if view.state in (State.HELD, State.DRILL) else 0.0
    reached = view.state not in (State.STANDING, State.SETTING)
    return Rung(
        plain.name, plain.setting, plain.dwell, Shape.HERE, True, line, known if reached else "", share
    )
