"""Measuring in a graph by keys and mouse: two cursors, what lies between them, and other times below."""

from collections.abc import Iterator
from datetime import UTC, datetime

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from benchlog.domain.between import Between
from benchlog.window.graph import RunGraph
from benchlog.window.graph_between import NONE, texts_of
from benchlog.window.graph_cursors import Cursors
from benchlog.window.graph_scene import Scene, StageMark, TraceLine
from benchlog.window.look import Look

PLUS = TraceLine("+B", "V", "", "rails", 0, 0.01)
OFFSET = TraceLine("offset L", "V", "left", "output offset", 0, 1e-5)
SCENE = Scene(lines=(PLUS, OFFSET), marks=(StageMark(20.0, "10 %"),))
LEFT = Qt.MouseButton.LeftButton

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")


@pytest.fixture
def graph(qtbot: QtBot, look: Look) -> Iterator[RunGraph]:
    """A quiet minute that stands still in view."""
    made = RunGraph(look)
    qtbot.addWidget(made)
    made.resize(700, 480)
    made.show_scene(SCENE)
    t = np.arange(0.0, 60.0, 0.1)
    made.series("+B").extend(t, np.full(len(t), 44.0))
    made.series("offset L").extend(t, np.full(len(t), 0.01))
    with qtbot.waitExposed(made):
        made.show()
    made.show_range(0.0, 60.0)
    made.redraw()
    yield made
    made.close()


def place(graph: RunGraph, t: float) -> QPoint:
    panel = graph._plot._panels[0].geometry()
    t0, t1 = graph.shown
    return QPoint(round(panel.left() + (t - t0) / (t1 - t0) * panel.width()), round(panel.center().y()))


def click(graph: RunGraph, qtbot: QtBot, t: float) -> None:
    qtbot.mouseClick(graph._plot.viewport(), LEFT, pos=place(graph, t))


def test_keys_put_two_cursors_where_the_crosshair_stands_and_take_them_away(
    graph: RunGraph, qtbot: QtBot
) -> None:
    asked: list[tuple[float, float]] = []
    graph.measuring.wanted.connect(lambda t0, t1: asked.append((t0, t1)))
    graph._point(0.75)
    qtbot.keyClick(graph, Qt.Key.Key_1)
    assert not asked
    assert graph.measuring.table.isHidden()
    graph._point(0.25)
    qtbot.keyClick(graph, Qt.Key.Key_2)
    assert asked == [(15.0, 45.0)]
    assert graph.measuring.table.isVisible()
    assert graph.measuring.table.stretch == "0:15.0 to 0:45.0, 0:30.0 apart"
    qtbot.keyClick(graph, Qt.Key.Key_3)
    assert graph.measuring.cursors.at == (None, None)
    assert graph.measuring.table.isHidden()


def test_clicks_put_cursors_and_a_third_moves_the_nearer(graph: RunGraph, qtbot: QtBot) -> None:
    click(graph, qtbot, 10.0)
    click(graph, qtbot, 40.0)
    graph.redraw()
    click(graph, qtbot, 50.0)
    first, second = graph.measuring.cursors.at
    assert first == pytest.approx(10.0, abs=0.2)
    assert second == pytest.approx(50.0, abs=0.2)


def test_pulling_a_cursor_moves_it_and_pulling_elsewhere_moves_the_picture(
    graph: RunGraph, qtbot: QtBot
) -> None:
    graph.measuring.set(0, 10.0)
    graph.measuring.set(1, 40.0)
    graph.redraw()
    asked: list[tuple[float, float]] = []
    graph.measuring.wanted.connect(lambda t0, t1: asked.append((t0, t1)))
    view = graph._plot.viewport()
    qtbot.mousePress(view, LEFT, pos=place(graph, 40.0))
    qtbot.mouseMove(view, place(graph, 30.0))
    qtbot.waitUntil(lambda: graph.measuring.cursors.at[1] == pytest.approx(30.0, abs=0.2))
    assert not asked
    qtbot.mouseRelease(view, LEFT, pos=place(graph, 30.0))
    assert len(asked) == 1
    assert graph.shown == (0.0, 60.0)
    # A press away from both, and a move of the hand, slides the picture and puts no cursor.
    before = graph.measuring.cursors.at
    qtbot.mousePress(view, LEFT, pos=place(graph, 20.0))
    qtbot.mouseMove(view, place(graph, 25.0))
    qtbot.waitUntil(lambda: graph.shown != (0.0, 60.0))
    qtbot.mouseRelease(view, LEFT, pos=place(graph, 20.0))
    assert graph.measuring.cursors.at == before


