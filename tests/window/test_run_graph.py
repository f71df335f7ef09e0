"""The graph of a run as a person sees and handles it."""

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QImage, QKeyEvent, QWheelEvent
from PySide6.QtWidgets import QApplication, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from benchlog.window.graph import RunGraph
from benchlog.window.graph_scene import Band, Bound, Note, Scene, StageMark, TraceLine
from benchlog.window.look import Look

SCENE = Scene(
    lines=(
        TraceLine("+B", "V", "", "rails", 0, 0.01),
        TraceLine("offset L", "V", "left", "output offset", 0, 1e-5),
        TraceLine("offset R", "V", "right", "output offset", 2, 1e-5),
    ),
    bands=(Band("rails", 40.0, 46.0, 0.0),),
    bounds=(Bound("rails", 50.0, "trips above 50 V"),),
)
Make = Callable[..., RunGraph]
Seen = npt.NDArray[np.bool_]

# Without a screen nobody hears how small a window may get.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")


@pytest.fixture
def make_graph(qtbot: QtBot, look: Look) -> Iterator[Make]:
    def make(scene: Scene = SCENE, *, shown: bool = True, width: int = 640, height: int = 420) -> RunGraph:
        graph = RunGraph(look)
        qtbot.addWidget(graph)
        graph.resize(width, height)
        graph.show_scene(scene)
        if shown:
            with qtbot.waitExposed(graph):
                graph.show()
        return graph

    yield make
    look.set_theme("light")


@pytest.fixture
def graph(make_graph: Make) -> RunGraph:
    """A graph of a quiet minute: rail at 44 V, offsets at 10 and -10 mV, ten readings a second."""
    made = make_graph()
    t = np.arange(0.0, 60.0, 0.1)
    for name, value in (("+B", 44.0), ("offset L", 0.01), ("offset R", -0.01)):
        made.series(name).extend(t, np.full(len(t), value))
    made.redraw()
    return made


def picture(graph: RunGraph) -> QImage:
    graph.redraw()
    return graph.grab().toImage()


def where(image: QImage, colour: QColor) -> Seen:
    """Which pixels have exactly this colour."""
    plain = image.convertToFormat(QImage.Format.Format_RGB32)
    flat = np.frombuffer(plain.constBits(), dtype=np.uint32).reshape(plain.height(), -1)
    found: Seen = (flat & 0xFFFFFF) == (colour.rgb() & 0xFFFFFF)
    return found


def columns_of(graph: RunGraph, look: Look, colour: int, *, right: float = 0.8) -> Seen:
    """Which pixel columns of the panels bear a trace's colour; left and right of them is text."""
    seen = where(picture(graph), look.theme.traces[colour])
    top = seen.shape[0] // 6  # below the names at the top
    inside = seen[top:, round(0.15 * seen.shape[1]) : round(right * seen.shape[1])]
    found: Seen = np.any(inside, axis=0)
    return found


# --- what is seen --------------------------------------------------------------------------------


def test_a_reading_appears_by_itself(graph: RunGraph, look: Look, qtbot: QtBot) -> None:
    graph.append("+B", 60.0, 30.0)
    qtbot.waitUntil(lambda: "+B 30.00 V" in graph._readout.words)


def test_nothing_is_drawn_while_nobody_looks_and_nothing_is_missed(make_graph: Make, qtbot: QtBot) -> None:
    graph = make_graph(shown=False)
    graph.append("+B", 0.0, 44.0)
    assert not graph._timer.isActive()
    graph.show()
    qtbot.waitUntil(lambda: "+B 44.00 V" in graph._readout.words)


def test_a_trace_that_is_not_in_the_scene_is_left_out(graph: RunGraph) -> None:
    graph.append("raw + state", 61.0, 1.0)
    graph.redraw()


def test_the_left_side_is_solid_and_the_right_dashed(graph: RunGraph, look: Look) -> None:
    graph.show_range(0.0, 55.0)
    assert columns_of(graph, look, 0).all()
    dashed = columns_of(graph, look, 2)
    assert dashed.any()
    assert not dashed.all()


