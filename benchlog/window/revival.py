"""A recorder that ended by itself is started again, where no run was open; not for ever, and never without a word."""

from PySide6.QtCore import QObject, Signal

from benchlog.errors import WATCH, BenchlogError
from benchlog.window.keys import EVERYWHERE, Action
from benchlog.window.link import Link
from benchlog.window.work import Work

MOST, WITHIN = 3, 300.0
"""So often it is started again by itself within so many seconds; after that only when a person says so."""
NOT_RUNNING = f"{WATCH} does not run"
BEGUN = f"{WATCH} has ended"


class Revival(QObject):
    """Looks after the recorder; `settled` carries how the sentences begin that are true no longer.

    One that died in a run is started again only after the person has left that run: until then the last
    thing to be done for it is the cut.
    """

    settled = Signal(str)

    def __init__(self, work: Work, link: Link) -> None:
        super().__init__()
        self._work = work
        self._link = link
        self._begun: list[float] = []
        self._reviving = False
        self._left_alone = False
        link.down.connect(self._down)
        link.failed.connect(self._failed)
        link.up.connect(self._up)
        work.runner.phase_changed.connect(self._look)

    def start(self) -> None:
        """Start it because a person says so, also when it has ended too often."""
        if self._link.running:
            self._work.say(f"{WATCH} runs.")
        elif self._work.runner.view.lost:
            self._work.say("First see that the unit is off, and leave the page of the cut.", grave=True)
        else:
            self._begun.clear()
            self._begin()

    def _down(self, error: BenchlogError) -> None:
        if self._work.runner.view.lost:
            self._left_alone = True
            self._work.say(str(error), grave=True)
        else:
            self._again(f" ({error.problem})")

    def _look(self, _phase: object) -> None:
        """The person has left the run in which it died."""
        if self._left_alone and not self._work.runner.view.lost:
            self._left_alone = False
            self._again("")

    def _again(self, how: str) -> None:
        now = self._work.now()
        self._begun = [at for at in self._begun if now - at < WITHIN]
        if len(self._begun) < MOST:
            self._work.say(f"{BEGUN}{how}, no run is on. It is started again.", grave=True)
            self._begin()
        else:
            minutes = f"{WITHIN / 60:.0f} minutes"
            self._say_not_running(f"it ended {len(self._begun) + 1} times within {minutes}{how}")

    def _begin(self) -> None:
        self._begun.append(self._work.now())
        self._reviving = True
        self._link.start()

    def _failed(self, error: BenchlogError) -> None:
        self._reviving = False
        fix = f"; {error.fix}" if error.fix else ""
        self._say_not_running(f"{error.problem}{fix}")

    def _say_not_running(self, why: str) -> None:
        self.settled.emit(BEGUN)
        name = self._work.keys.name(Action.START_RECORDER, EVERYWHERE)
        self._work.say(
            f"{NOT_RUNNING}: {why}. Parts and past runs are there as ever, but no instrument is heard "
            f"and nothing can be switched on. {name} starts it again.",
            grave=True,
        )

    def _up(self) -> None:
        if self._reviving:
            self._reviving = False
            self.settled.emit(NOT_RUNNING)
            self._work.say(f"{WATCH} runs again. Plan and proof have to be done anew.")
