"""Tells where the run stands: each change of the stage machine at once, and how far it is every now and then."""

import math
import threading

from benchlog.domain.clips import Clips
from benchlog.domain.stages import Stages, State
from benchlog.recorder import messages
from benchlog.recorder.clock import SECOND, wire_now
from benchlog.recorder.means import Means

STAGE_EVERY = 0.5
"""Wire seconds between two looks at the same stage."""


class StageNews:
    """What the client hears of one run's stages; `lock` is the run's guard lock."""

    def __init__(self, stages: Stages, clips: Clips, lock: threading.Lock, means: Means) -> None:
        self._stages = stages
        self._clips = clips
        self.lock = lock
        self._means = means
        self._said: tuple[State, int] | None = None
        self._at = 0

    def say(self, t: int, *, now: bool = False) -> None:
        """Tell it where it is new, or was told long enough ago; `now`: in any case."""
        stages, means = self._stages, self._means
        where = (stages.state, stages.index)
        again = stages.live and t - self._at > int(STAGE_EVERY * SECOND * means.clock.rate)
        if not (now or where != self._said or again):
            return
        with self.lock:
            message = stage_message(stages, self._clips, t, means.session_time(t))
        if where != self._said:
            text = f"{message.name}: {message.state}"
            means.outlet.event(t, "stage", text, state=message.state, index=message.index)
        self._said, self._at = where, t
        means.outlet.send(message)


def stage_message(stages: Stages, clips: Clips, t: int, since: int) -> messages.Stage:
    """Under the lock: how everything stands at plan time `t`, `since` nanoseconds into the session."""
    arming = enumerate(stages.guard.arming(t))
    return messages.Stage(
        t=since,
        state=stages.state.value,
        index=stages.index,
        name=stages.stage.name,
        waits=[(awaited.what, awaited.holds, awaited.progress) for awaited in stages.awaited(t)],
        left=stages.dwell_left,
        astray=stages.astray_in_words(),
        spot=stages.spot_due,
        clips=clips.left(wire_now()),
        adjusting=stages.guard.adjusting(t),
        unarmed=[
            (at, seconds if math.isfinite(seconds) else None) for at, seconds in arming if seconds > 0.0
        ],
    )
