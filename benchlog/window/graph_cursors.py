"""The two cursors of a graph, set by key and mouse. No Qt. Times are plan seconds."""


class Cursors:
    """Up to two moments; what lies between them is a stretch whichever was set first."""

    def __init__(self) -> None:
        self._at: list[float | None] = [None, None]
        self._held: int | None = None

    @property
    def at(self) -> tuple[float | None, float | None]:
        """Where the first and the second stand; None where one is not set."""
        return self._at[0], self._at[1]

    @property
    def stretch(self) -> tuple[float, float] | None:
        """From the earlier to the later; None until both are set."""
        one, two = self._at
        return None if one is None or two is None else (min(one, two), max(one, two))

    def set(self, which: int, t: float) -> None:
        """Put the first (0) or the second (1) at a moment."""
        self._at[which] = t

    def click(self, t: float) -> None:
        """Put the one that is not set yet at a moment; of two that are, the nearer moves there."""
        one, two = self._at
        if one is None or two is None:
            self.set(0 if one is None else 1, t)
        else:
            self.set(0 if abs(t - one) <= abs(t - two) else 1, t)

    def clear(self) -> None:
        """Take both away."""
        self._at, self._held = [None, None], None

    # --- taken hold of ---------------------------------------------------------------------------

    @property
    def held(self) -> bool:
        """Whether one of them is being pulled."""
        return self._held is not None

    def take_hold(self, t: float, reach: float) -> bool:
        """Take hold of the nearest one no further than `reach` seconds from a moment, if there is any."""
        near = [(abs(at - t), i) for i, at in enumerate(self._at) if at is not None]
        off, which = min(near, default=(reach + 1.0, 0))
        self._held = which if off <= reach else None
        return self.held

    def pull(self, t: float) -> None:
        """Move the one that is held."""
        if self._held is not None:
            self.set(self._held, t)

    def let_go(self) -> None:
        """Hold none."""
        self._held = None