def test_numbers_of_another_stretch_are_never_shown(graph: RunGraph) -> None:
    graph.measuring.set(0, 10.0)
    graph.measuring.set(1, 40.0)
    table = graph.measuring.table
    assert set(table.row("+B")) == {NONE}
    graph.measuring.show_between(10.0, 40.0, "+B", Between(300, 2, 1.0, 0.5, 44.0, 43.5, 44.5, 0.1))
    assert table.row("+B") == (
        "+1.00 V",
        "+500 mV/s",
        "44.00 V",
        "43.50 V",
        "44.50 V",
        "300, 2 without a number",
    )
    assert set(table.row("offset L")) == {NONE}
    graph.measuring.set(1, 41.0)
    assert set(table.row("+B")) == {NONE}
    graph.measuring.show_between(10.0, 40.0, "+B", Between(300, 2, 1.0, 0.5, 44.0, 43.5, 44.5, 0.1))
    assert set(table.row("+B")) == {NONE}


def test_a_long_stretch_tells_its_slope_by_the_minute() -> None:
    found = Between(900, 0, -0.002, -0.002 / 600.0, 0.01, 0.009, 0.011, 1e-4)
    assert texts_of(OFFSET, found, 600.0)[:2] == ("-2.00 mV", "-0.200 mV/min")


def test_one_key_counts_the_times_from_something_else(graph: RunGraph, qtbot: QtBot) -> None:
    graph._point(0.5)
    graph.set_started(datetime(2026, 11, 25, 14, 0, 0, tzinfo=UTC))
    words = []
    for _ in range(3):
        graph.redraw()
        words.append((graph._readout.words.split(":", 1)[0], graph._frame().base, graph._frame().cross_word))
        qtbot.keyClick(graph, Qt.Key.Key_K)
    assert [base for _, base, _ in words] == ["run", "stage", "clock"]
    assert [word for _, _, word in words] == ["0:30.0", "0:10.0", "14:00:30.0"]


def test_another_run_has_no_cursors(graph: RunGraph) -> None:
    graph.measuring.set(0, 10.0)
    graph.measuring.set(1, 40.0)
    graph.show_scene(SCENE)
    assert graph.measuring.cursors.stretch is None
    assert graph.measuring.table.isHidden()


def test_cursors_lie_between_the_panels_edges_in_the_picture(graph: RunGraph, look: Look) -> None:
    before = graph.grab().toImage()
    graph.measuring.set(0, 10.0)
    graph.redraw()
    x = place(graph, 10.0).x()
    after = graph._plot.grab().toImage()
    ratio = after.devicePixelRatio()
    colours = {
        after.pixelColor(round(x * ratio), y).name() for y in range(after.height() // 2, after.height())
    }
    assert look.theme.here.name() in colours
    assert graph.grab().toImage() != before


def test_which_cursor_a_click_moves() -> None:
    cursors = Cursors()
    cursors.click(5.0)
    cursors.click(1.0)
    assert cursors.at == (5.0, 1.0)
    assert cursors.stretch == (1.0, 5.0)
    cursors.click(2.0)
    assert cursors.at == (5.0, 2.0)
    assert cursors.take_hold(4.5, 1.0)
    cursors.pull(9.0)
    cursors.let_go()
    cursors.pull(0.0)
    assert cursors.at == (9.0, 2.0)
    assert not cursors.take_hold(5.0, 1.0)
