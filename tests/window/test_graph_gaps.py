"""A gap that is narrower than a pixel: seen in the picture all the same."""

import numpy as np
import pytest
from PySide6.QtGui import QImage
from pytestqt.qtbot import QtBot

from benchlog.window.graph import RunGraph
from benchlog.window.graph_scene import Scene, TraceLine
from benchlog.window.look import Look

# Without a screen nobody hears how small a window may get.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")


def test_a_single_lost_reading_is_marked_at_the_foot_of_its_panel(look: Look, qtbot: QtBot) -> None:
    graph = RunGraph(look)
    qtbot.addWidget(graph)
    graph.resize(640, 420)
    graph.show_scene(Scene(lines=(TraceLine("+B", "V", "", "rails", 0, 0.01),)))
    with qtbot.waitExposed(graph):
        graph.show()
    values = np.full(60_000, 44.0)
    values[30_000] = np.nan
    graph.series("+B").extend(np.arange(len(values)) * 0.1, values)
    graph.show_range(0.0, 6000.0)
    graph.redraw()
    panel = graph._plot._panels[0].geometry()
    image = graph._plot.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    flat = np.frombuffer(image.constBits(), dtype=np.uint32).reshape(image.height(), -1)
    seen = (flat & 0xFFFFFF) == (look.theme.traces[0].rgb() & 0xFFFFFF)
    bottom = int(panel.bottom())
    foot = seen[bottom - 5 : bottom - 1, int(panel.left()) : int(panel.right())]
    assert np.flatnonzero(foot.all(axis=0)).tolist() == [int(panel.width() / 2)]
    assert foot.any(axis=0).sum() == 1
