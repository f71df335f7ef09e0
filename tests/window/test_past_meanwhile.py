"""Answers that come when another run is open by then, and keys pressed while one is still being read."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from helpers.kept import begin, some_readings
from helpers.plans import short_plan
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from benchlog.domain.plan import Plan
from benchlog.domain.unit import UnitFile
from benchlog.recorder.outlet import trace_rows
from benchlog.store import edit, good_run, query
from benchlog.store.records import EventRow
from benchlog.textfile import parse
from benchlog.window.keys import Action
from benchlog.window.past_page import PastPage
from benchlog.window.work import Work

S = 1_000_000_000
PLAN = short_plan("amplifier", stages=2)
PATIENCE = 30_000
Made = tuple[PastPage, Path, Path]


def kept(work: Work, unit: str, day: int) -> Path:
    """A run that went through a stage, so that it may be a reference."""
    writer = begin(
        work.shelf.folder / "sessions", started=f"2026-11-{day:02}T10:00:00.000Z", plan=PLAN, unit=unit
    )
    writer.declare(trace_rows(parse(PLAN, "plan", Plan)))
    writer.append(
        readings=some_readings(300, trace=3),
        events=[
            EventRow(S, "stage", "10 %: dwelling", {"state": "dwelling", "index": 0}),
            EventRow(20 * S, "off", "all stages done", {"why": "off"}),
        ],
    )
    writer.close("completed", "all stages done", 20 * S)
    return writer.path


@pytest.fixture
def made(work: Work, qtbot: QtBot) -> Iterator[Made]:
    """The page on a library with two runs of a unit, the newer one open."""
    units: list[str] = []
    work.shelf.edit(lambda library: edit.create_unit(library, UnitFile(name="Hall")).id, units.append)
    qtbot.waitUntil(lambda: bool(units), timeout=PATIENCE)
    old, new = kept(work, units[0], 1), kept(work, units[0], 2)
    window = QWidget()
    qtbot.addWidget(window)
    page = PastPage(work)
    page.setParent(window)
    for widget in (window, page):
        widget.resize(1240, 750)
    window.show()
    page.came()
    is_open(page, new, qtbot)
    yield page, new, old
    window.close()


def is_open(page: PastPage, file: Path, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: page.detail.run is not None and page.detail.run.file == file, timeout=PATIENCE)


@contextmanager
def held_up(work: Work, *, writing: bool = False, away: bool = False) -> Iterator[None]:
    """A thread of the library, the one that writes, takes away or reads, has something else to do for so long."""
    gate = threading.Event()
    if writing:
        work.shelf.edit(lambda _: gate.wait(PATIENCE / 1000))
    elif away:
        work.shelf.take_away(lambda: gate.wait(PATIENCE / 1000), lambda _: None)
    else:
        work.shelf.read(lambda _: gate.wait(PATIENCE / 1000), lambda _: None)
    try:
        yield
    finally:
        gate.set()


def all_answered(work: Work, qtbot: QtBot) -> None:
    """Whatever was asked of the library so far is done and told."""
    for _ in range(2):
        answered: list[bool] = []
        work.shelf.edit(lambda _: True, answered.append)
        work.shelf.read(lambda _: True, answered.append)
        qtbot.waitUntil(lambda: len(answered) == 2, timeout=PATIENCE)  # noqa: B023


def listed(page: PastPage) -> list[Path]:
    return [row.file for row in page.list.model.rows]


def test_a_question_about_a_run_is_not_asked_of_the_next(work: Work, qtbot: QtBot, made: Made) -> None:
    page, new, old = made
    work.shelf.edit(lambda library: good_run.choose(library, new))
    all_answered(work, qtbot)
    with held_up(work, writing=True):
        assert page.act(Action.DELETE)
        page.act(Action.DOWN)
        is_open(page, old, qtbot)
    all_answered(work, qtbot)
    assert page.detail.acts.question.text() == ""
    assert listed(page) == [new, old]


def test_a_run_that_is_open_stays_so_when_the_one_before_is_deleted(
    work: Work, qtbot: QtBot, made: Made
) -> None:
    page, _new, old = made
    with held_up(work, writing=True):
        page.act(Action.DELETE)
        page.act(Action.DOWN)
        is_open(page, old, qtbot)
        run = page.detail.run
    qtbot.waitUntil(lambda: listed(page) == [old], timeout=PATIENCE)
    all_answered(work, qtbot)
    assert page.detail.run is run


@pytest.mark.parametrize("action", [Action.DELETE, Action.REFERENCE])
def test_nothing_is_done_with_a_run_that_the_list_has_left(
    work: Work, qtbot: QtBot, made: Made, action: Action
) -> None:
    page, new, old = made
    with held_up(work):
        page.act(Action.DOWN)
        assert page.act(action), "it is no other's key either"
        done: list[bool] = []
        work.shelf.edit(lambda _: True, done.append)
        qtbot.waitUntil(lambda: bool(done), timeout=PATIENCE)
    is_open(page, old, qtbot)
    all_answered(work, qtbot)
    assert listed(page) == [new, old]
    assert not any(row.chosen for row in page.list.model.rows)


def test_a_note_that_is_kept_late_does_not_hold_up_the_run_that_was_chosen_after(
    work: Work, qtbot: QtBot, made: Made
) -> None:
    page, new, old = made
    noted: list[bool] = []
    with held_up(work):
        with held_up(work, writing=True):
            page.act(Action.NOTE)
            qtbot.keyClicks(page.detail.field, "it hums")
            qtbot.keyClick(page.detail.field, Qt.Key.Key_Return)
            work.shelf.edit(lambda _: True, noted.append)
            page.list.step(1)
        qtbot.waitUntil(lambda: bool(noted), timeout=PATIENCE)
    is_open(page, old, qtbot)
    assert [note.text for note in query.remarks(new)] == ["it hums"]


@pytest.mark.parametrize("there", [False, True], ids=["written", "refused"])
def test_what_became_of_a_file_is_said_where_another_run_is_open_by_then(
    work: Work, qtbot: QtBot, made: Made, tmp_path: Path, there: bool
) -> None:
    page, new, old = made
    folder = tmp_path / "away"
    if there:
        folder.write_text("a file where the folder should be")
    said: list[str] = []
    work.said.connect(lambda text, _grave: said.append(text))
    take = page.detail.acts.take_away
    page.act(Action.TAKE_AWAY)
    take.folder.setText(str(folder))
    with held_up(work, away=True):
        qtbot.mouseClick(take.csv, Qt.MouseButton.LeftButton)
        page.list.step(1)
        is_open(page, old, qtbot)
        assert not take.isVisible()
    qtbot.waitUntil(lambda: bool(said), timeout=PATIENCE)
    assert said == [take.says.text()]
    assert str(folder) in said[0]
    assert (folder / f"{new.stem}.csv").is_file() is not there


def test_a_picture_that_is_stopped_is_not_written(
    work: Work, qtbot: QtBot, made: Made, tmp_path: Path
) -> None:
    page, _new, _old = made
    take = page.detail.acts.take_away
    page.act(Action.TAKE_AWAY)
    take.folder.setText(str(tmp_path / "away"))
    with held_up(work, away=True):
        qtbot.mouseClick(take.png, Qt.MouseButton.LeftButton)
        qtbot.mouseClick(take.stop, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: take.progress is None, timeout=PATIENCE)
    assert take.says.text() == "Stopped. Nothing is written."
    assert list((tmp_path / "away").iterdir()) == []
