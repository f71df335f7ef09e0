"""The graph of a live run: the stream as it comes, what it dropped from the file, never a reading twice."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from helpers.kept import begin, some_readings
from helpers.powerup_rig import PowerUpRig
from pytestqt.qtbot import QtBot

from benchlog.domain.reference import Reference, Stood
from benchlog.recorder.client import messages
from benchlog.store import query
from benchlog.store.append import SessionWriter
from benchlog.store.records import TraceRow
from benchlog.window.look import Look
from benchlog.window.series import Series


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(made.window)
    yield made
    made.close()


@pytest.fixture
def writer(rig: PowerUpRig) -> Iterator[SessionWriter]:
    folder = rig.shelf.folder / "sessions"
    folder.mkdir(parents=True)
    made = begin(folder)
    rig.session = str(made.path)
    yield made
    made.abandon()


def stream(rig: PowerUpRig, *numbers: int) -> None:
    rows = [(one.seq, one.t, one.value, "ok") for seq in numbers for one in some_readings(1, first=seq)]
    rig.now += 2.0
    rig.link.say(messages.Readings(batches=[messages.Batch("+B", rows)]))


def drawn(rig: PowerUpRig) -> list[float]:
    series: Series = rig.page.desk.graph.series("+B")
    return [round(float(t), 6) for t in np.asarray(series._t.all)]


def test_readings_before_the_run_are_not_drawn(rig: PowerUpRig) -> None:
    rig.proven()
    rig.read("+B", 12.0)
    rig.armed()
    rig._seq.clear()
    rig.read("+B", 1.0)
    assert drawn(rig) == [0.0]


def test_readings_after_the_end_of_the_file_are_not_drawn(rig: PowerUpRig) -> None:
    rig.armed()
    stream(rig, 1, 2)
    rig.event("closed", "all stages done")
    stream(rig, 3)
    assert drawn(rig) == [0.1, 0.2]


def test_what_the_stream_dropped_comes_from_the_file_once_it_is_there(
    rig: PowerUpRig, writer: SessionWriter, qtbot: QtBot
) -> None:
    rig.armed()
    stream(rig, 1, 2, 3)
    stream(rig, 7, 8)
    assert drawn(rig) == [0.1, 0.2, 0.3, 0.7, 0.8]
    writer.append(some_readings(7), (), ())
    rig.link.say(messages.Stored(traces={"+B": 7}, t=0))
    stream(rig, 9)
    qtbot.waitUntil(lambda: len(drawn(rig)) == 9)
    assert drawn(rig) == [round(n / 10, 6) for n in range(1, 10)]
    stream(rig, 10)
    assert rig.page.desk.feed._tails == {}
    assert drawn(rig)[-1] == 1.0


def test_a_run_that_began_unseen_is_read_from_its_file(
    rig: PowerUpRig, writer: SessionWriter, qtbot: QtBot
) -> None:
    rig.armed()
    writer.append(some_readings(50), (), ())
    rig.link.say(messages.Stored(traces={"+B": 50}, t=0))
    stream(rig, 40)
    qtbot.waitUntil(lambda: len(drawn(rig)) == 50)
    stream(rig, 51)
    assert drawn(rig)[-1] == 5.1


def test_stages_bands_and_notes_reach_the_graph(rig: PowerUpRig, qtbot: QtBot) -> None:
    rig.window.resize(1240, 750)
    rig.window.show()
    rig.climb(2, seconds=4.0)
    rig.event("remark", "hum")
    rig.page.refresh()
    scene = rig.page.desk.graph.scene
    assert [mark.text for mark in scene.marks] == ["10 %", "20 %", "40 %"]
    assert [(note.kind, note.text) for note in scene.notes] == [("note", "hum")]
    rails = [band for band in scene.bands if band.panel == "rails"]
    # At 40 %: 0.196 x (92 - 9) - 0.65 V, a quarter below and a tenth above; for each rail at each stage.
    assert len(rails) == 6
    last = max(rails, key=lambda band: band.high)
    assert (last.low, last.high) == pytest.approx((0.75 * 15.62, 1.1 * 15.62), abs=0.1)
    assert last.to_t is None


def test_the_good_run_of_the_unit_is_what_the_rails_are_drawn_against(
    rig: PowerUpRig, monkeypatch: pytest.MonkeyPatch
) -> None:
    rig.window.resize(1240, 750)
    rig.window.show()
    rails = {"+B": 13.1, "-B": 12.9}
    good = Reference("2026-05-03", (Stood(92.0, 100.0, 9.2, None, rails),))
    load = rig.runner.load_plan
    # The page loads a plan with what the library knows of its unit.
    monkeypatch.setattr(rig.runner, "load_plan", lambda text, name: load(text, name, reference=good))
    rig.climb(2, seconds=4.0)
    rig.page.refresh()
    begun = rig.runner.view.marks[2][0]
    bands = [band for band in rig.page.desk.graph.scene.bands if band.from_t == begun]
    shown = [(round(band.low, 1), round(band.high, 1)) for band in bands if band.panel == "rails"]
    assert shown == [(11.6, 14.6), (-14.4, -11.4)]
    assert len([band for band in bands if band.panel == "lamp and mains"]) == 1


def test_a_lamp_that_goes_dark_in_a_drill_moves_no_band(rig: PowerUpRig, qtbot: QtBot) -> None:
    rig.window.resize(1240, 750)
    rig.window.show()
    rig.climb(2, seconds=4.0)
    rig.page.refresh()
    before = rig.page.desk.graph.scene.bands
    for state in ("drill", "going off", "changing"):
        rig.stage(state, 2)
        rig.read("lamp", 0.0)
        rig.page.refresh()
        assert rig.page.desk.graph.scene.bands == before


def test_a_bug_in_reading_the_file_does_not_keep_the_graph_from_asking_again(
    rig: PowerUpRig, writer: SessionWriter, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def bug(_file: Path) -> list[TraceRow]:
        raise ZeroDivisionError("a bug")

    rig.armed()
    writer.append(some_readings(7), (), ())
    rig.link.say(messages.Stored(traces={"+B": 7}, t=0))
    with monkeypatch.context() as planted, qtbot.capture_exceptions() as caught:
        planted.setattr(query, "traces", bug)
        stream(rig, 1, 2, 3)
        stream(rig, 7, 8)
        qtbot.waitUntil(lambda: bool(caught))
    stream(rig, 9)
    qtbot.waitUntil(lambda: len(drawn(rig)) == 9)
