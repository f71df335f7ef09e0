"""The voice of the window: which tone and which words belong to what happened."""

import time
from collections.abc import Callable

from PySide6.QtCore import QObject, Signal

from benchlog.domain.verdict import Judgement
from benchlog.window import spoken
from benchlog.window.sounder_link import SounderLink
from benchlog.window.tone import Tone, tone_of

OFF_LASTS = 2.0
"""Seconds for which nothing is said in the place of OFF."""


class Voice(QObject):
    """Tones and speech together; `changed` when either can be heard or no longer can."""

    changed = Signal()

    def __init__(
        self, tones: SounderLink, speech: SounderLink, clock: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__()
        self._tones, self._speech, self._clock = tones, speech, clock
        self._off_until = float("-inf")
        self.muted = False
        """Whether the person wants quiet."""
        for link in (tones, speech):
            link.changed.connect(self.changed)

    @property
    def why_silent(self) -> str:
        """What cannot be heard and why, for the diagnostics; empty where all can."""
        links = (self._tones, self._speech)
        return " ".join(f"No {link.what}: {link.why_silent}." for link in links if link.why_silent)

    def open(self) -> None:
        """Start tones and speech, once the window is up; returns at once."""
        self._tones.open()
        self._speech.open()

    def close(self) -> None:
        """End both."""
        self._tones.close()
        self._speech.close()

    def set_muted(self, muted: bool) -> None:
        """Be quiet at once, or no longer. The alarm is not this voice and sounds all the same."""
        self.muted = muted
        if muted:
            self._speech.tell("stop")

    # --- parts -----------------------------------------------------------------------------------

    def result(self, judgement: Judgement, shown: str, assumed: str = "", following: str = "") -> None:
        """A reading was judged.

        Args:
            judgement: what it proved.
            shown: the reading as the screen shows it.
            assumed: what was taken for granted of a typed value; empty where nothing was.
            following: the designator to go to next; empty at the end of the list.
        """
        self._play(tone_of(judgement))
        self.hush()
        self._say(spoken.result(judgement, shown, assumed, following))

    def at(self, designator: str) -> None:
        """Another part is the one to go to, with nothing taken: skipped, undone, chosen."""
        self._say(f"{spoken.designator(designator)}." if designator.strip() else "")

    def taken(self) -> None:
        """Something was kept of which there is nothing to say: a note, a spot reading."""
        self._play(Tone.TAKEN)

    def look(self, text: str = "") -> None:
        """A reading is held until somebody looked at it."""
        self._play(Tone.LOOK)
        self._say(spoken.sentence(text))

    def refused(self, text: str = "") -> None:
        """What was asked for was not done."""
        self._play(Tone.REFUSED)
        self._say(spoken.sentence(text))

    def hush(self) -> None:
        """The next contact, the next key: what is being said is of no use any more."""
        if not self._saying_off:
            self._speech.tell("stop")

    # --- runs ------------------------------------------------------------------------------------

    def ask(self, text: str) -> None:
        """A person's hand is wanted; not while OFF is said, since a cut comes before whatever was wanted."""
        if not self._saying_off:
            self._play(Tone.HAND)
            self._say(spoken.sentence(spoken.first_words(text)))

    def stage_ready(self, text: str) -> None:
        """The next stage is offered."""
        self._play(Tone.READY)
        self._say(spoken.sentence(text))

    def warn(self, text: str) -> None:
        """Something wants a look."""
        self._play(Tone.WARN)
        self._say(spoken.sentence(text))

    def cut(self) -> None:
        """Off was asked for; a tone where nothing can be said. Nothing is said in its place for a while."""
        if not self.muted and self._speech.tell("say", spoken.OFF):
            self._off_until = self._clock() + OFF_LASTS
        else:
            self._play(Tone.WARN)

    def elsewhere(self) -> None:
        """The keys go to another program while a run is live."""
        self._play(Tone.ELSEWHERE)

    def home(self, distance: float | None) -> None:
        """How far what is set is from its band, -1 to 1, 0 within; None for silence. Not beside OFF."""
        quiet = distance is None or self.muted or self._saying_off
        self._tones.tell("home", "off" if quiet else f"{distance:.3f}")

    @property
    def _saying_off(self) -> bool:
        return self._clock() < self._off_until

    def _play(self, tone: Tone) -> None:
        """Play a tone in the place of one that still sounds."""
        if not self.muted:
            self._tones.tell("play", tone)

    def _say(self, text: str) -> None:
        """Say it in the place of what is still being said."""
        if text and not (self.muted or self._saying_off):
            self._speech.tell("say", text)
