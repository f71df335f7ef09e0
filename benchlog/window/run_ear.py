"""What the ear is told of a run, and what everybody should read of it whichever page is shown."""

from benchlog.domain.stages import State
from benchlog.recorder.client import messages
from benchlog.window.call import call_of
from benchlog.window.work import Work

SAID = ("observed", "spot", "warn", "wrong function", "drill")
"""Events that are put on the window for everybody."""
ASKED = ("set_dial", "switch_on", "fit_lamp")
"""What a hand is asked for aloud. Where alarm or relay are listened for, a sound of ours would pass as theirs."""


class RunEar:
    """Says everything once."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self._heard = 0
        self._prompt = -1
        self._ready = -1

    def look(self) -> None:
        """Say what is new."""
        self._events()
        self._prompted(self._work.runner.view.prompt)
        self._offered()

    def _events(self) -> None:
        view, voice = self._work.runner.view, self._work.voice
        for happened in view.moments[self._heard :]:
            if happened.kind in SAID:
                self._work.say(happened.text)
            if happened.kind == "warn" and voice is not None:
                voice.warn(happened.text)
        self._heard = len(view.moments)

    def _prompted(self, prompt: messages.Prompt | None) -> None:
        number = prompt.prompt if prompt is not None else -1
        new, self._prompt = number != self._prompt, number
        if prompt is None or not new:
            return
        if prompt.kind in ASKED and self._work.voice is not None:
            self._work.voice.ask(prompt.text)

    def _offered(self) -> None:
        """The next stage is offered; said again where the run has gone back in between."""
        view, voice = self._work.runner.view, self._work.voice
        ready = view.is_live and view.state is State.READY
        index = view.stage.index if ready and view.stage is not None else -1
        # In a run of hours only what wants a look is heard.
        quiet = view.plan is not None and view.plan.run_kind.quiet
        if ready and index != self._ready and voice is not None and not quiet:
            voice.stage_ready(call_of(view, self._work.now(), {}).enter)
        self._ready = index
