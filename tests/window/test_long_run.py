"""A long run in the window: opened by its levels, seen closer where one looks, never without a spike of one reading."""

import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
from helpers.kept import begin, change
from helpers.plans import short_plan
from helpers.powerup_rig import PowerUpRig
from pytestqt.qtbot import QtBot

from benchlog.domain.plan import Plan
from benchlog.recorder.client import messages
from benchlog.recorder.outlet import trace_rows
from benchlog.store import late_levels
from benchlog.store.append import SessionWriter
from benchlog.store.records import ReadingRow
from benchlog.textfile import parse
from benchlog.window import past_run
from benchlog.window.graph import RunGraph
from benchlog.window.look import Look
from benchlog.window.past_page import PastPage
from benchlog.window.past_run import read_on, read_run
from benchlog.window.series import Series, stroke
from benchlog.window.work import Work

S = 1_000_000_000
PLAN = short_plan("amplifier", stages=2)
PATIENCE = 60_000

# Without a screen nobody hears how small a window may get.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")


def long_run(folder: Path, count: int, spike: int) -> SessionWriter:
    """A rail at ten readings a second, quiet but for one reading."""
    writer = begin(folder, plan=PLAN, plan_name="behind a lamp")
    writer.declare(trace_rows(parse(PLAN, "plan", Plan)))
    for at in range(0, count, 50_000):
        block = range(at, min(at + 50_000, count))
        writer.append(
            readings=[
                ReadingRow(3, k + 1, k * S // 10, 90.0 if k == spike else 40.0 + k % 2, "ok") for k in block
            ]
        )
    return writer


def closed(folder: Path, count: int, spike: int) -> Path:
    writer = long_run(folder, count, spike)
    writer.close("completed", "all stages done", count * S // 10)
    return writer.path


def open_page(work: Work, qtbot: QtBot, file: Path) -> PastPage:
    page = PastPage(work)
    qtbot.addWidget(page)
    page.resize(1240, 750)
    page.show()
    page.came()
    qtbot.waitUntil(lambda: page.detail.run is not None and page.detail.run.file == file, timeout=PATIENCE)
    return page


def high_of(graph: RunGraph) -> float:
    """The top of the rail's stroke as the graph draws it now."""
    pane = next(pane for pane in graph._frame().panes if pane.title == "rails")
    return max(float(line.stroke.high.max()) for line in pane.lines if len(line.stroke.high))


@pytest.mark.parametrize(
    ("spike", "count"), [(65_432, 100_000), pytest.param(654_321, 1_000_000, marks=pytest.mark.long)]
)
def test_a_spike_of_one_reading_is_seen_with_the_whole_run_in_view(
    tmp_path: Path, spike: int, count: int
) -> None:
    rail = read_run(closed(tmp_path, count, spike)).traces[2]
    assert len(rail.points) < 20_000
    series = Series()
    series.add(rail.points)
    end = count / 10
    for width in (200, 900, 2000):
        drawn = stroke(series.columns(0.0, end, width), 0.0, end, width)
        assert drawn.column[drawn.high == 90.0].tolist() == [int(spike / 10 / end * width)]
        assert len(drawn.column) == width
        assert (drawn.low.min(), np.median(drawn.low), np.median(drawn.high)) == (40.0, 40.0, 41.0)


def test_whoever_zooms_in_sees_every_reading_as_soon_as_the_file_is_read(work: Work, qtbot: QtBot) -> None:
    count, spike = 60_000, 43_210
    file = closed(work.shelf.folder / "sessions", count, spike)
    page = open_page(work, qtbot, file)
    graph = page.detail.graph
    assert high_of(graph) == 90.0
    series = graph.series("+B")
    assert len(series) < count / 2
    graph.show_range(4300.0, 4330.0)
    assert high_of(graph) == 90.0, "what is known stands there at once"

    def whole() -> bool:
        found = series.columns(4300.0, 4330.0, 1000)
        return len(found) == 301 and not series.lacks(4300.0, 4330.0, 0.001)

    qtbot.waitUntil(whole, timeout=PATIENCE)
    assert series.near(4321.04) == (4321.0, 90.0)
    assert high_of(graph) == 90.0
    graph.show_all()
    assert high_of(graph) == 90.0
    page.left()


def test_a_run_of_before_has_its_levels_once_somebody_has_looked_at_it(work: Work, qtbot: QtBot) -> None:
    file = closed(work.shelf.folder / "sessions", 5_000, 4_321)
    with closing(sqlite3.connect(file)) as connection:
        before = connection.execute("SELECT * FROM level").fetchall()
    change(file, "DELETE FROM level")
    said: list[str] = []
    edited: list[bool] = []
    work.shelf.waiting.connect(said.append)
    work.shelf.edited.connect(lambda: edited.append(True))
    page = open_page(work, qtbot, file)
    assert high_of(page.detail.graph) == 90.0
    qtbot.waitUntil(lambda: late_levels.share(file) == 1.0, timeout=PATIENCE)
    qtbot.waitUntil(lambda: bool(said) and not said[-1], timeout=PATIENCE)
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("SELECT * FROM level").fetchall() == before
    answered: list[bool] = []
    work.shelf.edit(lambda _: True, answered.append, quiet=True)
    qtbot.waitUntil(lambda: bool(answered), timeout=PATIENCE)
    assert edited == [], "nothing that anybody reads again"
    page.left()


def test_a_live_run_that_is_watched_for_days_is_held_in_bounds_with_its_spike(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(past_run, "MOST", 2_000)
    writer = begin(tmp_path)
    n = 0
    writer.append(readings=[ReadingRow(1, 1, 0, 40.0, "ok")])
    run = read_run(writer.path)
    graph = Series()
    graph.add(run.traces[0].points)
    for _ in range(40):
        block = [
            ReadingRow(1, (n := n + 1) + 1, n * S // 10, 90.0 if n == 777 else 40.0, "ok") for _ in range(300)
        ]
        writer.append(readings=block)
        run = read_on(run)
        graph.add(run.traces[0].fresh)
        assert len(run.traces[0].points) <= 2_000
    trace = run.traces[0]
    assert (trace.count, trace.points.t[-1], trace.highest_t) == (12_001, 1200.0, 77.7)
    again = Series()
    again.add(trace.points)
    for held in (graph, again):
        drawn = stroke(held.columns(0.0, 1200.0, 100), 0.0, 1200.0, 100)
        assert drawn.column[drawn.high == 90.0].tolist() == [6]
        assert len(drawn.column) == 100
    assert again.lacks(70.0, 80.0, 0.01)
    writer.abandon()


@pytest.fixture
def rig(look: Look, tmp_path: Path, qtbot: QtBot) -> PowerUpRig:
    made = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(made.window)
    return made


def test_what_a_live_graph_holds_by_its_extremes_alone_comes_from_the_file_for_who_looks_closer(
    rig: PowerUpRig, qtbot: QtBot
) -> None:
    writer = long_run(rig.shelf.folder / "sessions", 6_000, 321)
    rig.session = str(writer.path)
    rig.armed()
    graph = rig.page.desk.graph
    rows: list[tuple[int, int, float | None, str]] = [
        (k + 1, k * S // 10, 90.0 if k == 321 else 40.0 + k % 2, "ok") for k in range(6_000)
    ]
    rig.link.say(messages.Readings(batches=[messages.Batch("+B", rows[:10])]))
    series = graph.series("+B")
    series.most = 1_000
    rig.link.say(messages.Readings(batches=[messages.Batch("+B", rows[10:])]))
    assert len(series) < 1_500
    rig.window.resize(1240, 750)
    rig.window.show()
    graph.show_range(20.0, 40.0)
    graph.redraw()
    qtbot.waitUntil(lambda: len(series.columns(20.0, 40.0, 1000)) == 201, timeout=PATIENCE)
    assert series.near(32.1) == (32.1, 90.0)
    writer.abandon()
    rig.close()
