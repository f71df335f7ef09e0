"""A clip, an idle or a limit by keys: which one, then a value and a reason."""

from benchlog.domain.loosening import loosens, typed_figure
from benchlog.errors import BadInput
from benchlog.window.ask_line import AskLine
from benchlog.window.touching import Figure, clips_of, figures_of, idles_of, in_hand, limited


class TouchLine(AskLine):
    """What is touched at a live bench."""

    def begin_clip(self) -> None:
        """Which clip is taken in hand; one that is in hand already is on again."""
        plan, moving = self.work.runner.view.plan, in_hand(self.work.runner.view)
        if moving:
            self.work.runner.clip(moving)
        elif plan is not None:
            names = clips_of(plan)
            self.choose("clip", names, lambda at: self._clip(names[at]))

    def begin_idle(self) -> None:
        """Which idle is set, or not set after all; where there is but one there is nothing to choose."""
        view = self.work.runner.view
        names = idles_of(view)
        if len(names) == 1:
            self.work.runner.idle_set(names[0])
        elif names:
            said = [f"{name}: not set" if name in view.idle_set else name for name in names]
            self.choose("idle is set", said, lambda at: self._idle(names[at]))

    def begin_limit(self) -> None:
        """Which limit is set to another figure."""
        plan = self.work.runner.view.plan
        if plan is not None and plan.limit:
            names = limited(plan)
            self.choose("limit", names, lambda at: self._figures(names[at]))

    def _clip(self, name: str) -> None:
        self.work.runner.clip(name)
        self.leave()

    def _idle(self, name: str) -> None:
        self.work.runner.idle_set(name)
        self.leave()

    def _figures(self, name: str) -> None:
        plan = self.work.runner.view.plan
        figures = figures_of(plan, name) if plan is not None else ()
        self.choose(name, [one.text for one in figures], lambda at: self._value(name, figures[at]))

    def _value(self, name: str, one: Figure) -> None:
        self.type(f"{name} {one.text}", "the new value", lambda text: self._judge(name, one, text))

    def _judge(self, name: str, one: Figure, text: str) -> None:
        """A tighter one is set at once; a looser one needs a reason first."""
        plan = self.work.runner.view.plan
        if not text or plan is None or one.at >= len(plan.limit):
            self.leave()
            return
        limit = plan.limit[one.at]
        try:
            new = typed_figure(limit, plan.find(limit.trace), one.field, text)
        except BadInput as error:
            self.say(str(error))
            return
        if loosens(limit, one.field, new):
            asks = f"{name} {one.text}, looser: {text}"
            self.type(asks, "why? Enter alone leaves it as it was", lambda why: self._set(one, new, why))
        else:
            self._set(one, new, "")

    def _set(self, one: Figure, new: float, why: str) -> None:
        plan = self.work.runner.view.plan
        if why or (plan is not None and not loosens(plan.limit[one.at], one.field, new)):
            self.work.runner.set_limit(one.at, new, field=one.field, reason=why)
        self.leave()
