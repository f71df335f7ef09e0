"""The Parts page: typed readings, held slips, undo, lifted legs, rounds, and a list that grows while measuring."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.parts_rig import TWO_SIDES, FakeRig, unit_file
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QFontMetricsF, QKeyEvent
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from benchlog.domain.kind import Kind
from benchlog.domain.unit import BoardEntry, PartEntry, RoundKind, UnitFile
from benchlog.store import query_unit
from benchlog.window import words
from benchlog.window.keys import Action
from benchlog.window.look import Look
from benchlog.window.parts_list import CAP, FITS, columns
from benchlog.window.parts_numeral import Mood


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    yield made
    made.close()


def store(rig: FakeRig, keys: str, count: int) -> None:
    """Type readings and wait until so many count."""
    rig.press(keys)
    rows = rig.page.hand.book.rows
    rig.until(lambda: sum(not one.withdrawn for row in rows for one in row.readings) == count)


# --- typed readings ------------------------------------------------------------------------------


def test_a_typed_reading_is_stored_judged_and_told(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R106")
    rig.press("4.65")
    assert rig.page.current.numeral.face.mood is Mood.TYPED
    assert rig.page.current.numeral.face.below == "→ 4.65 kΩ"
    store(rig, "\n", 1)
    (kept,) = rig.stored()
    assert (kept.reading.designator, kept.reading.value, kept.reading.raw) == ("R106", 4650.0, "4.65")
    assert kept.reading.typed
    assert kept.reading.conditions.circuit == "in circuit"
    assert rig.reads("R106") == "within"
    assert rig.page.current.numeral.face.number == "4.65"
    assert rig.ear.heard == [("result", "within", "4.65 kΩ", "4.65 taken as 4.65 kΩ", "R107")]
    assert rig.stands[-1] == (words.PARTS, "undecided", "1 of 10")


def test_the_first_reading_of_a_visit_begins_a_round_as_found(rig: FakeRig) -> None:
    rig.bring()
    assert rig.work.shelf.round is None
    store(rig, "98n\n", 1)
    assert rig.rounds() == [RoundKind.AS_FOUND]
    pass_ = rig.work.shelf.round
    assert pass_ is not None
    assert pass_.kind is RoundKind.AS_FOUND


def test_several_readings_are_typed_one_behind_the_other(rig: FakeRig) -> None:
    rig.bring()
    assert rig.here == "C104"
    store(rig, "98n/.61/46.9/4.7/10.1/", 5)
    assert rig.rounds() == [RoundKind.AS_FOUND]
    rig.until(lambda: rig.here == "C204")
    assert [one.reading.designator for one in rig.stored()] == ["C104", "D101", "R101", "R106", "R107"]
    assert rig.page.hand.book.counted() == "10 parts: 5 within, 5 to do"


def test_what_can_be_meant_in_two_ways_is_asked_and_not_stored(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R106")
    rig.press("465\n")
    assert "write 465 Ω or 465 kΩ" in rig.page.hand.sentence
    assert rig.page.entry.active
    assert rig.ear.heard == [("refused",)]
    rig.press("\b\b\b")
    assert not rig.page.entry.active
    assert rig.stored() == []


def test_keys_act_otherwise_while_something_is_typed(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R106")
    rig.press("4700-*")
    assert rig.page.entry.text == "-4700k"
    rig.press("+")
    assert rig.page.entry.text == "-OL"
    caps = rig.page.current.caps.caps
    assert caps[Action.GO].accessibleName() == "store (Enter)"
    rig.press("!")
    assert not rig.page.entry.active
    assert caps[Action.GO].accessibleName() == "take (Enter)"


def test_over_range_is_stored_by_its_own_key_without_a_second_look(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R107")
    store(rig, "0+\n", 1)
    assert rig.reads("R107") == "open"
    (kept,) = rig.stored()
    assert kept.reading.value is None
    assert rig.page.current.numeral.face.number == "OL"


def test_two_points_and_the_last_digits_go_to_a_part_of_the_board_at_hand(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R201")
    rig.press("..07")
    assert rig.page.current.numeral.face.below == "to R207"
    rig.press("\n")
    assert rig.here == "R207"
    rig.press("..07\n")
    assert rig.here == "R107", "again: the next that ends so"
    rig.press("..106\n")
    assert rig.here == "R106"
    rig.press("..9\n")
    assert rig.ear.heard == [("refused",)]
    assert rig.page.current.numeral.face.below == "no part ends so"
    rig.press("!..")
    assert rig.page.current.numeral.face.below == "the last digits of a part"
    rig.press("\n")
    assert rig.here == "R106"


def test_the_other_side_comes_first_in_circuit_and_is_judged_again(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R101")
    store(rig, "31.2\n", 1)
    assert rig.reads("R101") == "lift a leg"
    rig.go("R201")
    store(rig, "31.4\n", 2)
    assert rig.reads("R201") == "as other side"
    assert rig.reads("R101") == "as other side"
    rig.press("-")
    rig.until(lambda: rig.reads("R201") == "to do")
    assert rig.reads("R101") == "lift a leg"


# --- slips ---------------------------------------------------------------------------------------


def test_a_reading_far_off_is_held_until_enter_keeps_it(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R106")
    rig.press("1.2k\n")
    assert rig.page.hand.held is not None
    assert rig.page.current.numeral.face.mood is Mood.LOOK
    assert rig.ear.heard == [("look",)]
    assert rig.stored() == []
    rig.press("+")
    assert rig.here == "R106"
    assert rig.page.hand.sentence == "R106 waits with 1.2 kΩ: Enter keeps it, - drops it."
    store(rig, "\n", 1)
    assert rig.page.hand.held is None
    assert rig.reads("R106") == "lift a leg"


def test_a_key_that_is_held_down_keeps_nothing_by_itself(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R106")
    rig.press("1.2k\n")
    again = QKeyEvent(
        QEvent.Type.KeyPress, Qt.Key.Key_Enter, Qt.KeyboardModifier.NoModifier, "\r", autorep=True
    )
    assert rig.page.typed(again)
    assert rig.page.hand.held is not None
    down = QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_Down, Qt.KeyboardModifier.NoModifier, "", autorep=True)
    assert not rig.page.typed(down)


def test_a_held_reading_is_dropped_by_undo_and_by_typing_another(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R106")
    rig.press("1.2k\n-")
    assert rig.page.hand.held is None
    rig.press("1.3k\n")
    assert rig.page.hand.held is not None
    store(rig, "4.7\n", 1)
    assert [one.reading.value for one in rig.stored()] == [4700.0]


def test_what_the_other_side_reads_as_well_explains_itself(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R101")
    rig.press("9.9k\n")
    store(rig, "\n", 1)
    rig.go("R201")
    store(rig, "10k\n", 2)
    assert rig.page.hand.held is None


# --- undo, lifted, skip, rounds ------------------------------------------------------------------


def test_undo_goes_back_one_reading_after_the_other_and_takes_the_part_in_hand(rig: FakeRig) -> None:
    rig.bring()
    store(rig, "98n/.61/", 2)
    rig.until(lambda: rig.here == "R101")
    rig.press("-")
    rig.until(lambda: rig.reads("D101") == "to do")
    assert rig.here == "D101"
    rig.press("\b")
    rig.until(lambda: rig.reads("C104") == "to do")
    assert rig.here == "C104"
    assert all(one.withdrawn for one in rig.stored())
    rig.press("-")
    assert rig.ear.heard[-1] == ("refused",)


def test_an_undo_that_comes_before_the_library_has_answered_takes_back_the_right_readings(
    rig: FakeRig,
) -> None:
    rig.bring()
    rig.press("98n/.61/46.9/--")
    rig.until(lambda: [one.withdrawn for one in rig.stored()] == [False, True, True])
    rig.until(lambda: rig.here == "D101")


def test_a_lifted_leg_goes_on_the_open_list_and_changes_what_a_reading_proves(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R101")
    rig.press("*")
    rig.until(lambda: rig.page.hand.book.lifted)
    visit = rig.work.shelf.visit
    assert visit is not None
    (item,) = query_unit.open_list(rig.shelf.folder, visit.id)
    assert (item.kind, item.text, item.closed) == ("lifted leg", "R101: one leg lifted", None)
    store(rig, "31.2\n", 1)
    assert rig.stored()[0].reading.conditions.circuit == "lifted"
    assert rig.reads("R101") == "low"
    rig.press("*")
    rig.until(lambda: not rig.page.hand.book.lifted)
    assert query_unit.open_list(rig.shelf.folder, visit.id)[0].closed is not None


def test_a_part_that_is_off_the_board_anyhow_is_not_lifted(rig: FakeRig) -> None:
    part = PartEntry(designator="C1", kind=Kind.FILM, should_read="100n 10%", in_circuit=False)
    rig.bring(UnitFile(name="Loose", board=(BoardEntry(name="Box", part=(part,)),)))
    assert "out of circuit" in rig.page.current._under()
    assert not rig.page.current.caps.caps[Action.LIFTED].isEnabled()
    rig.press("*")
    assert rig.page.hand.sentence == "C1 is measured out of circuit as it is."
    assert not rig.page.hand.book.lifted


def test_after_undo_what_was_read_before_is_said_to_stand(rig: FakeRig) -> None:
    rig.bring()
    rig.go("R106")
    store(rig, "4.7\n", 1)
    store(rig, "4.69\n", 2)
    rig.press("-")
    rig.until(lambda: "taken back" in rig.page.hand.sentence)
    assert rig.page.hand.sentence == "R106: 4.69 kΩ taken back. 4.7 kΩ, read before it, stands again."


@pytest.mark.parametrize("width", [200.0, 300.0, 376.0, 437.0])
def test_the_long_ones_of_each_column_fit_in_one_size(rig: FakeRig, width: float) -> None:
    for column in columns(width):
        font = rig.page.list._drawer._fitting(column, bold=True)
        room = column.width - (CAP + 4 if column.right else 0)
        assert QFontMetricsF(font).horizontalAdvance(FITS[column.name][0]) <= room


def test_next_goes_to_what_is_to_do_and_comes_to_what_was_skipped_last(rig: FakeRig) -> None:
    rig.bring(unit_file((("Left", ("R1 1k 5%", "R2 1k 5%", "R3 1k 5%")),)))
    rig.press("/")
    assert rig.here == "R2"
    store(rig, "1\n", 1)
    rig.press("+")
    assert rig.here == "R3"
    store(rig, "1\n", 2)
    rig.press("+")
    assert rig.here == "R1"
    rig.press("+")
    assert rig.page.hand.sentence == "No other part is to do."
    store(rig, "1\n", 3)
    rig.press("+")
    assert rig.page.hand.sentence == "Every part of this round is read."
    assert rig.stands[-1] == (words.PARTS, "good", "3 of 3")
    rig.press("^")
    assert rig.here == "R1"
    rig.press("vv")
    assert rig.here == "R3"


def test_another_round_begins_with_everything_to_do_and_the_old_one_ends(rig: FakeRig) -> None:
    rig.bring()
    store(rig, "98n\n", 1)
    rig.qtbot.mouseClick(rig.page._rounds[RoundKind.WORKING], Qt.MouseButton.LeftButton)
    rig.until(
        lambda: rig.page.hand.book.round is not None and rig.page.hand.book.round.kind is RoundKind.WORKING
    )
    rig.until(lambda: rig.page.hand.book.done == 0)
    visit = rig.work.shelf.visit
    assert visit is not None
    first, second = query_unit.rounds(rig.shelf.folder, visit.id)
    assert first.ended is not None
    assert second.ended is None
    store(rig, "97n\n", 1)
    rig.until(lambda: "97 nF, working, in circuit, typed, within" in rig.page.beside.history.accessibleName())
    history = rig.page.beside.history
    assert "98 nF, as found" in history.accessibleName()
    # Two readings, of which the longer has two lines below it in a narrow column.
    high = history.sizeHint().height()
    history.resize(120, high)
    assert history.sizeHint().height() > high


# --- looks ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("width", "height"), [(1240, 750), (612, 577)])
def test_everything_has_room_and_nothing_is_cut_off(rig: FakeRig, width: int, height: int) -> None:
    rig.bring(TWO_SIDES)
    store(rig, "98n/.61/46.9/4.3/", 4)
    rig.press("1.2k\n")
    assert rig.page.hand.held is not None
    rig.resize(width, height)

    def fits() -> bool:
        """Whether every piece of the part at hand has the room it needs, and the columns are those for this width."""
        shown = [one for one in rig.page.current.findChildren(QWidget) if one.isVisible()]
        enough = all(one.width() >= one.minimumSizeHint().width() for one in shown)
        return enough and rig.page.beside.isVisible() is (width > 1000)

    rig.until(fits)
    least = rig.page.minimumSizeHint()
    assert least.width() <= width
    assert least.height() <= height
    assert not rig.page.grab().isNull()


def test_painted_widgets_have_names(rig: FakeRig) -> None:
    rig.bring()
    page = rig.page
    painted = (
        page.list,
        page.strip,
        page.tally,
        page.current.numeral,
        page.current.ruler,
        page.beside.history,
    )
    assert all(widget.accessibleName() for widget in painted)
    index = page.list.lines.index_of(3)
    spoken = page.list.lines.data(index, Qt.ItemDataRole.AccessibleTextRole)
    assert spoken == "R106, should read 4.7 kΩ ±5 %: to do"


def test_thousands_of_parts_are_drawn_as_far_as_they_are_seen(rig: FakeRig) -> None:
    lines = tuple(f"R{number} 1k 5%" for number in range(1, 2_001))
    rig.bring(unit_file((("Large", lines),)))
    rig.go("R1900")
    assert not rig.page.grab().isNull()
    assert rig.page.strip.shapes.height() > rig.page.strip.height()
    store(rig, "1/", 1)
    assert rig.here == "R1901"
