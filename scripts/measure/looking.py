"""Opens a kept run in a graph and looks around in it: `python -m measure.looking FILE LOOKS`.

Says, in milliseconds, how long the first picture took with the file out of the system's cache, how long the GUI
thread took for a picture after each zoom or pull, and how long it was until all that the file has of it was shown.
"""

import json
import os
import random
import resource
import sys
import time
from pathlib import Path

from PySide6.QtCore import QEventLoop
from PySide6.QtWidgets import QApplication

from benchlog.window import past_run
from benchlog.window.closer import closer_look
from benchlog.window.graph import RunGraph
from benchlog.window.graph_scene import of_the_past, scene_of
from benchlog.window.look import Look
from benchlog.window.points import Points
from benchlog.window.worker import Worker

OPENED = 5


class Looker:
    """A graph on a run, and the thread that reads for it."""

    def __init__(self, application: QApplication, file: Path) -> None:
        self._application = application
        self._file = file
        self._worker = Worker("history")
        self.graph = RunGraph(Look(application, "light"))
        self.graph.resize(1600, 900)
        self.graph.show()
        self.graph.wanted.connect(self._ask)
        self._rows: dict[str, int] = {}
        self._open = 0
        application.processEvents()

    def first(self) -> float:
        """Milliseconds from a run that nobody has read yet to its picture."""
        forget(self._file)
        begun = time.perf_counter()
        run = past_run.read_run(self._file)
        self.graph.show_scene(of_the_past(scene_of(run.plan)))
        self._rows = {trace.plan.name: trace.row for trace in run.traces}
        for trace in run.traces:
            self.graph.series(trace.plan.name).add(trace.points)
        self.graph.show_all()
        self._draw()
        return 1e3 * (time.perf_counter() - begun)

    def look(self, t0: float, t1: float) -> tuple[float, float]:
        """Milliseconds of the GUI thread for a picture of that stretch, and until it was complete."""
        begun = time.perf_counter()
        self.graph.show_range(t0, t1)
        self._draw()
        frame = 1e3 * (time.perf_counter() - begun)
        while self._open:
            # Asleep like a window that has nothing to do, so that the thread that reads is not held up.
            self._application.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)
        self._draw()
        return frame, 1e3 * (time.perf_counter() - begun)

    def close(self) -> None:
        """End the thread."""
        self._worker.close()

    def _draw(self) -> None:
        self.graph.redraw()
        self._application.processEvents()

    def _ask(self, t0: float, t1: float, columns: int) -> None:
        self._open += 1

        def came(found: dict[str, Points]) -> None:
            self._open -= 1
            self.graph.look_closer(t0, t1, found)

        self._worker.do(lambda: closer_look(self._file, t0, t1, columns, self._rows), came)


def forget(file: Path) -> None:
    """Put a file out of the system's cache."""
    descriptor = os.open(file, os.O_RDONLY)
    try:
        os.fsync(descriptor)
        os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
    finally:
        os.close(descriptor)


def main() -> None:
    """Open it some times, then look at stretches of every length everywhere in it."""
    file, looks = Path(sys.argv[1]), int(sys.argv[2])
    application = QApplication(["looking"])
    looker = Looker(application, file)
    before = memory()
    first = [looker.first() for _ in range(OPENED)]
    length = past_run.read_run(file).length
    chance = random.Random(1)
    found = []
    for _ in range(looks):
        span = length * 10.0 ** chance.uniform(-5.0, -0.1)
        t0 = chance.uniform(0.0, length - span)
        found.append(looker.look(t0, t0 + span))
        # Then a tenth of the picture on, as one pulls it.
        found.append(looker.look(t0 + 0.1 * span, t0 + 1.1 * span))
    looker.close()
    frames, complete = zip(*found, strict=True)
    print(
        json.dumps({"first": first, "frame": frames, "complete": complete, "memory": memory() - before}),
        flush=True,
    )


def memory() -> float:
    """MB in use at the most so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


if __name__ == "__main__":
    main()
