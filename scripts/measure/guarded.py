"""A recorder that goes on with a fresh run after each trip, without proof or tail: `python -m measure.guarded`.

Everything else is the real recorder process: its channel, pollers, guard, cut threads and session file,
asked by the real client. Each time it is armed again it says so by an event of its own.
"""

import queue
import sys
import threading
from typing import Any

from benchlog.domain.stages import State
from benchlog.recorder import process, starting
from benchlog.recorder.run import Run

SEEN_OFF: "queue.SimpleQueue[Rearmed]" = queue.SimpleQueue()
"""Runs whose trip was seen off at the far end."""


class Rearmed(Run):
    """A run that tells when its trip was seen off; `again` is one like it that is on and armed."""

    def __init__(self, *given: Any) -> None:
        self._given = given
        super().__init__(*given)

    def again(self) -> "Rearmed":
        """The same plan, wires and session with nothing tripped: no request gives that, a real run is over."""
        self.off.stop()
        run = Rearmed(*self._given)
        run.session = self.session
        run.guard.feed.switch(True, self._means.clock.now())
        run.stages.state = State.MOVING
        run.guard.armed = True
        return run

    def _is_off(self, t: int, seen: bool) -> None:
        super()._is_off(t, seen)
        if seen and self.guard.tripped is not None:
            SEEN_OFF.put(self)


class Recorder(process.Recorder):
    """The recorder, with a thread that puts the next run in the place of one that was seen off."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        threading.Thread(target=self._go_on, name="arm again", daemon=True).start()

    def _go_on(self) -> None:
        while True:
            self._run = SEEN_OFF.get().again()
            self._outlet.event(self._clock.now(), "armed again", "armed again by the benchmark")


def main() -> int:
    """Be the recorder, with these two in the place of their parents."""
    vars(process).update(Run=Rearmed)
    vars(starting).update(Recorder=Recorder)
    return starting.main(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
