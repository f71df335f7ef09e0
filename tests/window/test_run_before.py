"""Earlier runs beneath a live graph: which ones, never taken for what is read now, and put out of sight by a key."""

import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from helpers.kept import begin
from helpers.plans import short_plan
from helpers.powerup_rig import PowerUpRig
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from pytestqt.qtbot import QtBot

from benchlog.domain.plan import Plan
from benchlog.domain.unit import Unit, UnitFile
from benchlog.recorder.outlet import trace_rows
from benchlog.store import edit
from benchlog.store.records import EventRow, ReadingRow
from benchlog.textfile import parse
from benchlog.window import run_before
from benchlog.window.graph import RunGraph
from benchlog.window.graph_guests import Guest
from benchlog.window.graph_scene import Scene, StageMark, TraceLine
from benchlog.window.keys import POWER_UP, Action, Keys
from benchlog.window.look import Look
from benchlog.window.points import Points
from benchlog.window.run_before import RunBefore, earlier
from benchlog.window.work import Work

S = 1_000_000_000
TEXT = short_plan("amplifier", stages=2)
PLAN = parse(TEXT, "plan", Plan)
PATIENCE = 30_000
PLUS = TraceLine("+B", "V", "", "rails", 0, 0.01)

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")


def unit_of(work: Work, qtbot: QtBot) -> Unit:
    made: list[Unit] = []
    work.shelf.edit(lambda library: edit.create_unit(library, UnitFile(name="Hall amplifier")), made.append)
    qtbot.waitUntil(lambda: bool(made), timeout=PATIENCE)
    return made[0]


def kept(work: Work, unit: str, day: int, plan: Plan = PLAN) -> Path:
    """A run of fifty seconds that went through, in which every trace of the plan was read."""
    writer = begin(
        work.shelf.folder / "sessions",
        started=f"2026-11-{day:02}T10:00:00.000Z",
        plan=TEXT,
        plan_name="behind a lamp",
        unit=unit,
    )
    rows = trace_rows(plan)
    writer.declare(rows)
    stages = [(2, "moving", 0), (5, "dwelling", 0), (25, "moving", 1), (28, "dwelling", 1)]
    writer.append(
        readings=[
            ReadingRow(row.id, s + 1, s * S, 10.0 + row.id + s, "ok") for s in range(50) for row in rows
        ],
        events=[
            *(
                EventRow(t * S, "stage", f"{i}: {state}", {"state": state, "index": i})
                for t, state, i in stages
            ),
            EventRow(50 * S, "closed", "all stages done", {"off": "verified off"}),
        ],
    )
    writer.close("completed", "all stages done", 50 * S)
    return writer.path


def one_sided(side: str) -> Plan:
    """The plan with the traces of one side alone."""
    return replace(PLAN, trace=tuple(trace for trace in PLAN.trace if trace.side in ("", side)))


def test_the_good_run_of_the_unit_lies_beneath(work: Work, qtbot: QtBot, look: Look) -> None:
    unit = unit_of(work, qtbot)
    kept(work, unit.id, 1)
    kept(work, "", 2)
    (guest,) = earlier(work.shelf.folder, unit.id, PLAN)
    assert guest.name.startswith("good run, 1 Nov")
    assert set(guest.points) == {trace.name for trace in PLAN.trace}
    assert earlier(work.shelf.folder, "no such unit", PLAN) == []


def test_of_a_run_with_one_side_the_other_side_lies_beneath_too(work: Work, qtbot: QtBot) -> None:
    unit = unit_of(work, qtbot)
    kept(work, unit.id, 1, one_sided("left"))
    kept(work, unit.id, 2, one_sided("right"))
    guests = earlier(work.shelf.folder, unit.id, one_sided("right"))
    other = [guest for guest in guests if guest.name.startswith("other side")]
    assert len(other) == 1
    assert "1 Nov" in other[0].name
    assert other[0].name.endswith("its other side")
    good = [guest for guest in guests if guest.name.startswith("good run")]
    assert not {trace.side for trace in PLAN.trace if trace.name in good[0].points} - {""}
    assert {trace.side for trace in PLAN.trace if trace.name in other[0].points} == {"right"}


