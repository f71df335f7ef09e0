"""As found, as left and the other side in one view, by keys, sorted by what matters; and as left then beside now."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.parts_rig import FakeRig
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.domain.unit import RoundKind, Visit
from benchlog.store import edit
from benchlog.store.library import Library
from benchlog.window.look import Look
from benchlog.window.parts_compare import ComparePanel
from benchlog.window.parts_compare_list import spoken
from benchlog.window.parts_compared import Line


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    made.bring()
    yield made
    made.close()


def begin(rig: FakeRig, kind: RoundKind) -> None:
    """Begin another round."""
    rig.page.listing.begin_round(kind)
    rig.until(lambda: rig.page.hand.book.round is not None and rig.page.hand.book.round.kind is kind)
    rig.until(lambda: rig.reads("R101") == "to do")


def opened(rig: FakeRig) -> ComparePanel:
    """The view, opened by its key and filled."""
    rig.chord("Ctrl+B")
    panel = rig.page.panels.compare
    rig.until(lambda: panel.list.lines.lines)
    return panel


def lines(panel: ComparePanel) -> dict[str, Line]:
    """Its lines by their designators."""
    return {line.designator: line for line in panel.list.lines.lines}


def in_two_rounds(rig: FakeRig) -> ComparePanel:
    """R106 was bad and was replaced, R107 is as it was, R101 differs from its other side, C104 was not read again."""
    for designator, typed in (
        ("R106", "6.2k"),
        ("R107", "10.1"),
        ("R101", "46.9"),
        ("R201", "46.5"),
        ("C104", "98n"),
    ):
        rig.read(designator, typed)
    visit = rig.work.shelf.visit
    row = rig.page.hand.book.rows[rig.page.hand.book.named("R106") or 0]
    assert visit is not None
    begin(rig, RoundKind.AS_LEFT)
    rig.go("R106")
    rig.chord("Ctrl+F")
    form = rig.page.panels.fit
    rig.qtbot.keyClicks(form.marking, "4k7 1%")
    rig.qtbot.keyClick(form.marking, Qt.Key.Key_Return)
    rig.qtbot.keyClick(form.reason, Qt.Key.Key_Return)
    rig.until(
        lambda: rig.page.hand.row is not None and rig.page.hand.row.line.fitted.id != row.line.fitted.id
    )
    rig.press("!")
    for designator, typed in (("R106", "4.7"), ("R107", "10.1"), ("R101", "46.9"), ("R201", "39k")):
        rig.read(designator, typed)
    return opened(rig)


def test_what_matters_comes_first_and_is_said_in_words(rig: FakeRig) -> None:
    panel = in_two_rounds(rig)
    rig.until(lambda: lines(panel)["R201"].later is not None)
    found = lines(panel)
    assert found["R106"].says == ("replaced",)
    assert found["R107"].says == ()
    assert found["R101"].says == ("20 % above R201",)
    assert found["R201"].says[0] == "17 % below R101"
    assert found["C104"].says == ("not read as left",)
    assert found["R206"].says == ("never read",)
    order = [line.designator for line in panel.list.lines.lines]
    assert order[:3] == ["R101", "R201", "C104"] or order[:3] == ["R201", "R101", "C104"]
    assert order[-1] == "R107"
    assert panel.says.text().startswith("10 parts: ")
    assert "2 not as the other side" in panel.says.text()


def test_a_line_says_shape_number_and_word_of_each_to_those_who_cannot_see_it(rig: FakeRig) -> None:
    panel = in_two_rounds(rig)
    rig.until(lambda: lines(panel)["R201"].later is not None)
    said = spoken(lines(panel)["R101"], panel.comparison)
    assert said.startswith("R101; as found 46.9 kΩ, within; as left 46.9 kΩ, within; R201 39 kΩ, ")
    assert said.endswith(": 20 % above R201")


def test_keys_turn_the_order_and_lead_to_a_part(rig: FakeRig) -> None:
    rig.read("R107", "10.1")
    panel = opened(rig)
    assert panel.isVisible()
    assert not rig.page.list.isVisible(), "it takes the list's room as well"
    rig.press("+")
    assert [line.at for line in panel.list.lines.lines] == list(range(10))
    chosen = panel.list.chosen
    assert chosen is not None
    rig.press("v")
    following = panel.list.chosen
    assert following is not None
    assert following.at == chosen.at + 1
    rig.press("\n")
    assert rig.page.panels.open is None
    assert rig.here == following.designator
    assert rig.page.list.isVisible()


def test_on_return_as_left_then_lies_beside_as_found_now(rig: FakeRig) -> None:
    """Rule 37."""
    begin(rig, RoundKind.AS_LEFT)
    rig.read("R106", "4.7")
    unit, visit = rig.work.shelf.unit, rig.work.shelf.visit
    assert unit is not None
    assert visit is not None

    def again(library: Library) -> Visit:
        edit.close_visit(library, visit.id)
        return edit.open_visit(library, unit.id)

    rig.work.shelf.edit(again, lambda now: rig.work.shelf.choose(unit, now))
    rig.until(lambda: rig.page.hand.book.visit is not None and rig.page.hand.book.visit.id != visit.id)
    rig.until(lambda: rig.reads("R106") == "to do")
    rig.read("R106", "5.6k")
    panel = opened(rig)
    rig.until(lambda: panel.comparison.visits)
    rig.press("/")
    rig.until(lambda: panel.comparison.earlier == "as left, visit 0001")
    line = lines(panel)["R106"]
    assert line.earlier is not None
    assert line.later is not None
    assert (line.earlier.reading.value, line.later.reading.value) == (4700.0, 5600.0)
    assert line.says[-1] == "19 % more than before"
    rig.press("/")
    rig.until(lambda: panel.comparison.earlier == "as found")