def test_a_gap_is_empty_and_a_spike_in_a_dashed_line_is_not(graph: RunGraph, look: Look) -> None:
    solid_before = columns_of(graph, look, 0).mean()
    graph.series("offset L").clear()
    graph.series("+B").clear()
    t = np.arange(0.0, 60.0, 0.1)
    graph.series("+B").extend(t, np.where((t > 20) & (t < 40), np.nan, 44.0))
    assert 0.4 < columns_of(graph, look, 0).mean() < 0.8 * solid_before
    heights = []
    for at in range(200, 226):
        value = np.full(len(t), -0.01)
        value[at] = 0.09
        graph.series("offset R").clear()
        graph.series("offset R").extend(t, value)
        heights.append(int(where(picture(graph), look.theme.traces[2]).sum(axis=0).max()))
    assert min(heights) > 20


def test_a_spike_among_many_readings_is_seen(make_graph: Make, look: Look) -> None:
    graph = make_graph()
    value = np.full(300_000, 0.01)
    value[123_456] = 0.02
    graph.series("offset L").extend(np.arange(len(value)) * 0.01, value)
    seen = where(picture(graph), look.theme.traces[0]).sum(axis=0)
    assert int(seen[100:450].max()) > 20


def test_a_note_moves_nothing_wherever_it_stands(graph: RunGraph) -> None:
    before, panel = graph.shown, graph._plot._panels[0].geometry()
    graph.set_notes((Note(12.0, "hum", "note"), Note(500.0, "written a day later", "note")))
    graph.redraw()
    assert graph.shown == before
    assert graph._plot._panels[0].geometry() == panel


def test_a_limit_that_does_not_look_yet_is_no_solid_line(graph: RunGraph, look: Look) -> None:
    armed = int(where(picture(graph), look.theme.danger).sum())
    graph.set_bounds(tuple(replace(bound, unarmed="arms in 3 s") for bound in graph.scene.bounds))
    assert int(where(picture(graph), look.theme.danger).sum()) == 0 < armed


