"""Which stretch of a run a graph shows: the whole of it, its newest minutes, or wherever a person has gone. No Qt."""

import math

from benchlog.window.graph_scale import LEAST_SPAN, whole_run

AT_NEWEST = 0.95
"""Who zooms about a place this far to the right means the newest readings."""


class View:
    """The range in view; it follows the newest reading until somebody pulls the picture elsewhere."""

    def __init__(self) -> None:
        self.follows = True
        self._newest_for: float | None = None
        self._held = (0.0, 30.0)
        self._run = (0.0, 0.0)

    def ran(self, start: float, latest: float) -> None:
        """The run reaches from there to there by now."""
        self._run = (start, max(start, latest))

    @property
    def latest(self) -> float:
        """How far the run has come."""
        return self._run[1]

    def follow(self, seconds: float | None) -> None:
        """Keep up with the newest reading, showing so many seconds, or all of the run with None."""
        self.follows = True
        self._newest_for = None if seconds is None else max(LEAST_SPAN, seconds)

    def hold(self, t0: float, t1: float) -> None:
        """Stay at one range."""
        self.follows = False
        self._held = (t0, max(t1, t0 + LEAST_SPAN))

    def range(self, width: int) -> tuple[float, float, int]:
        """The range now, and the number of its first column counted from time 0.

        While the newest minutes are followed the picture moves by whole columns, so that nothing flickers.
        """
        if not self.follows:
            t0, t1 = self._held
            return t0, t1, math.floor(t0 / (t1 - t0) * width)
        start, latest = self._run
        if self._newest_for is None:
            t0, t1 = whole_run(start, latest)
            return t0, t1, math.floor(t0 / (t1 - t0) * width)
        column = self._newest_for / width
        last = math.ceil(max(latest, start + self._newest_for) / column)
        return (last - width) * column, last * column, last - width

    # --- what a person does ----------------------------------------------------------------------

    def zoom(self, factor: float, about: float, width: int) -> None:
        """Show `factor` times as much about a share of the width; near the right edge it goes on following."""
        t0, t1, _first = self.range(width)
        start, latest = self._run
        most = max(1.2 * (latest - start), 60.0)
        span = min(max((t1 - t0) * factor, LEAST_SPAN), most)
        if self.follows and (about > AT_NEWEST or factor > 1.0):
            self.follow(None if span >= latest - start and factor > 1.0 else span)
            return
        fixed = t0 + about * (t1 - t0)
        self._hold_near(fixed - about * span, span)

    def pull(self, share: float, width: int) -> None:
        """Pull the picture to the right by a share of the width; back at the newest it follows again."""
        t0, t1, _first = self.range(width)
        span = t1 - t0
        moved = t0 - share * span
        was_behind = self.follows is False
        if share < 0.0 and (self.follows or moved + span >= self._run[1] + 0.02 * span):
            if was_behind:
                self.follow(span)
            return
        if self.follows and self._newest_for is None:
            return  # all of it is in view already
        self._hold_near(moved, span)

    def _hold_near(self, t0: float, span: float) -> None:
        """Stay where at least a part of the run is in view."""
        start, latest = self._run
        t0 = min(max(t0, start - span / 2.0), max(start, latest - span / 2.0))
        self.hold(t0, t0 + span)