def test_files_are_read_in_another_thread_and_another_run_takes_their_place(
    work: Work, qtbot: QtBot, look: Look, monkeypatch: pytest.MonkeyPatch
) -> None:
    threads: list[threading.Thread] = []

    def found(_library: Path, _unit: str, _plan: Plan) -> list[Guest]:
        threads.append(threading.current_thread())
        return [guest_of_plus()]

    monkeypatch.setattr(run_before, "earlier", found)
    graph = RunGraph(look)
    qtbot.addWidget(graph)
    before = RunBefore(work, graph)
    before.begin("a session", PLAN)
    assert not threads
    assert graph.layer.guests.all == ()
    work.shelf.choose(unit_of(work, qtbot), None)
    before.begin("a session", PLAN)
    qtbot.waitUntil(lambda: len(graph.layer.guests.all) == 1, timeout=PATIENCE)
    assert threads[0] is not threading.main_thread()
    before.begin("", PLAN)
    assert graph.layer.guests.all == ()


def guest_of_plus() -> Guest:
    t = np.arange(0.0, 100.0, 0.5)
    joined = np.ones(len(t), dtype=np.bool_)
    points = Points(t, np.full(len(t), 60.0), joined)
    marks = (StageMark(5.0, "10 %"), StageMark(50.0, "20 %"))
    return Guest("good run, 1 Nov", "1 Nov", "2026-11-01T10:00:00.000Z", {"+B": points}, marks)


@pytest.fixture
def graph(qtbot: QtBot, look: Look) -> Iterator[RunGraph]:
    """Twenty seconds of a live run, with an earlier one beneath it that lasted longer."""
    made = RunGraph(look)
    qtbot.addWidget(made)
    made.resize(700, 400)
    made.show_scene(Scene(lines=(PLUS,), marks=(StageMark(2.0, "10 %"),)))
    made.layer.show([guest_of_plus()], live=True)
    with qtbot.waitExposed(made):
        made.show()
    for i in range(200):
        made.append("+B", i / 10.0, 44.0)
    made.show_range(0.0, 60.0)
    yield made
    made.close()


def test_an_earlier_run_is_thin_lettered_and_goes_no_further_than_the_live_line(graph: RunGraph) -> None:
    old, own = graph._frame().panes[0].lines
    assert (own.rank, own.letter) == (0, "")
    assert old.rank > 0
    assert old.letter == "a"
    assert len(old.stroke.column) > 0
    assert old.until is not None
    assert old.until <= own.stroke.column[-1] + 1
    assert "a: good run, 1 Nov" in graph.layer.named.text()
    # What is read now comes, and the other line with it; nothing of it is in the values told.
    graph.append("+B", 30.0, 44.0)
    later = graph._frame().panes[0].lines[0]
    assert later.until is not None
    assert later.until > old.until
    assert later.stroke is old.stroke
    graph.redraw()
    assert graph._readout.words == "newest 0:30: +B 44.00 V"


def test_an_earlier_run_changes_no_scale_of_a_live_one(graph: RunGraph) -> None:
    with_it = graph._frame().panes[0].scale
    graph.layer.hide()
    assert graph._frame().panes[0].scale == with_it
    assert [line.letter for line in graph._frame().panes[0].lines] == [""]


def test_each_stage_it_reaches_lays_the_earlier_one_on_anew(graph: RunGraph) -> None:
    (line,) = graph.layer.guests.of("+B")
    assert line.series.span is not None
    # At 10 % from 5 to 50 s there, from 2 s here; its next stage is not reached yet.
    assert line.series.span[1] == pytest.approx(46.5)
    graph.add_mark(StageMark(15.0, "20 %"))
    (line,) = graph.layer.guests.of("+B")
    assert line.series.span == (-3.0, 64.5)


def test_a_picture_that_stands_still_works_the_earlier_run_out_once(graph: RunGraph) -> None:
    (line,) = graph.layer.guests.of("+B")
    first = line.drawn(0.0, 60.0, 300)
    assert line.drawn(0.0, 60.0, 300) is first
    assert line.drawn(0.0, 61.0, 300) is not first


def test_a_key_puts_it_out_of_sight_in_a_live_run(look: Look, qtbot: QtBot, tmp_path: Path) -> None:
    rig = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(rig.window)
    rig.armed()
    layer = rig.page.desk.graph.layer
    layer.show([guest_of_plus()], live=True)
    event = QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_H, Qt.KeyboardModifier.NoModifier, "h")
    assert Keys().action(event, POWER_UP) is Action.EARLIER
    assert rig.page.act(Action.EARLIER)
    assert not layer.guests.seen
    assert rig.page.act(Action.EARLIER)
    assert layer.guests.seen
    rig.close()
