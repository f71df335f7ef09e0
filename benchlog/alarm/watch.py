"""Decides whether the alarm sounds, from the lines its master sent and the time that passed."""

SILENT = 1.0
"""Seconds without a line after which a guarding master counts as silent."""
LONGEST_ALONE = 600.0
"""Seconds it goes on after its master died; by then somebody has heard it, or nobody is there."""
_STEP = 0.2
"""Seconds one look counts at most: an alarm that was itself stopped does not blame its master."""


class Watch:
    """What the alarm knows: fed with lines and looks, asked whether to sound."""

    def __init__(self, now: float) -> None:
        self._guard = False
        self._looked = now
        self._silent = 0.0
        self._ended: float | None = None
        self.cause = ""
        """Why it sounds: `asked`, `silent` or `ended`; empty while it does not."""
        self.over = False
        """Whether the process has nothing left to do."""

    @property
    def sounding(self) -> bool:
        """Whether it sounds now."""
        return bool(self.cause)

    def take(self, line: str) -> bool:
        """Take a line of the master; gives whether it was understood. Any line is a sign of life."""
        self._silent = 0.0
        match line.split():
            case ["beat"]:
                pass
            case ["sound"]:
                self.cause = self.cause or "asked"
            case ["quiet"]:
                self.cause = ""
            case ["guard", "on" | "off" as word]:
                self._guard = word == "on"
            case ["quit"]:
                self.cause, self.over = "", True
            case _:
                return False
        return True

    def end(self, now: float) -> None:
        """The master closed its end without a word: it is dead."""
        if self._guard:
            self._ended = now
            self.cause = self.cause or "ended"
        else:
            self.cause, self.over = "", True

    def look(self, now: float) -> None:
        """Let time pass, up to `now` in monotonic seconds."""
        self._silent += min(max(0.0, now - self._looked), _STEP)
        self._looked = now
        if self._ended is not None:
            self.over = self.over or now - self._ended > LONGEST_ALONE
        elif self._guard and self._silent > SILENT:
            self.cause = self.cause or "silent"
