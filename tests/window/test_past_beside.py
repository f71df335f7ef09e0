"""The open run beside others and between two cursors: by key and by mouse, in the page and in its graph."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from helpers.kept import begin
from helpers.plans import short_plan
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from benchlog.domain.plan import Plan
from benchlog.domain.unit import Unit, UnitFile
from benchlog.recorder.outlet import trace_rows
from benchlog.store import edit, query
from benchlog.store.records import EventRow, ReadingRow
from benchlog.textfile import parse
from benchlog.window.graph_between import NONE
from benchlog.window.keys import PAST, Action, Keys
from benchlog.window.past_page import PastPage
from benchlog.window.work import Work

S = 1_000_000_000
PLAN = short_plan("amplifier", stages=2)
PATIENCE = 30_000


def kept(
    work: Work,
    day: int,
    unit: str = "",
    above: float = 0.0,
    second: int = 25,
    more: Sequence[ReadingRow] = (),
) -> Path:
    """A run of fifty seconds whose second stage is reached at a second of its own, and what was read after that."""
    writer = begin(
        work.shelf.folder / "sessions",
        started=f"2026-11-{day:02}T10:00:00.000Z",
        plan=PLAN,
        plan_name="behind a lamp",
        unit=unit,
    )
    writer.declare(trace_rows(parse(PLAN, "plan", Plan)))
    stages = [(2, "moving", 0), (5, "dwelling", 0), (second, "moving", 1), (second + 3, "dwelling", 1)]
    writer.append(
        readings=[
            ReadingRow(n, s + 1, s * S, 10.0 * n + above + (s >= second), "ok")
            for s in range(50)
            for n in (1, 2, 3)
        ]
        + list(more),
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


def unit_of(work: Work, qtbot: QtBot, name: str) -> Unit:
    made: list[Unit] = []
    file = UnitFile(name=name, maker="Invented", model="A-60")
    work.shelf.edit(lambda library: edit.create_unit(library, file), made.append)
    qtbot.waitUntil(lambda: bool(made), timeout=PATIENCE)
    return made[0]


@pytest.fixture
def window(qtbot: QtBot) -> Iterator[QWidget]:
    made = QWidget()
    qtbot.addWidget(made)
    yield made
    made.close()


def shown(
    work: Work, qtbot: QtBot, window: QWidget, file: Path, size: tuple[int, int] = (1240, 750)
) -> PastPage:
    page = PastPage(work)
    page.setParent(window)
    window.resize(*size)
    page.resize(*size)
    window.show()
    page.came()
    page.show_run(file)
    qtbot.waitUntil(lambda: page.detail.run is not None and page.detail.run.file == file, timeout=PATIENCE)
    return page


def press(page: PastPage, key: Qt.Key, text: str = "") -> None:
    """A key as the window hands it to its page."""
    event = QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier, text)
    if page.typed(event):
        return
    action = page.work.keys.action(event, PAST)
    assert action is not None
    page.act(action)


def opened(page: PastPage, qtbot: QtBot, runs: int) -> None:
    press(page, Qt.Key.Key_C, "c")
    qtbot.waitUntil(lambda: page.detail.beside.list.count() == runs, timeout=PATIENCE)
    page.detail.beside.list.setFocus()
    qtbot.waitUntil(lambda: page.detail.reads_beside, timeout=PATIENCE)


def beside(page: PastPage, qtbot: QtBot, count: int) -> None:
    qtbot.waitUntil(lambda: len(page.detail.graph.layer.guests.all) == count, timeout=PATIENCE)


def test_the_list_names_the_keys_that_a_person_has_given_it(
    work: Work, qtbot: QtBot, window: QWidget
) -> None:
    kept(work, 1)
    page = shown(work, qtbot, window, kept(work, 2))
    work.keys = Keys({"F8": "beside"})
    opened(page, qtbot, 1)
    assert page.detail.beside.says.text().endswith("(Enter); F8 puts the list away.")


def test_a_run_beside_it_is_read_as_closely_as_it_is_looked_at(
    work: Work, qtbot: QtBot, window: QWidget
) -> None:
    later = [ReadingRow(1, 51 + n, 50 * S + n * S // 20, n % 7 / 10.0, "ok") for n in range(20_000)]
    older, new = kept(work, 1, more=later), kept(work, 2, more=later)
    page = shown(work, qtbot, window, new)
    opened(page, qtbot, 1)
    press(page, Qt.Key.Key_Return)
    beside(page, qtbot, 1)
    graph, name = page.detail.graph, query.traces(older)[0].name

    def read() -> list[int]:
        (guest,) = graph.layer.guests.of(name)
        return [len(line.columns(500.0, 510.0, 2000)) for line in (guest.series, graph.series(name))]

    assert all(count < 150 for count in read())
    graph.show_range(500.0, 510.0)
    qtbot.waitUntil(lambda: read() == [201, 201], timeout=PATIENCE)


def test_a_second_run_is_laid_on_by_stage_by_key_and_turned_to_start_and_hidden(
    work: Work, qtbot: QtBot, window: QWidget
) -> None:
    older, new = kept(work, 1, above=2.0, second=15), kept(work, 2)
    page = shown(work, qtbot, window, new)
    opened(page, qtbot, 1)
    press(page, Qt.Key.Key_Return)
    beside(page, qtbot, 1)
    graph, name = page.detail.graph, query.traces(older)[0].name
    (line,) = graph.layer.guests.of(name)
    # Its second stage, which it reached ten seconds earlier, begins where this run's does.
    assert line.series.near(26.0) == (26.0, 13.0)
    assert line.series.near(14.0) == (14.0, 12.0)
    assert "a: 1 Nov, " in graph.layer.named.text()
    press(page, Qt.Key.Key_S)
    (line,) = graph.layer.guests.of(name)
    assert line.series.near(16.0) == (16.0, 13.0)
    press(page, Qt.Key.Key_H)
    assert graph.layer.guests.of(name) == ()
    press(page, Qt.Key.Key_H)
    press(page, Qt.Key.Key_Return)
    beside(page, qtbot, 0)
    assert graph.layer.named.isHidden()


def test_a_mouse_ticks_and_the_table_has_both_runs_with_their_differences(
    work: Work, qtbot: QtBot, window: QWidget
) -> None:
    kept(work, 1, above=2.0)
    new = kept(work, 2)
    page = shown(work, qtbot, window, new)
    opened(page, qtbot, 1)
    list_ = page.detail.beside.list
    box = list_.visualItemRect(list_.item(0))
    qtbot.mouseClick(
        list_.viewport(), Qt.MouseButton.LeftButton, pos=QPoint(box.left() + 10, box.center().y())
    )
    beside(page, qtbot, 1)
    press(page, Qt.Key.Key_T, "t")
    table = page.detail.stages
    qtbot.waitUntil(lambda: table.rowCount() > 0 and table.columnCount() > 7, timeout=PATIENCE)
    final, other, difference = table.row_texts(0)[2:5]
    assert (final, other) != (NONE, NONE)
    assert difference.startswith("+2")
    press(page, Qt.Key.Key_C, "c")
    assert page.detail.beside.isHidden()


def test_other_units_of_the_model_come_by_one_button_and_are_never_strong(
    work: Work, qtbot: QtBot, window: QWidget
) -> None:
    mine, others = unit_of(work, qtbot, "this one"), [unit_of(work, qtbot, f"unit {i}") for i in range(3)]
    new = kept(work, 2, mine.id)
    for day, unit in enumerate(others, 3):
        kept(work, day, unit.id)
    page = shown(work, qtbot, window, new)
    opened(page, qtbot, 3)
    qtbot.mouseClick(page.detail.beside.units, Qt.MouseButton.LeftButton)
    beside(page, qtbot, 3)
    guests = page.detail.graph.layer.guests
    assert {guest.name.split(",")[0] for guest in guests.all} == {"unit 0", "unit 1", "unit 2"}
    name = query.traces(new)[0].name
    assert [line.rank for line in guests.of(name)] == [2, 2, 2]
    assert guests.rank == 0


def test_the_newest_of_all_has_the_strong_ink(work: Work, qtbot: QtBot, window: QWidget) -> None:
    old, name = kept(work, 1), ""
    kept(work, 2)
    page = shown(work, qtbot, window, old)
    opened(page, qtbot, 1)
    press(page, Qt.Key.Key_Return)
    beside(page, qtbot, 1)
    guests = page.detail.graph.layer.guests
    name = query.traces(old)[0].name
    assert [line.rank for line in guests.of(name)] == [0]
    assert guests.rank == 1


def test_nothing_lies_beside_the_next_run_that_is_opened(work: Work, qtbot: QtBot, window: QWidget) -> None:
    older, new = kept(work, 1), kept(work, 2)
    page = shown(work, qtbot, window, new)
    opened(page, qtbot, 1)
    press(page, Qt.Key.Key_Return)
    beside(page, qtbot, 1)
    page.show_run(older)
    qtbot.waitUntil(lambda: page.detail.run is not None and page.detail.run.file == older, timeout=PATIENCE)
    assert page.detail.graph.layer.guests.all == ()
    assert page.detail.beside.ticked == ()


def test_a_run_alone_says_so(work: Work, qtbot: QtBot, window: QWidget) -> None:
    page = shown(work, qtbot, window, kept(work, 1), size=(600, 640))
    press(page, Qt.Key.Key_C, "c")
    qtbot.waitUntil(lambda: "no other run" in page.detail.beside.says.text(), timeout=PATIENCE)
    assert page.act(Action.BESIDE)


def test_between_two_cursors_the_file_is_asked_and_keys_do_it_all(
    work: Work, qtbot: QtBot, window: QWidget
) -> None:
    run = kept(work, 1)
    page = shown(work, qtbot, window, run)
    graph = page.detail.graph
    for share, key in ((0.2, Qt.Key.Key_1), (0.6, Qt.Key.Key_2)):
        graph._point(share)
        press(page, key)
    stretch = graph.measuring.cursors.stretch
    assert stretch is not None
    name = query.traces(run)[2].name
    qtbot.waitUntil(lambda: graph.measuring.table.row(name)[2] != NONE, timeout=PATIENCE)
    read = query.readings(run, 3, from_t=round(stretch[0] * S), to_t=round(stretch[1] * S))
    assert graph.measuring.table.row(name)[-1] == f"{len(read)}"
    press(page, Qt.Key.Key_K)
    assert graph._frame().base == "stage"
    press(page, Qt.Key.Key_3)
    assert graph.measuring.table.isHidden()
