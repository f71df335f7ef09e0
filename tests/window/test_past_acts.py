"""What is done with a past run, by key and by mouse: reference, stages, delete and undo, take away, its parts."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.kept import begin
from helpers.plans import short_plan
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QPushButton, QToolButton
from pytestqt.qtbot import QtBot

from benchlog.domain.kind import Kind
from benchlog.domain.plan import Plan
from benchlog.domain.reading import Function, Outcome
from benchlog.domain.unit import BoardEntry, PartEntry, PartReading, Unit, UnitFile, Visit
from benchlog.recorder.outlet import trace_rows
from benchlog.store import edit, query_unit
from benchlog.store.ids import new_id
from benchlog.store.records import EventRow, ReadingRow, RemarkRow
from benchlog.textfile import parse
from benchlog.window import words
from benchlog.window.frame import Frame
from benchlog.window.keys_page import KeysPage
from benchlog.window.parts_page import PartsPage
from benchlog.window.past_page import PastPage
from benchlog.window.work import Work

S = 1_000_000_000
PLAN = short_plan("amplifier", stages=2)
PATIENCE = 30_000
Made = tuple[Frame, PastPage, PartsPage]


def unit_of(work: Work, qtbot: QtBot) -> Unit:
    """A unit with one part, known to the library."""
    part = PartEntry(designator="R101", kind=Kind.RESISTOR, marking="4k7 5%")
    file = UnitFile(name="Hall amplifier", board=(BoardEntry(name="left", part=(part,)),))
    made: list[Unit] = []
    work.shelf.edit(lambda library: edit.create_unit(library, file), made.append)
    qtbot.waitUntil(lambda: bool(made), timeout=PATIENCE)
    return made[0]


def kept(work: Work, unit: str, day: int) -> Path:
    """A run of a minute in which two stages went through."""
    writer = begin(
        work.shelf.folder / "sessions",
        started=f"2026-11-{day:02}T10:00:00.000Z",
        plan=PLAN,
        plan_name="behind a lamp",
        unit=unit,
    )
    writer.declare(trace_rows(parse(PLAN, "plan", Plan)))
    stages = [(2, "moving", 0), (5, "dwelling", 0), (25, "moving", 1), (28, "dwelling", 1)]
    writer.append(
        readings=[ReadingRow(n, s + 1, s * S, 10.0 * n + s, "ok") for s in range(50) for n in (1, 2, 3)],
        events=[
            *(
                EventRow(t * S, "stage", f"{i}: {state}", {"state": state, "index": i})
                for t, state, i in stages
            ),
            EventRow(50 * S, "off", "all stages done", {"why": "off"}),
            EventRow(55 * S, "closed", "all stages done", {"off": "verified off"}),
        ],
        remarks=[RemarkRow(f"note {day}", 12 * S, "it hums")],
    )
    writer.close("completed", "all stages done", 55 * S)
    return writer.path


@pytest.fixture
def made(work: Work, qtbot: QtBot) -> Iterator[Made]:
    """The pages in their frame, on a library with two runs of a unit."""
    unit = unit_of(work, qtbot)
    runs = [kept(work, unit.id, day) for day in (1, 2)]
    past, parts = PastPage(work), PartsPage(work)
    frame = Frame(work, [past, parts, KeysPage(work)])
    qtbot.addWidget(frame)
    frame.resize(1440, 900)
    frame.show()
    is_open(past, runs[1].name, qtbot)
    yield frame, past, parts
    frame.close()


def listed(page: PastPage) -> list[str]:
    return [row.file.name for row in page.list.model.rows]


def is_open(page: PastPage, name: str, qtbot: QtBot) -> None:
    qtbot.waitUntil(
        lambda: page.detail.run is not None and page.detail.run.file.name == name, timeout=PATIENCE
    )


def undo(page: PastPage, qtbot: QtBot) -> None:
    qtbot.keyClick(page.list.view, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)


def test_words_in_the_field_sift_the_list_and_say_what_they_were_understood_as(
    work: Work, qtbot: QtBot, made: Made
) -> None:
    _, page, _ = made
    new, old = listed(page)
    runs, field = page.list, page.list.field
    assert not runs.says.isVisible()
    qtbot.keyClick(runs.view, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    assert field.hasFocus()
    qtbot.keyClicks(field, "lam hall 2026-11-01")
    assert listed(page) == [old]
    assert runs.says.text() == (
        "1 run of 2: lam: plan (2) \u00b7 hall: unit (2) \u00b7 2026-11-01: begun on 1 November 2026 (1)"
    )
    qtbot.keyClick(field, Qt.Key.Key_Return)
    is_open(page, old, qtbot)
    field.setText("hums november")
    assert listed(page) == [new, old]
    field.setText("no such thing")
    assert runs.says.text().endswith("no run knows \u201csuch\u201d \u00b7 no run knows \u201cthing\u201d")
    qtbot.mouseClick(field.findChildren(QToolButton)[0], Qt.MouseButton.LeftButton)
    assert listed(page) == [new, old]
    assert page.detail.run is not None


def test_the_keys_of_the_page_arrive_through_the_frame(work: Work, qtbot: QtBot, made: Made) -> None:
    _, page, _ = made
    graph = page.detail.graph
    qtbot.waitUntil(lambda: graph.shown[1] > 30.0, timeout=PATIENCE)
    before = graph.shown
    qtbot.keyClick(page.list.view, Qt.Key.Key_Plus)
    assert graph.shown[1] - graph.shown[0] < before[1] - before[0]
    qtbot.keyClick(page.list.view, Qt.Key.Key_N)
    qtbot.waitUntil(page.detail.field.isVisible)
    qtbot.keyClicks(page.detail.field, "n+5art")
    assert page.detail.field.text() == "n+5art"


def test_a_run_is_made_the_reference_and_undo_takes_it_back(work: Work, qtbot: QtBot, made: Made) -> None:
    _, page, _ = made
    detail = page.detail
    with qtbot.waitSignal(work.reference_changed, timeout=PATIENCE):
        qtbot.keyClick(page.list.view, Qt.Key.Key_R)
    qtbot.waitUntil(lambda: page.list.model.rows[0].chosen, timeout=PATIENCE)
    assert detail.ending.text().startswith("reference \u00b7 went through")
    button = next(
        one for one in page.findChildren(QPushButton) if one.text().startswith("no reference any more")
    )
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not page.list.model.rows[0].chosen, timeout=PATIENCE)
    undo(page, qtbot)
    qtbot.waitUntil(lambda: page.list.model.rows[0].chosen, timeout=PATIENCE)
    page.list.field.setText("reference")
    assert len(page.list.model.rows) == 1


def test_a_deleted_run_comes_back_by_undo_or_from_the_line_below_the_list(
    work: Work, qtbot: QtBot, made: Made
) -> None:
    frame, page, _ = made
    new, old = listed(page)
    qtbot.keyClick(page.list.view, Qt.Key.Key_Delete)
    qtbot.waitUntil(lambda: listed(page) == [old], timeout=PATIENCE)
    is_open(page, old, qtbot)
    assert page.list.bin.says.text().startswith("One run is deleted: behind a lamp")
    undo(page, qtbot)
    qtbot.waitUntil(lambda: listed(page) == [new, old], timeout=PATIENCE)
    # That it is deleted is true no longer, and is not said any more.
    (said,) = frame.notices.standing()
    assert said.text.startswith("Taken back: the run of 2 Nov, ")
    assert not page.list.bin.isVisible()
    page.show_run(page.list.model.rows[0].file)
    is_open(page, new, qtbot)
    button = next(one for one in page.findChildren(QPushButton) if one.text().startswith("delete"))
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(page.list.bin.isVisible, timeout=PATIENCE)
    qtbot.mouseClick(page.list.bin.back, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: listed(page) == [new, old], timeout=PATIENCE)


def test_the_reference_is_asked_for_twice_and_the_bin_as_well(work: Work, qtbot: QtBot, made: Made) -> None:
    _, page, _ = made
    new, old = listed(page)
    qtbot.keyClick(page.list.view, Qt.Key.Key_R)
    qtbot.waitUntil(lambda: page.list.model.rows[0].chosen, timeout=PATIENCE)
    qtbot.keyClick(page.list.view, Qt.Key.Key_Delete)
    qtbot.waitUntil(page.detail.acts.question.isVisible, timeout=PATIENCE)
    assert "Del again deletes it all the same" in page.detail.acts.question.text()
    assert listed(page) == [new, old]
    qtbot.keyClick(page.list.view, Qt.Key.Key_Delete)
    qtbot.waitUntil(lambda: listed(page) == [old], timeout=PATIENCE)
    line = page.list.bin
    qtbot.mouseClick(line.empty, Qt.MouseButton.LeftButton)
    assert line.empty.text() == "really remove it for good"
    qtbot.mouseClick(line.empty, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not line.isVisible(), timeout=PATIENCE)
    assert not list((work.shelf.folder / "bin").iterdir())


def test_the_table_of_stages_takes_the_place_of_the_graph(work: Work, qtbot: QtBot, made: Made) -> None:
    _, page, _ = made
    stages = page.detail.stages
    qtbot.keyClick(page.list.view, Qt.Key.Key_T)
    qtbot.waitUntil(lambda: stages.rowCount() > 0, timeout=PATIENCE)
    assert stages.isVisible()
    assert not page.detail.graph.isVisible()
    rows = [stages.row_texts(row) for row in range(stages.rowCount())]
    rail = next(row for row in rows if row[:2] == ["0", "+B"])
    assert rail[2:6] == ["55.00 V", "33.00 V", "55.00 V", "\N{EN DASH}"]
    qtbot.keyClick(page.list.view, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    head, first, *_ = QGuiApplication.clipboard().text().splitlines()
    assert head.split("\t")[:3] == ["stage", "trace", "final"]
    assert first.split("\t") == stages.row_texts(0)
    shown = page.detail.stages_shown
    stages.show_two(shown, shown[:1])
    assert stages.row_texts(0)[4] == "+0.00 V"
    assert stages.row_texts(1)[3] == "\N{EN DASH}"
    qtbot.keyClick(page.list.view, Qt.Key.Key_T)
    assert page.detail.graph.isVisible()


def test_csv_and_pictures_go_to_a_folder(work: Work, qtbot: QtBot, made: Made, tmp_path: Path) -> None:
    _, page, _ = made
    run = listed(page)[0].removesuffix(".db")
    take, folder = page.detail.acts.take_away, tmp_path / "away"
    qtbot.keyClick(page.list.view, Qt.Key.Key_A)
    assert take.isVisible()
    take.folder.setText(str(folder))

    def written(button: QPushButton, says: str) -> None:
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
        qtbot.waitUntil(lambda: take.says.text() == says, timeout=PATIENCE)

    for button, kind in ((take.csv, "csv"), (take.png, "png"), (take.svg, "svg")):
        written(button, f"Written: {folder / run}.{kind}")
    assert "note: it hums" in (folder / f"{run}.csv").read_text("utf-8")
    drawing = (folder / f"{run}.svg").read_text("utf-8")
    assert "behind a lamp" in drawing
    assert drawing.count("<text") > 10, "words stay words"
    assert "<image" not in drawing
    written(take.by_stage, f"Written: {folder / run} by stage.csv")
    table = (folder / f"{run} by stage.csv").read_text("utf-8-sig").splitlines()
    assert table[0].startswith('"stage","trace","unit","final"')
    assert '"0","\'+B","V",55.0,33.0,55.0,,"follows the mains","no limit broke"' in table
    written(take.every, f"Written: 2 files in {folder}")
    assert len(list(folder.glob("*.csv"))) == 4
    take.folder.setText(str(folder / f"{run}.csv"))
    qtbot.mouseClick(take.csv, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "cannot be" in take.says.text(), timeout=PATIENCE)
    page.list.view.setFocus()
    qtbot.keyClick(page.list.view, Qt.Key.Key_A)
    assert not take.isVisible()


def test_a_part_leads_to_its_runs_and_a_run_to_its_parts(work: Work, qtbot: QtBot, made: Made) -> None:
    frame, page, parts = made
    (unit,) = query_unit.units(work.shelf.folder)
    (line,) = query_unit.parts(work.shelf.folder, unit.id)
    run = page.detail.run
    assert run is not None
    reading = PartReading(
        id=new_id(),
        designator="R101",
        function=Function.OHMS,
        outcome=Outcome.OK,
        value=4680.0,
        unit="ohm",
        raw="4.68k",
        taken="2026-11-02T10:00:30.000Z",
        fitted=line.fitted.id,
        session=run.state.head.id,
    )
    work.shelf.edit(lambda library: edit.keep_reading(library, reading))
    visits: list[Visit] = []
    work.shelf.edit(lambda library: edit.open_visit(library, unit.id), visits.append)
    qtbot.waitUntil(lambda: bool(visits), timeout=PATIENCE)
    page.show_run(run.file)
    qtbot.waitUntil(
        lambda: [part.designator for part in page.detail.acts.parts] == ["R101"], timeout=PATIENCE
    )
    button = next(one for one in page.findChildren(QPushButton) if one.text() == "R101")
    with qtbot.waitSignal(work.said, timeout=PATIENCE) as said:
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert said.args[0] == "R101 is a part of another unit: take that one in hand first."
    work.shelf.choose(unit, visits[0])
    qtbot.waitUntil(lambda: bool(parts.hand.book.rows), timeout=PATIENCE)
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert frame.page is parts
    assert parts.hand.row is not None
    assert parts.hand.row.designator == "R101"
    qtbot.keyClick(parts, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    assert frame.page is page
    assert page.list.field.text() == "R101 taken Hall amplifier"
    qtbot.waitUntil(lambda: listed(page) == [run.file.name], timeout=PATIENCE)
    frame.go_to(words.PARTS)
    page.list.field.clear()
    qtbot.mouseClick(parts.current.runs, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: listed(page) == [run.file.name], timeout=PATIENCE)


def test_a_run_stands_on_one_page_in_the_graphs_place_and_is_copied_whole(
    work: Work, qtbot: QtBot, made: Made
) -> None:
    _, page, _ = made
    detail = page.detail
    qtbot.keyClick(page.list.view, Qt.Key.Key_P)
    qtbot.waitUntil(lambda: "WHAT TO LOOK AT NEXT" in detail.page.toPlainText(), timeout=PATIENCE)
    assert detail.page.isVisible()
    assert not detail.graph.isVisible()
    assert detail.page.toPlainText().startswith("Hall amplifier")
    assert "it hums" in detail.page.toPlainText()
    qtbot.keyClick(page.list.view, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    assert QGuiApplication.clipboard().text() == detail.page.toPlainText()
    qtbot.keyClick(page.list.view, Qt.Key.Key_T)
    assert (detail.page.isVisible(), detail.stages.isVisible()) == (False, True)
    qtbot.keyClick(page.list.view, Qt.Key.Key_T)
    assert detail.graph.isVisible()
