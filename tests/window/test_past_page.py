"""The page of past runs: list, open run, late notes; a live run, a damaged file, a narrow window."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers.kept import begin, some_readings
from helpers.plans import short_plan
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from benchlog.domain.plan import Plan
from benchlog.recorder.outlet import trace_rows
from benchlog.store import edit, query
from benchlog.store.append import SessionWriter
from benchlog.store.records import EventRow, RemarkRow
from benchlog.textfile import parse
from benchlog.window import past_run
from benchlog.window.keys import Action
from benchlog.window.past_page import PastPage
from benchlog.window.shapes import Shape
from benchlog.window.work import Work

S = 1_000_000_000
PLAN = short_plan("amplifier", stages=2)
WIDE, NARROW = (1240, 750), (600, 640)
PATIENCE = 30_000
Make = Callable[..., PastPage]


def begun(work: Work, day: int) -> SessionWriter:
    folder = work.shelf.folder / "sessions"
    writer = begin(folder, started=f"2026-11-{day:02}T10:00:00.000Z", plan=PLAN, plan_name="behind a lamp")
    writer.declare(trace_rows(parse(PLAN, "plan", Plan)))
    return writer


def tripped(work: Work, day: int = 1) -> Path:
    writer = begun(work, day)
    writer.append(
        readings=some_readings(300, trace=3),
        events=[
            EventRow(2 * S, "stage", "10 %: moving", {"state": "moving", "index": 0}),
            EventRow(20 * S, "trip", "lamp 90 V, above its limit", {"trace": "lamp"}),
            EventRow(20 * S, "off", "lamp 90 V, above its limit", {"why": "trip"}),
            EventRow(30 * S, "closed", "lamp 90 V, above its limit", {"off": "verified off"}),
        ],
        remarks=[RemarkRow("a", 12 * S, "it hums")],
    )
    writer.close("tripped", "lamp 90 V, above its limit", 30 * S)
    return writer.path


def went_through(work: Work, day: int = 2) -> Path:
    writer = begun(work, day)
    writer.append(
        readings=some_readings(5, trace=3),
        events=[EventRow(S, "closed", "all stages done", {"off": "verified off"})],
    )
    writer.close("completed", "all stages done", S)
    return writer.path


@pytest.fixture
def make_page(work: Work, qtbot: QtBot) -> Iterator[Make]:
    """The page as it stands in a window, which alone decides on its size."""
    windows: list[QWidget] = []

    def make(size: tuple[int, int] = WIDE, runs: int = 1) -> PastPage:
        window = QWidget()
        qtbot.addWidget(window)
        windows.append(window)
        page = PastPage(work)
        page.setParent(window)
        window.resize(*size)
        page.resize(*size)
        window.show()
        page.came()
        qtbot.waitUntil(lambda: len(page.list.model.rows) == runs, timeout=PATIENCE)
        return page

    yield make
    for window in windows:
        window.close()


def wait_for(page: PastPage, file: Path, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: page.detail.run is not None and page.detail.run.file == file, timeout=PATIENCE)


def damage(work: Work) -> Path:
    file = work.shelf.folder / "sessions" / "20200101T000000Z-deadbeef.db"
    file.write_bytes(b"this is no run" * 100)
    return file


def test_the_newest_run_is_open_and_the_arrows_walk_the_list(
    work: Work, qtbot: QtBot, make_page: Make
) -> None:
    old, new = tripped(work), went_through(work)
    page = make_page(runs=2)
    wait_for(page, new, qtbot)
    assert [row.shape for row in page.list.model.rows] == [Shape.GOOD, Shape.STOP]
    assert page.act(Action.DOWN)
    wait_for(page, old, qtbot)
    assert page.detail.ending.text() == "tripped: lamp 90 V, above its limit"
    assert "seen off at the close" in page.detail.about.text()
    assert page.detail.mark.accessibleName() == Shape.STOP
    qtbot.keyClick(page.list.view, Qt.Key.Key_Up)
    wait_for(page, new, qtbot)


def test_whoever_comes_back_stands_on_the_newest_run_and_one_that_ends_meanwhile_is_listed(
    work: Work, qtbot: QtBot, make_page: Make
) -> None:
    old, new = tripped(work), went_through(work)
    page = make_page(runs=2)
    wait_for(page, new, qtbot)
    page.act(Action.DOWN)
    wait_for(page, old, qtbot)
    ended = went_through(work, day=3)
    work.shelf.edit(lambda library: edit.put_session_in_index(library, ended))
    qtbot.waitUntil(lambda: len(page.list.model.rows) == 3, timeout=PATIENCE)
    assert page.list.model.rows[0].file == ended
    # What is being read stays open.
    assert page.list.current is not None
    assert page.list.current.file == old
    page.left()
    page.came()
    wait_for(page, ended, qtbot)
    assert page.list.current.file == ended
    page.left()
    page.came()
    page.show_run(old)
    wait_for(page, old, qtbot)
    page.refresh()
    told: list[bool] = []
    work.shelf.read(lambda _: None, lambda _: told.append(True))
    qtbot.waitUntil(lambda: bool(told), timeout=PATIENCE)
    assert page.detail.run is not None
    assert page.detail.run.file == old


def test_a_run_shows_its_graph_numbers_events_and_notes(work: Work, qtbot: QtBot, make_page: Make) -> None:
    file = tripped(work)
    page = make_page()
    wait_for(page, file, qtbot)
    detail = page.detail
    assert len(detail.graph.series("+B")) == 300
    assert [mark.text for mark in detail.graph.scene.marks] == ["10 %"]
    assert {note.kind for note in detail.graph.scene.notes} == {"trip", "note"}
    assert detail.numbers.text_of("+B") == ("65.00 V", "77.50 V", "40.12 V", "77.50 V")
    said = [line.text for line in detail.told.told.lines]
    assert said[:3] == ["10 %: source moving", "it hums", "tripped: lamp 90 V, above its limit"]
    detail.notes_only.click()
    assert [line.text for line in detail.told.told.lines] == ["it hums"]
    assert detail.notes_only.text() == "notes only (1)"


def test_a_line_of_what_happened_leads_to_its_place_in_the_graph(
    work: Work, qtbot: QtBot, make_page: Make
) -> None:
    file = tripped(work)
    page = make_page()
    wait_for(page, file, qtbot)
    told = page.detail.told
    told.setFocus()
    told.setCurrentIndex(told.told.index(1))
    assert not page.act(Action.UP), "the arrows walk the lines while those have the focus"
    assert page.act(Action.GO)
    assert page.detail.graph.shown == (2.0, 22.0)


def test_the_seconds_before_off_are_one_key_away(work: Work, qtbot: QtBot, make_page: Make) -> None:
    file = tripped(work)
    page = make_page()
    wait_for(page, file, qtbot)
    assert page.act(Action.LAST_SECONDS)
    assert page.detail.graph.shown == (10.0, 22.0)
    page.detail.home.click()
    assert page.detail.graph.follows


def test_a_run_can_be_opened_at_a_moment_before_the_list_knows_it(
    work: Work, qtbot: QtBot, make_page: Make
) -> None:
    tripped(work)
    went_through(work)
    page = make_page(runs=2)
    other = tripped(work, 3)
    page.show_run(other, 20.0)
    page.refresh()
    wait_for(page, other, qtbot)
    qtbot.waitUntil(
        lambda: page.list.current is not None and page.list.current.file == other, timeout=PATIENCE
    )
    assert page.detail.graph.shown == (10.0, 22.0)


def test_a_late_note_is_kept_and_marked_as_late(work: Work, qtbot: QtBot, make_page: Make) -> None:
    file = tripped(work)
    page = make_page()
    wait_for(page, file, qtbot)
    page.detail.told.setCurrentIndex(page.detail.told.told.index(2))
    assert page.act(Action.NOTE)
    assert "0:20" in page.detail.field.placeholderText()
    qtbot.keyClicks(page.detail.field, "the bulb was the wrong one")
    qtbot.keyClick(page.detail.field, Qt.Key.Key_Return)
    lines = page.detail.told.told
    qtbot.waitUntil(
        lambda: "the bulb was the wrong one (written later)" in [line.text for line in lines.lines],
        timeout=PATIENCE,
    )
    kept = query.remarks(file)
    assert [(note.text, note.t, note.late) for note in kept][-1] == (
        "the bulb was the wrong one",
        20 * S,
        True,
    )
    assert not page.detail.field.isVisible()


def test_escape_leaves_the_note_and_an_empty_one_is_not_kept(
    work: Work, qtbot: QtBot, make_page: Make
) -> None:
    file = tripped(work)
    page = make_page()
    wait_for(page, file, qtbot)
    page.act(Action.NOTE)
    qtbot.keyClicks(page.detail.field, "never mi")
    qtbot.keyClick(page.detail.field, Qt.Key.Key_Escape)
    assert not page.detail.field.isVisible()
    page.act(Action.NOTE)
    assert page.detail.field.text() == ""
    qtbot.keyClick(page.detail.field, Qt.Key.Key_Return)
    assert len(query.remarks(file)) == 1


def test_a_live_run_can_be_opened_and_grows_while_it_is_shown(
    work: Work, qtbot: QtBot, make_page: Make
) -> None:
    writer = begun(work, 3)
    writer.append(readings=some_readings(5, trace=3))
    page = make_page()
    wait_for(page, writer.path, qtbot)
    assert page.detail.mark.accessibleName() == Shape.HERE
    assert page.detail.ending.text() == "still open"
    assert "so far" in page.detail.about.text()
    writer.append(readings=some_readings(5, trace=3, first=6))
    page.look_again()
    qtbot.waitUntil(lambda: len(page.detail.graph.series("+B")) == 10, timeout=PATIENCE)
    # Nothing holds the file: its recorder can fold it.
    assert writer.close("completed", "all stages done", 2 * S)
    page.look_again()
    qtbot.waitUntil(lambda: page.detail.ending.text() == "went through: all stages done", timeout=PATIENCE)
    assert len(page.detail.graph.series("+B")) == 10


def test_a_note_to_a_run_that_another_writes_is_refused_with_a_sentence(
    work: Work, qtbot: QtBot, make_page: Make
) -> None:
    writer = begun(work, 3)
    writer.append(readings=some_readings(5, trace=3))
    page = make_page()
    wait_for(page, writer.path, qtbot)
    page.act(Action.NOTE)
    assert "now" in page.detail.field.placeholderText()
    qtbot.keyClicks(page.detail.field, "smells")
    with qtbot.waitSignal(work.said, timeout=PATIENCE) as said:
        qtbot.keyClick(page.detail.field, Qt.Key.Key_Return)
    assert "in use" in said.args[0]
    writer.abandon()


def test_a_run_whose_recorder_has_died_is_closed(work: Work, qtbot: QtBot, make_page: Make) -> None:
    writer = begun(work, 3)
    writer.append(
        readings=some_readings(5, trace=3), events=[EventRow(S, "on", "switched on", {"done": True})]
    )
    page = make_page()
    wait_for(page, writer.path, qtbot)
    assert page.detail.unproven.text() == ""
    writer.abandon()
    page.look_again()
    qtbot.waitUntil(lambda: page.list.model.rows[0].ending == "not closed", timeout=PATIENCE)
    qtbot.waitUntil(lambda: page.detail.ending.text().startswith("not closed"), timeout=PATIENCE)
    assert page.detail.mark.accessibleName() == Shape.NOTHING
    assert "Nothing shows that the unit was off" in page.detail.unproven.text()


def test_a_damaged_file_says_what_is_wrong_and_the_others_stay_open(
    work: Work, qtbot: QtBot, make_page: Make
) -> None:
    file = tripped(work)
    bad = damage(work)
    page = make_page(runs=2)
    wait_for(page, file, qtbot)
    page.act(Action.DOWN)
    qtbot.waitUntil(page.detail.says.isVisible, timeout=PATIENCE)
    assert page.detail.name.accessibleName() == bad.name
    assert "is damaged" in page.detail.says.text()
    assert not page.detail.graph.isVisible()
    page.act(Action.UP)
    wait_for(page, file, qtbot)
    assert page.detail.graph.isVisible()


def test_a_run_that_is_still_being_read_does_not_cover_what_was_chosen_after(
    work: Work, qtbot: QtBot, make_page: Make
) -> None:
    file = tripped(work)
    bad = damage(work)
    page = make_page(runs=2)
    wait_for(page, file, qtbot)
    page.show_run(file)
    page.act(Action.DOWN)
    answered: list[bool] = []
    work.shelf.read(lambda _: True, answered.append)
    qtbot.waitUntil(lambda: bool(answered), timeout=PATIENCE)
    assert page.detail.run is None
    assert page.detail.name.accessibleName() == bad.name
    assert "is damaged" in page.detail.says.text()


def test_a_file_that_goes_while_it_is_listed_is_said(work: Work, qtbot: QtBot, make_page: Make) -> None:
    file, new = tripped(work), went_through(work)
    page = make_page(runs=2)
    wait_for(page, new, qtbot)
    file.unlink()
    page.act(Action.DOWN)
    qtbot.waitUntil(lambda: "check the name" in page.detail.says.text(), timeout=PATIENCE)


def test_a_library_without_runs_says_so(work: Work, qtbot: QtBot, make_page: Make) -> None:
    page = make_page(runs=0)
    qtbot.waitUntil(lambda: "No run yet" in page.list.says.text(), timeout=PATIENCE)
    assert not page.act(Action.GO)
    page.act(Action.NOTE)
    page.act(Action.LAST_SECONDS)
    assert not page.detail.field.isVisible()


def test_a_run_of_nothing_says_that_nothing_was_read(work: Work, qtbot: QtBot, make_page: Make) -> None:
    writer = begun(work, 3)
    writer.close("ended by the operator", "closed before it was on", 0)
    page = make_page()
    wait_for(page, writer.path, qtbot)
    assert page.detail.says.text() == "Nothing was read in this run."
    assert not page.detail.caps[Action.LAST_SECONDS].isEnabled()


def test_in_a_narrow_window_the_list_gives_way_to_the_run_and_back(
    work: Work, qtbot: QtBot, make_page: Make
) -> None:
    file = tripped(work)
    page = make_page(NARROW)
    assert page.list.isVisible()
    assert not page.detail.isVisible()
    assert page.act(Action.GO)
    wait_for(page, file, qtbot)
    assert not page.list.isVisible()
    assert page.detail.graph.isVisible()
    assert page.minimumSizeHint().width() <= NARROW[0]
    assert page.minimumSizeHint().height() <= NARROW[1]
    page.act(Action.NOTE)
    assert page.detail.field.isVisible()
    assert not page.detail.graph.isVisible()
    page.act(Action.LAST_SECONDS)
    assert page.detail.graph.isVisible()
    assert page.act(Action.BACK)
    assert page.list.isVisible()
    assert not page.detail.isVisible()
    damage(work)
    page.refresh()
    qtbot.waitUntil(lambda: len(page.list.model.rows) == 2, timeout=PATIENCE)
    page.act(Action.DOWN)
    assert page.act(Action.GO)
    assert "is damaged" in page.detail.says.text()
    assert page.detail.caps[Action.BACK].isVisible()
    page.resize(*WIDE)
    assert page.detail.isVisible()
    assert not page.act(Action.BACK)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_state_is_drawn_in_both_themes(work: Work, qtbot: QtBot, make_page: Make, theme: str) -> None:
    tripped(work)
    damage(work)
    live = begun(work, 3)
    page = make_page(runs=3)
    wait_for(page, live.path, qtbot)
    work.look.set_theme(theme)
    assert not page.grab().isNull()
    work.look.set_theme("light")
    live.abandon()


def test_a_bug_in_reading_a_run_does_not_keep_the_page_from_reading_the_next(
    work: Work, qtbot: QtBot, make_page: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    new, whole = went_through(work), past_run.read_run

    def bug(_file: Path) -> past_run.PastRun:
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr(past_run, "read_run", bug)
    with qtbot.capture_exceptions() as caught:
        page = make_page()
        qtbot.waitUntil(lambda: bool(caught), timeout=PATIENCE)
    assert not page._loading
    monkeypatch.setattr(past_run, "read_run", whole)
    page.show_run(new)
    wait_for(page, new, qtbot)
