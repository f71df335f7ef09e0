"""What the keys do to the cold checks of the plan that is checked."""

from benchlog.errors import BenchlogError
from benchlog.window.cold import Cold
from benchlog.window.plan_load import PlanLoad
from benchlog.window.run_view import Phase
from benchlog.window.work import Work


class ColdKeys:
    """Answers, takes back and overrides; the page shows what came of it."""

    def __init__(self, work: Work, plans: PlanLoad) -> None:
        self._work = work
        self._plans = plans

    @property
    def _cold(self) -> Cold | None:
        view = self._work.runner.view
        return view.cold if view.phase is Phase.CHECKED else None

    def answer(self, *, yes: bool) -> None:
        """What is asked is so, or is not; what was read, and failed, is read once more."""
        cold = self._cold
        if cold is None:
            return
        if cold.asked is not None and cold.asked.holds is False and cold.asked.by == "read":
            self._plans.look_again()
        else:
            cold.say(yes=yes)
        self._work.runner.changed.emit()

    def override(self) -> None:
        """Go on without what is asked; what no key overrides says so."""
        if self._cold is None:
            return
        try:
            self._cold.override()
        except BenchlogError as error:
            self._work.say_error(error)
        self._work.runner.changed.emit()

    def digit(self, text: str) -> bool:
        """A digit asks the check of that number again, 0 the tenth; whether it was one."""
        if self._cold is None or not (text.isascii() and text.isdigit()):
            return False
        self._cold.ask_again(int(text) or 10)
        self._work.runner.changed.emit()
        return True
