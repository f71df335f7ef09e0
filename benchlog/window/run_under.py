"""Under what a part is read beside a live run: mains at the inlet and minutes on (rule 39). No Qt."""

from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import Outcome
from benchlog.window.run_view import SECOND, RunView


def mains_now(view: RunView, now: float) -> float | None:
    """Volts at the inlet as they are read; None where none are, or they are old or not believed.

    `now` is the window's clock.
    """
    for trace in view.plan.trace if view.plan is not None and view.is_live else ():
        live = view.live.get(trace.name)
        if trace.role is Role.MAINS and live is not None and live.outcome == Outcome.OK:
            return None if live.stale(now) or view.doubt_in(trace.name, trace.job) else live.value
    return None


def minutes_on(view: RunView) -> float | None:
    """How long the unit has been on; None where it is not, or nobody knows since when."""
    if not view.is_live or view.on_at is None or view.stage is None:
        return None
    newest = max((view.stage.t / SECOND, *(live.t for live in view.live.values())))
    return max(0.0, newest - view.on_at) / 60.0
