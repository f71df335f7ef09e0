"""Up again after a trip: from which stage, why not, and the cause that a person names by a key."""

from PySide6.QtCore import Signal

from benchlog.domain.offproof import off_is_known
from benchlog.domain.plan_limit import LimitKind
from benchlog.domain.reentry import Tripped, forbidden
from benchlog.window.ask_line import AskLine
from benchlog.window.run_view import GoingBack, Phase, RunView

CAUSES = (
    "a clip or probe slipped",
    "a limit was set too tight",
    "a meter or its lead was at fault",
    "the source was turned too fast",
    "a trimmer was turned too far",
    "a part was replaced",
)
"""What tripped it, as it is named most; common practice, no source."""
_OTHER = "another: type it"


def from_stage(view: RunView) -> str:
    """The stage a closed run tripped at, to be climbed back to; empty where there is none."""
    reached = _tripped(view).reached if view.phase is Phase.CLOSED and view.trip is not None else -1
    return view.plan.stage[reached].name if view.plan is not None and reached >= 0 else ""


def why_not(view: RunView) -> str:
    """What forbids short dwells after this trip whatever is read or named, in one sentence; empty where one may."""
    return forbidden(_tripped(view))


def _tripped(view: RunView) -> Tripped:
    trip, plan = view.trip, view.plan
    if trip is None or plan is None:
        return Tripped(None, None, -1)
    role = next((trace.role for trace in plan.trace if trace.name == trip.trace), None)
    kind = LimitKind(trip.limit) if trip.limit in tuple(LimitKind) else None
    names = [stage.name for stage in plan.stage]
    reached = max((names.index(name) for _, name in view.marks if name in names), default=-1)
    return Tripped(role, kind, reached, off_is_known(view.off, told=view.told_off))


class AgainLine(AskLine):
    """Asks for the cause; `named` carries where to and why."""

    named = Signal(object)

    def begin(self) -> None:
        """Ask what tripped it, or say what forbids that; where it was named already: with full dwells after all."""
        view = self.work.runner.view
        if view.again is not None:
            view.again = None
            self.work.runner.changed.emit()
            return
        if not from_stage(view):
            return
        problem = why_not(view)
        if problem:
            self.work.say(problem)
        else:
            self.choose("what tripped it?", (*CAUSES, _OTHER), self._choice)

    def _choice(self, at: int) -> None:
        if at < len(CAUSES):
            self._name(CAUSES[at])
        else:
            self.type("what tripped it?", "in a few words; Enter alone leaves", self._name)

    def _name(self, cause: str) -> None:
        view = self.work.runner.view
        stage = from_stage(view)
        self.leave()
        if cause and stage and view.closed is not None:
            self.named.emit(GoingBack(view.closed.path, stage, cause))
