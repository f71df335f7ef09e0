"""What the graph of a run leaves behind: nothing once it is closed, and no more memory however often it is drawn."""

import gc
import subprocess
import sys
import weakref

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from pytestqt.qtbot import QtBot

from benchlog.window.graph import RunGraph
from benchlog.window.graph_scene import Note, Scene, TraceLine
from benchlog.window.look import Look

SCENE = Scene(lines=(TraceLine("+B", "V", "", "rails", 0, 0.01),))

# Without a screen nobody hears how small a window may get.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")


def test_a_closed_graph_is_gone(look: Look, qtbot: QtBot) -> None:
    graph = RunGraph(look)
    graph.show_scene(SCENE)
    graph.append("+B", 0.0, 44.0)
    graph.add_note(Note(0.0, "hum", "note"))
    graph.show()
    graph.redraw()
    gone = [weakref.ref(one) for one in (graph, graph._plot, graph._plot._panels[0], graph._readout)]
    graph.close()
    graph.deleteLater()
    del graph
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    gc.collect()
    assert [ref() for ref in gone] == [None] * len(gone)
    look.set_theme("dark")
    look.set_theme("light")


PROBE = """
import gc, sys
from PySide6.QtWidgets import QApplication
from benchlog.window.graph import RunGraph
from benchlog.window.graph_scene import Bound, Note, Scene, StageMark, TraceLine
from benchlog.window.look import Look

application = QApplication([])
graph = RunGraph(Look(application, "light"))
graph.resize(360, 240)
lines = tuple(TraceLine(name, "V", side, "output offset", k, 1e-5)
              for k, (name, side) in enumerate((("offset L", "left"), ("offset R", "right"))))
graph.show_scene(Scene(lines, bounds=(Bound("output offset", 0.1, "warns beyond 100 mV"),),
                       marks=(StageMark(3.0, "10 %"),), notes=(Note(5.0, "hum", "note"),)))
graph.show()
viewport = graph._plot.viewport()

def pages():
    try:
        with open("/proc/self/statm") as file:
            return int(file.read().split()[1])
    except OSError:
        return 0

def draw(count, start):
    for number in range(start, start + count):
        # The same hundred seconds over and over: what grows is not what was read.
        if number % 100 == 0:
            for line in lines:
                graph.series(line.name).clear()
        for line in lines:
            graph.append(line.name, number % 100, 0.01 + 0.001 * (number % 7))
        graph._cross = float(number % 90) if number % 3 else None
        graph.redraw()
        viewport.repaint()
        graph._readout.repaint()
    application.processEvents()
    gc.collect()
    return sys.getrefcount(None), sys.getrefcount(True), sys.getallocatedblocks(), pages()

first = draw(1200, 0)
last = draw(int(sys.argv[1]), 0)
print(*(now - then for then, now in zip(first, last)))
"""


@pytest.mark.parametrize(
    "redraws", [1_200, pytest.param(20_000, marks=pytest.mark.long)], ids=["a while", "a long soak"]
)
# The long one takes 40 s, a minute on a busy machine.
def test_redrawing_leaves_memory_and_reference_counts_flat(redraws: int) -> None:
    told = subprocess.run(
        [sys.executable, "-c", PROBE, str(redraws)], capture_output=True, text=True, check=True
    )
    nones, trues, blocks, pages = (int(word) for word in told.stdout.split())
    assert abs(nones) < 200
    assert abs(trues) < 200
    assert abs(blocks) < 2500  # the binding's own tables fill up in the first few thousand
    assert pages < 1024  # four megabytes
