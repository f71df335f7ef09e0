"""Which limits look now, in words: a limit that is not armed yet watches over nothing. No Qt."""

from collections.abc import Mapping

from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Action
from benchlog.domain.trust import UNPROVEN
from benchlog.recorder.client import messages
from benchlog.window.run_view import Phase, RunView

NOT_YET, NO_MORE = "not armed yet", "not armed"


def unarmed(view: RunView) -> Mapping[int, str]:
    """The limits of the plan that do not look now, by their place in it, each with what is said of it."""
    if view.plan is None:
        return {}
    if view.phase in (Phase.ARMED, Phase.LIVE) and view.stage is not None:
        return _now(view, view.stage, view.plan)
    said = NO_MORE if view.phase in (Phase.OFF, Phase.CLOSED) else NOT_YET
    return dict.fromkeys(range(len(view.plan.limit)), said)


def _now(view: RunView, stage: messages.Stage, plan: Plan) -> dict[int, str]:
    """While it is live: those that wait, those whose clip is in hand, and those whose trace proves nothing yet."""
    found = {at: _in_words(seconds) for at, seconds in stage.unarmed}
    clips = dict(stage.clips)
    for at, limit in enumerate(plan.limit):
        names = tuple(filter(None, (limit.trace, limit.partner)))
        moved = [clips[name] for name in names if name in clips]
        if moved:
            found[at] = f"rests: clip moved, {max(moved):.0f} s"
        elif at not in found and any(view.doubt_in(name) == UNPROVEN for name in names):
            found[at] = "rests: unproven"
    return found


def of_trace(view: RunView, name: str) -> str:
    """How the limits of a trace that trip stand: empty where all of them look, or there is none."""
    if view.plan is None or not view.is_live:
        return ""
    waiting = unarmed(view)
    own = [
        at
        for at, limit in enumerate(view.plan.limit)
        if limit.action is Action.TRIP and name in (limit.trace, limit.partner)
    ]
    said = [waiting[at] for at in own if at in waiting]
    if not said:
        return ""
    if len(said) < len(own):
        return f"{len(own) - len(said)} of {len(own)} armed"
    return said[0] if len(set(said)) == 1 else NOT_YET


def _in_words(seconds: float | None) -> str:
    return NOT_YET if seconds is None else f"arms in {max(seconds, 1.0):.0f} s"