def test_the_words_of_a_limit_lie_over_no_reading(make_graph: Make, look: Look) -> None:
    """A limit that does not look yet, as of the idle before its trimmer is turned, may be passed by its trace."""
    graph = make_graph(
        Scene(
            lines=(TraceLine("idle L", "V", "left", "idle", 0, 1e-5),),
            bounds=(
                Bound("idle", 0.0033, "warns within 3.3 mV", unarmed="not armed yet"),
                Bound("idle", 0.033, "trips beyond 33 mV", unarmed="not armed yet"),
            ),
        ),
        height=140,
    )
    t = np.arange(40.0, 100.0, 0.1)
    graph.series("idle L").extend(t, np.full(len(t), 0.008))
    graph.show_range(0.0, 99.0)
    seen = columns_of(graph, look, 0)
    assert seen[len(seen) // 2 :].all()
    graph.show_range(45.0, 99.0)
    assert columns_of(graph, look, 0).all()


def test_bands_limits_stages_and_flags_are_drawn(graph: RunGraph, look: Look) -> None:
    before = picture(graph)
    assert where(before, look.theme.here_pale).sum() > 1000
    danger = int(where(before, look.theme.danger).sum())
    assert danger > 300
    graph.add_mark(StageMark(20.0, "40 %"))
    graph.add_note(Note(30.0, "smell near R214", "note"))
    graph.add_note(Note(40.0, "offset L 1.31 V", "trip"))
    after = picture(graph)
    assert int(where(after, look.theme.danger).sum()) > danger + 200
    assert after != before


def test_stages_and_notes_may_come_in_any_order(graph: RunGraph) -> None:
    graph.set_marks((StageMark(40.0, "20 %"), StageMark(5.0, "10 %")))
    assert [mark.text for mark in graph.scene.marks] == ["10 %", "20 %"]
    graph.set_notes((Note(9.0, "b", "note"), Note(2.0, "a", "warn")))
    assert [note.text for note in graph.scene.notes] == ["a", "b"]
    graph.set_bands(())
    graph.redraw()


def test_it_follows_from_light_to_dark(graph: RunGraph, look: Look) -> None:
    light = look.theme.card
    assert where(picture(graph), light).sum() > 10_000
    look.set_theme("dark")
    dark = picture(graph)
    assert not where(dark, light).any()
    assert where(dark, look.theme.card).sum() > 10_000


@pytest.mark.parametrize("size", [(300, 200), (683, 430), (1440, 900)])
def test_every_size_has_all_panels(make_graph: Make, size: tuple[int, int]) -> None:
    graph = make_graph(width=size[0], height=size[1])
    graph.append("+B", 1.0, 44.0)
    graph.redraw()
    panels = graph._plot._panels
    assert len(panels) == 2
    assert min(panel.size().height() for panel in panels) >= 3.0 * graph._plot.ink.line
    assert panels[-1].geometry().bottom() + graph._plot.ink.line <= graph._plot.height()
    assert graph.width() == size[0]


def test_a_scene_without_lines_is_an_empty_graph(make_graph: Make) -> None:
    graph = make_graph(Scene())
    assert not picture(graph).isNull()
    graph._point(0.5)
    graph.redraw()


def test_another_run_begins_with_nothing_of_the_last(graph: RunGraph) -> None:
    graph.show_range(10.0, 20.0)
    graph.show_scene(SCENE)
    graph.redraw()
    assert graph.follows
    assert len(graph.series("+B")) == 0


def test_two_graphs_share_nothing(graph: RunGraph, make_graph: Make) -> None:
    other = make_graph()
    other.append("+B", 500.0, 1.0)
    other.show_range(400.0, 500.0)
    other.redraw()
    graph.redraw()
    assert graph.shown[1] < 100.0
    assert other.shown == (400.0, 500.0)
    assert len(graph.series("+B")) == 600
    other.close()
    graph.redraw()


# --- in words ------------------------------------------------------------------------------------


def test_what_it_shows_is_told_in_words(graph: RunGraph) -> None:
    assert graph.accessibleName() == "Graph of the run"
    graph._described = 0.0
    graph.append("offset R", 60.0, None)
    graph.redraw()
    words = graph.accessibleDescription()
    assert words == "newest 0:59: +B 44.00 V, offset L 10.00 mV, offset R no reading"


def test_the_pointer_reads_all_traces_at_its_time(graph: RunGraph, qtbot: QtBot) -> None:
    graph.append("+B", 30.05, 12.5)
    viewport = graph._plot.viewport()
    panel = graph._plot._panels[0].geometry()
    t0, t1 = graph.shown
    x = panel.left() + (30.05 - t0) / (t1 - t0) * panel.width()
    qtbot.mouseMove(viewport, QPoint(5, 5))
    qtbot.mouseMove(viewport, QPoint(round(x), round(panel.center().y())))
    qtbot.waitUntil(lambda: graph._readout.words.startswith("0:30"))
    assert "offset L 10.00 mV" in graph._readout.words
    QApplication.sendEvent(graph._plot, QEvent(QEvent.Type.Leave))
    qtbot.waitUntil(lambda: graph._readout.words.startswith("newest"))


# --- what a person does --------------------------------------------------------------------------


def test_keys_zoom_slide_and_come_back(graph: RunGraph, qtbot: QtBot) -> None:
    whole = graph.shown
    qtbot.keyClick(graph, Qt.Key.Key_Plus)
    near = graph.shown
    assert near[1] - near[0] < whole[1] - whole[0]
    assert graph.follows
    qtbot.keyClick(graph, Qt.Key.Key_Left)
    back = graph.shown
    assert back[0] < near[0]
    assert not graph.follows
    qtbot.keyClick(graph, Qt.Key.Key_Right)
    assert graph.shown[0] > back[0]
    qtbot.keyClick(graph, Qt.Key.Key_Minus)
    qtbot.keyClick(graph, Qt.Key.Key_End)
    assert graph.follows
    qtbot.keyClick(graph, Qt.Key.Key_Home)
    assert graph.shown == whole


def test_keys_move_the_crosshair(graph: RunGraph, qtbot: QtBot) -> None:
    qtbot.keyClick(graph, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: not graph._readout.words.startswith("newest"))
    first = graph._cross
    qtbot.keyClick(graph, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    assert first is not None
    assert graph._cross is not None
    assert graph._cross < first


class _Around(QWidget):
    """What stands around the graph and hears the keys it does not want."""

    def __init__(self, graph: RunGraph) -> None:
        super().__init__()
        self.heard: list[int] = []
        QVBoxLayout(self).addWidget(graph)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        self.heard.append(event.key())


def test_other_keys_are_left_to_those_around_it(graph: RunGraph, qtbot: QtBot) -> None:
    around = _Around(graph)
    around.show()
    for target in (graph, graph._plot, graph._plot.viewport()):
        qtbot.keyClick(target, Qt.Key.Key_Escape)
        qtbot.keyClick(target, Qt.Key.Key_F12)
    assert around.heard.count(Qt.Key.Key_Escape) >= 2
    assert around.heard.count(Qt.Key.Key_F12) == around.heard.count(Qt.Key.Key_Escape)
    graph.setParent(None)
    around.close()


def turn_wheel(graph: RunGraph, x: float, turn: int) -> None:
    viewport = graph._plot.viewport()
    at = QPointF(x, 100.0)
    event = QWheelEvent(
        at,
        viewport.mapToGlobal(at),
        QPoint(),
        QPoint(0, turn),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(viewport, event)


def test_the_wheel_zooms_about_the_pointer_in_all_panels(graph: RunGraph) -> None:
    panel = graph._plot._panels[0].geometry()
    graph.show_range(0.0, 60.0)
    turn_wheel(graph, panel.left() + panel.width() * 0.25, 120)
    t0, t1 = graph.shown
    assert t1 - t0 == pytest.approx(50.0)
    assert t0 + 0.25 * (t1 - t0) == pytest.approx(15.0, abs=0.1)


def test_where_not_all_panels_fit_the_wheel_scrolls(make_graph: Make, qtbot: QtBot) -> None:
    graph = make_graph(height=140)
    graph.show_range(0.0, 60.0)
    bar = graph._scroll.verticalScrollBar()
    assert bar.maximum() > 0
    turn_wheel(graph, 200.0, -120)
    assert bar.value() > 0
    assert graph.shown == (0.0, 60.0)


def test_dragging_pulls_the_picture(graph: RunGraph, qtbot: QtBot) -> None:
    graph.show_range(20.0, 40.0)
    viewport = graph._plot.viewport()
    panel = graph._plot._panels[0].geometry()
    start = QPoint(round(panel.center().x()), round(panel.center().y()))
    qtbot.mousePress(viewport, Qt.MouseButton.LeftButton, pos=start)
    qtbot.mouseMove(viewport, start + QPoint(round(panel.width() / 4), 0))
    qtbot.mouseRelease(viewport, Qt.MouseButton.LeftButton, pos=start)
    assert graph.shown[0] == pytest.approx(15.0, abs=0.2)
    qtbot.mouseMove(viewport, start)
    assert graph.shown[0] == pytest.approx(15.0, abs=0.2)


def test_it_keeps_up_with_the_newest_minutes(graph: RunGraph) -> None:
    graph.follow(seconds=20.0)
    graph.append("+B", 100.0, 44.0)
    t0, t1 = graph.shown
    assert t1 == pytest.approx(100.0, abs=0.1)
    assert t1 - t0 == pytest.approx(20.0)
    graph.run_to(130.0)
    assert graph.shown[1] == pytest.approx(130.0, abs=0.1)
    graph.follow(on=False)
    graph.append("+B", 200.0, 44.0)
    assert graph.shown[1] == pytest.approx(130.0, abs=0.1)
