"""The homing tone, made as it sounds: pitch is how far a figure is from its band, steady within, broken outside.

The wave is plain arithmetic; what plays it is whatever the system has, fed bit by bit from one thread.
"""

import math
from array import array
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, QTimer

RATE = 22_050
"""Samples a second, of 16 bits, one channel."""
HOME = 440.0
"""Hz within the band; an octave up or down at the ends of the scale."""
LOUD = 9_000.0
PULSE, OPEN = 0.24, 0.5
"""Seconds from one pip to the next outside the band, and the share of them that sounds."""
GLIDE = 0.03
"""Seconds in which pitch and loudness follow: a jump clicks."""
SILENT_AFTER = 1.5
"""Seconds without a word after which it is silent: no news never sounds like home."""
AHEAD = 0.12
"""Seconds of sound that are made ahead; what follows later than that is no help to a hand."""
EVERY = 20
"""Milliseconds between two feedings."""


class HomingWave:
    """The samples, on and on; `distance` is 0 within the band, up to 1 either way outside, None for silence."""

    def __init__(self) -> None:
        self.distance: float | None = None
        self._turn = 0.0
        self._pitch = HOME
        self._loud = 0.0
        self._beat = 0.0

    def samples(self, count: int) -> bytes:
        """So many samples that follow those before without a step."""
        made = array("h", bytes(2 * count))
        distance = self.distance
        wanted = HOME * 2.0 ** max(-1.0, min(1.0, distance or 0.0))
        share = 1.0 / (GLIDE * RATE)
        for at in range(count):
            self._beat = (self._beat + 1.0 / (PULSE * RATE)) % 1.0
            sounds = distance is not None and (distance == 0.0 or self._beat < OPEN)
            self._loud += ((LOUD if sounds else 0.0) - self._loud) * share * 4.0
            self._pitch += (wanted - self._pitch) * share
            self._turn = (self._turn + self._pitch / RATE) % 1.0
            made[at] = round(self._loud * math.sin(2.0 * math.pi * self._turn))
        return made.tobytes()


class HomingPlayer(QObject):
    """Feeds the wave to a sink while somebody homes; `make` gives a started sink and its device, or None."""

    def __init__(self, make: Callable[[], tuple[Any, Any] | None], clock: Callable[[], float]) -> None:
        super().__init__()
        self._make = make
        self._clock = clock
        self._heard = -math.inf
        self._open: tuple[Any, Any] | None = None
        self.wave = HomingWave()
        self._timer = QTimer(self)
        self._timer.setInterval(EVERY)
        self._timer.timeout.connect(self.feed)

    def home(self, text: str) -> None:
        """A distance, or anything else for silence."""
        try:
            distance = float(text)
        except ValueError:
            self.stop()
            return
        if not math.isfinite(distance):
            self.stop()
            return
        self.wave.distance = distance
        self._heard = self._clock()
        if self._open is None:
            self._open = self._make()
        if self._open is not None and not self._timer.isActive():
            self._timer.start()

    def feed(self) -> None:
        """Write what there is room for; end where nobody homes any more."""
        if self._open is None or self._clock() - self._heard > SILENT_AFTER:
            self.stop()
            return
        sink, device = self._open
        room = min(sink.bytesFree() // 2, round(AHEAD * RATE))
        if room > 0:
            device.write(self.wave.samples(room))

    def stop(self) -> None:
        """Be silent at once."""
        self._timer.stop()
        self.wave.distance = None
        opened, self._open = self._open, None
        if opened is not None:
            opened[0].stop()
