"""Which parts a round goes over and in which order: found by words, kept with the round, gone on with weeks later."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.parts_rig import FakeRig
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.domain.unit import RoundKind
from benchlog.store import query_unit
from benchlog.window.keys import Action
from benchlog.window.look import Look
from benchlog.window.shelf import Shelf


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    yield made
    made.close()


def shown(rig: FakeRig) -> str:
    """The parts of the list, a heading in brackets."""
    lines = rig.page.list.lines
    found = [lines.line(lines.index(at)) for at in range(lines.rowCount())]
    return " ".join(one.row.designator if one.row is not None else f"[{one.heading}]" for one in found)


def find(rig: FakeRig, words: str, *, enter: bool = True) -> None:
    """Type words into the field that narrows the list."""
    rig.page.act(Action.FIND)
    rig.page.side.seek.clear()
    rig.qtbot.keyClicks(rig.page.side.seek, words)
    if enter:
        rig.qtbot.keyClick(rig.page.side.seek, Qt.Key.Key_Return)


def begin(rig: FakeRig, kind: RoundKind) -> None:
    """Press the button that begins a round, and wait until it is under way with everything to do."""
    rig.qtbot.mouseClick(rig.page._rounds[kind], Qt.MouseButton.LeftButton)
    rig.until(lambda: (one := rig.page.hand.book.round) is not None and one.kind is kind)
    rig.until(lambda: rig.page.hand.book.done == 0 and not rig.page.hand.walk.asks)


def read(rig: FakeRig, keys: str, count: int) -> None:
    rig.press(keys)
    rig.until(lambda: rig.page.hand.book.done == count)


def test_words_narrow_the_list_key_by_key_and_the_keys_go_over_what_is_left(rig: FakeRig) -> None:
    rig.bring()
    find(rig, "resistor left", enter=False)
    assert shown(rig) == "[Left] R101 R106 R107"
    assert rig.page.side.title.accessibleName() == "3 parts: resistor left"
    rig.qtbot.keyClick(rig.page.side.seek, Qt.Key.Key_Return)
    assert rig.here == "R101"
    rig.press("vvv")
    assert rig.here == "R107"
    rig.press("+")
    assert rig.here == "R101"
    rig.page.act(Action.FIND)
    rig.qtbot.keyClick(rig.page.side.seek, Qt.Key.Key_Escape)
    assert shown(rig) == "[Left] C104 D101 R101 R106 R107 [Right] C204 D201 R201 R206 R207"
    assert not rig.page.side.seek.isVisible()
    assert rig.here == "R101"


def test_parts_outside_their_limits_are_found_by_that(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R107")
    read(rig, "0+\n", 1)
    find(rig, "outside")
    assert shown(rig) == "[Left] R107"
    find(rig, "to do left -film")
    assert shown(rig) == "[Left] D101 R101 R106"
    find(rig, "zebra")
    assert shown(rig) == ""
    assert not rig.page._rounds[RoundKind.WORKING].isVisible()


def test_the_order_goes_from_numbers_to_the_list_to_pairs(rig: FakeRig) -> None:
    rig.bring()
    assert shown(rig).startswith("[Left] C104 D101 R101")
    rig.page.act(Action.ORDER)
    assert rig.page.side.order.text() == "as listed: Ctrl+P"
    assert shown(rig).startswith("[Left] R101 R106 R107 C104 D101 [Right] R201")
    rig.qtbot.mouseClick(rig.page.side.order, Qt.MouseButton.LeftButton)
    assert rig.page.side.order.text() == "in pairs: Ctrl+P"
    assert shown(rig) == "C104 C204 D101 D201 R101 R201 R106 R206 R107 R207"
    rig.go("R106")
    rig.press("v")
    assert rig.here == "R206"


def test_a_round_goes_over_what_was_found_and_goes_on_where_it_stopped_weeks_later(
    rig: FakeRig, qtbot: QtBot, look: Look
) -> None:
    rig.bring()
    rig.page.act(Action.ORDER)
    rig.page.act(Action.ORDER)
    find(rig, "resistor")
    assert rig.page._rounds[RoundKind.WORKING].toolTip() == "begin a round working over these 6"
    begin(rig, RoundKind.WORKING)
    assert rig.page.side.title.accessibleName() == "resistor, in pairs"
    assert rig.page.side.order.text() == "as begun: Ctrl+P"
    assert shown(rig) == "R101 R201 R106 R206 R107 R207"
    assert rig.here == "R101"
    read(rig, "46.9//4.7/", 2)
    rig.until(lambda: rig.here == "R206")
    assert rig.stands[-1][2] == "2 of 6"
    unit, visit = rig.work.shelf.unit, rig.work.shelf.visit
    rig.shelf.close()
    later = FakeRig(qtbot, look, rig.shelf.folder)
    later.work.shelf.choose(unit, visit)
    later.until(lambda: later.page.hand.book.rows)
    assert later.here == "R206"
    assert later.page.hand.sentence == "It goes on where it stopped: 2 of 6 are read."
    assert shown(later) == "R101 R201 R106 R206 R107 R207"
    read(later, "4.7/10/10/", 5)
    later.until(lambda: later.here == "R201")
    later.close()
    # What the first page closes at the end of the test.
    rig.shelf = Shelf(rig.shelf.folder)


def test_the_next_pass_goes_over_the_same_parts_until_all_are_asked_for(rig: FakeRig) -> None:
    rig.bring()
    find(rig, "film")
    begin(rig, RoundKind.AS_FOUND)
    assert shown(rig) == "[Left] C104 [Right] C204"
    begin(rig, RoundKind.AS_LEFT)
    assert shown(rig) == "[Left] C104 [Right] C204"
    find(rig, "all diode", enter=False)
    assert shown(rig) == "[Left] D101 [Right] D201"
    find(rig, "all")
    begin(rig, RoundKind.WORKING)
    assert rig.page.hand.book.round is not None
    assert rig.page.hand.book.round.title == ""
    assert len(rig.page.hand.book.order) == 10


def test_a_round_that_was_left_is_taken_up_again_from_the_list_of_rounds(rig: FakeRig) -> None:
    rig.bring()
    find(rig, "film")
    begin(rig, RoundKind.AS_FOUND)
    read(rig, "98n/", 1)
    find(rig, "all")
    begin(rig, RoundKind.WORKING)
    rig.page.act(Action.ROUNDS)
    rounds = rig.page.views.rounds
    rig.until(lambda: len(rounds.list.rows) == 2)
    assert [(one.head, one.right) for one in rounds.list.rows] == [
        ("working", "0 of 10"),
        ("as found: film", "1 of 2"),
    ]
    rig.press("v\n")
    rig.until(lambda: shown(rig) == "[Left] C104 [Right] C204")
    assert rig.here == "C204"
    assert not rounds.isVisible()
    visit = rig.work.shelf.visit
    assert visit is not None
    known = query_unit.rounds(rig.shelf.folder, visit.id)
    assert [one.ended is None for one in known] == [True, False]
    rig.page.act(Action.ROUNDS)
    rig.press("!")
    assert not rounds.isVisible()


def test_without_a_round_there_is_none_to_go_on_with(rig: FakeRig) -> None:
    rig.bring()
    rig.page.act(Action.ROUNDS)
    assert rig.page.hand.sentence == "No round has begun yet."
