"""What a part should read from elsewhere: proposed with its origin, taken by one key, judged by it from then on."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.parts_rig import TWO_SIDES, FakeRig
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.domain.expectation import Origin
from benchlog.domain.unit import Visit
from benchlog.store import edit, history, query_unit
from benchlog.store.library import Library
from benchlog.window.look import Look
from benchlog.window.parts_elsewhere import ElsewherePanel
from benchlog.window.rulers import Measure


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    made.bring()
    yield made
    made.close()


def shown(rig: FakeRig, count: int) -> tuple[Measure, ...]:
    """The measures once so many are shown."""
    panel = rig.page.panels.elsewhere
    rig.until(lambda: len(panel.rulers.rows) == count)
    return panel.rulers.rows


def opened(rig: FakeRig) -> ElsewherePanel:
    """The view, opened by its key."""
    rig.chord("Ctrl+S")
    return rig.page.panels.elsewhere


def test_sheet_marking_and_other_side_are_proposed_with_how_far_apart_they_lie(rig: FakeRig) -> None:
    rig.read("R206", "2.2k")
    rig.go("R106")
    panel = opened(rig)
    rows = shown(rig, 3)
    assert [(row.key, row.expectation.shown, row.whose, row.beside) for row in rows] == [
        ("1", "4.7 kΩ ±5 %", "the sheet", "it is judged by this"),
        ("2", "4.7 kΩ ±5 %", "its marking, 4k7 5%", "agrees"),
        ("3", "2.2 kΩ ±5 %", "R206 reads 2.2 kΩ", "53 % less"),
    ]
    assert panel.says.text() == "The sheet holds; one other disagrees."
    assert "from R206 reads 2.2 kΩ, 53 % less" in panel.rulers.accessibleName()


def judged_by(rig: FakeRig) -> tuple[str, str, str]:
    """What the part at hand is held against, and what its reading was judged by, with the result."""
    row = rig.page.hand.row
    assert row is not None
    judged = row.kept.judgement if row.kept is not None else None
    return row.should_read, judged.expected if judged is not None else "", row.result


def test_one_key_takes_one_and_what_was_read_is_judged_anew_while_older_results_stay(rig: FakeRig) -> None:
    rig.read("R106", "5.2k")
    assert judged_by(rig) == ("4k7 5%", "4k7 5%", "lift a leg")
    rig.read("R206", "5.6k")
    rig.go("R106")
    opened(rig)
    shown(rig, 3)
    rig.press("3")
    rig.until(lambda: judged_by(rig)[1] == "5.6 kΩ ±5 %")
    row = rig.page.hand.row
    assert row is not None
    assert row.kept is not None
    assert row.origin is Origin.MIRROR
    id_ = row.kept.reading.id
    judged: list[int] = []
    rig.work.shelf.edit(
        lambda library: library.connection.execute(
            "SELECT count(*) FROM judgement WHERE reading = ?", (id_,)
        ).fetchone()[0],
        judged.append,
    )
    rig.until(lambda: judged)
    assert judged[0] >= 2
    rig.until(lambda: rig.page.panels.elsewhere.rulers.rows[0].whose == "the other side")
    rig.press("-")
    rig.until(lambda: judged_by(rig)[:2] == ("4k7 5%", "4k7 5%"))


def test_a_misprint_is_marked_with_who_says_so_and_judges_nothing_any_more(rig: FakeRig) -> None:
    rig.read("R106", "2.21k")
    panel = opened(rig)
    shown(rig, 2)
    rig.press("*")
    rig.qtbot.keyClicks(panel.ask.field, "the maker's errata")
    rig.qtbot.keyClick(panel.ask.field, Qt.Key.Key_Return)
    rig.until(lambda: any(row.beside == "misprint, so says the maker's errata" for row in panel.rulers.rows))
    row = rig.page.hand.row
    assert row is not None
    assert row.should_read == ""
    assert panel.says.text().startswith("The sheet is wrong here, so says the maker's errata.")
    at = next(row.key for row in panel.rulers.rows if row.whose == "the sheet")
    rig.press(at)
    assert "take that back first" in panel.says.text()
    rig.press("*")
    rig.until(lambda: rig.page.hand.row is not None and rig.page.hand.row.should_read == "4k7 5%")


def test_who_says_so_must_be_said(rig: FakeRig) -> None:
    rig.go("R106")
    panel = opened(rig)
    shown(rig, 2)
    rig.press("*")
    rig.qtbot.keyClick(panel.ask.field, Qt.Key.Key_Return)
    assert panel.says.text() == "Write who says so."
    assert rig.page.hand.row is not None
    assert rig.page.hand.row.should_read == "4k7 5%"


def test_what_holds_is_not_taken_again_nor_what_is_not_there(rig: FakeRig) -> None:
    rig.go("R106")
    panel = opened(rig)
    shown(rig, 2)
    rig.press("1")
    assert panel.says.text() == "It is judged by 4.7 kΩ ±5 % already."
    rig.press("9")
    assert panel.says.text() == "There is none with that number."


def test_the_visit_before_and_other_units_of_the_model_are_proposed(rig: FakeRig) -> None:
    rig.read("R106", "4.72")
    row = rig.page.hand.row
    assert row is not None
    part = row.line.part.id
    unit, visit = rig.work.shelf.unit, rig.work.shelf.visit
    assert unit is not None
    assert visit is not None
    folder = rig.shelf.folder

    def again(library: Library) -> Visit:
        twin = edit.create_unit(library, TWO_SIDES)
        for one in (unit, twin):
            library.connection.execute("UPDATE unit SET model = 'NV-80' WHERE id = ?", (one.id,))
        library.connection.execute("UPDATE unit SET name = 'The twin' WHERE id = ?", (twin.id,))
        stay = edit.open_visit(library, twin.id)
        kept = history.part_history(folder, unit.id, part).readings[0].reading
        line = next(one for one in query_unit.parts(folder, twin.id) if one.part.designator == "R106")
        reading = replace(
            kept, id="of the twin", fitted=line.fitted.id, visit=stay.id, round="", value=4650.0
        )
        edit.keep_reading(library, reading)
        edit.close_visit(library, visit.id)
        return edit.open_visit(library, unit.id)

    def back(now: Visit) -> None:
        rig.work.shelf.choose(next(one for one in query_unit.units(folder) if one.id == unit.id), now)

    rig.work.shelf.edit(again, back)
    rig.until(lambda: rig.page.hand.book.visit is not None and rig.page.hand.book.visit.id != visit.id)
    rig.go("R106")
    opened(rig)
    rows = shown(rig, 4)
    assert [(one.whose, one.expectation.origin.value) for one in rows[2:]] == [
        ("visit 0001", "earlier visit"),
        ("The twin, visit 0002", "earlier unit"),
    ]
