"""The readings of a trace that a forecast is made from: of many of them means with their extremes. No Qt."""

from dataclasses import dataclass, field

import numpy as np

from benchlog.domain.detail import Items
from benchlog.domain.plan_trace import Role
from benchlog.domain.trace import SECOND
from benchlog.electronics.asked import Question

MOST = 1024
"""Means that are held; beyond, each two become one."""
LOOK_BACK = 7200.0
"""Plan seconds that are looked back over: over a long soak the air changes too."""
ALIKE = 0.05
"""Share of readings equal to the one before, from which the least step between others is the meter's last digit."""
_EQUAL = 1e-9
"""Share of a reading by which two that are equal may differ once they were computed with."""


@dataclass(slots=True)
class KeptReadings:
    """Readings in time, s and SI; means of as many each, the last ones still waiting to be enough."""

    t: list[float] = field(default_factory=list)
    y: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    _each: int = 1
    _waiting: list[tuple[float, float]] = field(default_factory=list)
    _last: float | None = None
    _steps: int = 0
    _alike: int = 0
    _least: float = 0.0

    @classmethod
    def of(cls, items: Items) -> "KeptReadings":
        """Readings, or buckets of them, that are all there already, each with a number."""
        kept = cls()
        t, y = (items.first_t + items.last_t) / (2.0 * SECOND), items.total / items.n
        size = max(1, -(-len(t) // MOST))
        rows = [one[len(t) % size :].reshape(-1, size) for one in (t, y, items.low, items.high)]
        kept.t, kept.y = rows[0].mean(axis=1).tolist(), rows[1].mean(axis=1).tolist()
        kept.low, kept.high = rows[2].min(axis=1).tolist(), rows[3].max(axis=1).tolist()
        steps = np.abs(np.diff(y))
        alike = steps <= _EQUAL * np.abs(y[1:])
        if np.all(items.rows == 1):
            kept._steps, kept._alike = len(steps), int(np.count_nonzero(alike))
            kept._least = float(steps[~alike].min()) if not alike.all() else 0.0
        return kept

    def __len__(self) -> int:
        return len(self.t)

    def add(self, t: float, y: float) -> None:
        """Take one; what is not later than the last one is known already."""
        newest = self._waiting[-1][0] if self._waiting else self.t[-1] if self.t else None
        if newest is not None and t <= newest:
            return
        self._step(y)
        self._waiting.append((t, y))
        if len(self._waiting) < self._each:
            return
        times, values = zip(*self._waiting, strict=True)
        self.t.append(sum(times) / len(times))
        self.y.append(sum(values) / len(values))
        self.low.append(min(values))
        self.high.append(max(values))
        self._waiting.clear()
        if len(self.t) > MOST:
            self._halve()

    @property
    def digit(self) -> float:
        """The last digit of the meter by what it has read; 0 where no two readings in a row are alike."""
        return self._least if self._alike > ALIKE * self._steps else 0.0

    def question(self, key: str, kind: str, role: Role | None = None, *, times: float = 1.0) -> Question:
        """What may be asked of the newest of them, each times so much."""
        first = next((at for at, t in enumerate(self.t) if t >= self.t[-1] - LOOK_BACK), 0)
        y, low, high = (tuple(one * times for one in rows[first:]) for rows in (self.y, self.low, self.high))
        return Question(
            key, kind, tuple(self.t[first:]), y, low, high, self.digit * times, role, self.t[first]
        )

    def _step(self, y: float) -> None:
        if self._last is not None:
            step = abs(y - self._last)
            self._steps += 1
            if step <= _EQUAL * abs(y):
                self._alike += 1
            elif self._least == 0.0 or step < self._least:
                self._least = step
        self._last = y

    def _halve(self) -> None:
        """Each two means become one; an odd one is left at the start."""
        at = len(self.t) % 2
        pairs = range(at, len(self.t), 2)
        self.t = self.t[:at] + [(self.t[i] + self.t[i + 1]) / 2.0 for i in pairs]
        self.y = self.y[:at] + [(self.y[i] + self.y[i + 1]) / 2.0 for i in pairs]
        self.low = self.low[:at] + [min(self.low[i : i + 2]) for i in pairs]
        self.high = self.high[:at] + [max(self.high[i : i + 2]) for i in pairs]
        self._each *= 2
