"""The line at the foot of the Parts page while the unit may be on: where the run is at."""

from benchlog.window import words
from benchlog.window.elided import Elided
from benchlog.window.look import Look
from benchlog.window.parts_in_hand import InHand
from benchlog.window.run_view import RunView


def guard_words(view: RunView, on_words: str) -> str:
    """That the unit may be on, and the stage and state of its run where one is open."""
    if view.plan is None or view.stage is None or not view.is_open:
        return f"{on_words}."
    stage = view.stage
    # The name last: it alone may be so long that it is shortened.
    said = f"stage {stage.index + 1} of {len(view.plan.stage)}, {words.RUN_STATE[view.state]}, {stage.name}"
    return f"{on_words}: {said}."


class GuardLine(Elided):
    """One line; out of the way while the unit is off. The rails and CUT stand in the foot of the window."""

    def __init__(self, look: Look, hand: InHand) -> None:
        super().__init__(look, 15, bold=True)
        self._hand = hand
        self.hide()

    def refresh(self) -> None:
        """Show how the run stands now."""
        on = self._hand.may_be_on
        if on:
            self.say(guard_words(self._hand.work.runner.view, self._hand.on_words))
        self.setVisible(on)
