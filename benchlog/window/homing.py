"""Homing: the tone that follows a figure while its trimmer is turned, and the touch that rests a runaway meanwhile."""

from collections.abc import Sequence

from benchlog.window.adjust_view import TrimFace, stands_of
from benchlog.window.run_view import RunView
from benchlog.window.work import Work

TOUCH_EVERY = 20.0
"""Plan seconds between two words to the guard that the trimmer is in hand: a runaway rests for a minute after each."""
LONGEST = 180.0
"""Seconds after which it ends by itself: a tone that nobody listens to must not keep a runaway from being seen."""


class HomingHand:
    """Which figure is in hand; `look` is called again and again while the page lives."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self.trace = ""
        self._began = 0.0
        self._touched = 0.0

    @property
    def on(self) -> bool:
        """Whether a tone follows a trimmer."""
        return bool(self.trace)

    def toggle(self, faces: Sequence[TrimFace]) -> None:
        """Begin with the first figure of this stage that is not in its band, or end."""
        if self.on:
            self.end()
            return
        wanted = [face for face in faces if face.here] or list(faces)
        off = [face for face in wanted if face.stands.distance != 0.0]
        for face in (*off, *wanted)[:1]:
            self._take(face.face.name)

    def next(self, faces: Sequence[TrimFace]) -> None:
        """Take the next figure of this stage in hand."""
        names = [face.face.name for face in faces if face.here] or [face.face.name for face in faces]
        if names:
            at = names.index(self.trace) + 1 if self.trace in names else 0
            self._take(names[at % len(names)])

    def end(self) -> None:
        """Be quiet; the trimmer is let go of."""
        if self.on:
            self.trace = ""
            self._home(None)

    def look(self, view: RunView, faces: Sequence[TrimFace]) -> None:
        """Let the tone follow, and tell the guard that a hand is at the trimmer; over when the run goes off."""
        if not self.on:
            return
        now = self._work.now()
        if not view.is_live or now - self._began > LONGEST:
            self.end()
            return
        if now - self._touched >= TOUCH_EVERY / max(1.0, self._work.runner.rate):
            self._touch(now)
        self._home(stands_of(faces, self.trace))

    def _take(self, name: str) -> None:
        now = self._work.now()
        self.trace, self._began = name, now
        self._touch(now)

    def _touch(self, now: float) -> None:
        self._touched = now
        self._work.runner.trimmer()

    def _home(self, distance: float | None) -> None:
        if self._work.voice is not None:
            self._work.voice.home(distance)
