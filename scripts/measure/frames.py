"""Draws a live graph and says how long a picture takes: `python -m measure.frames READINGS`."""

import json
import resource
import sys
import time

import numpy as np
from PySide6.QtWidgets import QApplication

from benchlog.domain.plan import Plan
from benchlog.textfile import parse
from benchlog.window.graph import RunGraph
from benchlog.window.graph_scene import scene_of
from benchlog.window.look import Look
from measure.live import plan_text

TRACES = 6
PICTURES = 150


def main() -> None:
    """Six traces with so many readings in all on screen, one more each at every picture."""
    count = int(sys.argv[1]) // TRACES
    application = QApplication(["frames"])
    graph = RunGraph(Look(application, "light"))
    graph.resize(1600, 900)
    graph.show_scene(scene_of(parse(plan_text(TRACES, "supply"), "plan", Plan)))
    graph.show()
    application.processEvents()
    before = _memory()
    chance = np.random.default_rng(1)
    t = np.arange(count) * 0.1
    for n in range(TRACES):
        graph.series(f"meter {n}").extend(t, 1.0 + n + 0.1 * chance.standard_normal(count))
    graph.show_all()
    graph.redraw()
    application.processEvents()
    took = []
    for k in range(PICTURES):
        begun = time.perf_counter()
        for n in range(TRACES):
            graph.append(f"meter {n}", (count + k) * 0.1, 1.0 + n)
        graph.redraw()
        application.processEvents()
        took.append(1e3 * (time.perf_counter() - begun))
    print(json.dumps({"ms": took, "memory": _memory() - before}), flush=True)


def _memory() -> float:
    """MB in use at the most so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


if __name__ == "__main__":
    main()
