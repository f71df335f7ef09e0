"""The unit page on a real library: made, opened, taken in hand, changed and taken back, by keys alone."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QPushButton, QWidget
from pytestqt.qtbot import QtBot

from benchlog import resources
from benchlog.domain.unit import RoundKind
from benchlog.store import edit, query_unit
from benchlog.window.keys import Action
from benchlog.window.offer import Offer
from benchlog.window.run_view import Phase
from benchlog.window.shapes import Shape
from benchlog.window.unit_acts import read_example, take_in
from benchlog.window.unit_page import UnitPage
from benchlog.window.work import Work

# The offscreen platform says of every window with a least size that it cannot hand it on.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")

Make = Callable[..., Work]
ENTER = Qt.Key.Key_Return


class Person:
    """Somebody at the page."""

    def __init__(self, qtbot: QtBot, work: Work) -> None:
        self.work = work
        self.now = 100.0
        work.now = lambda: self.now  # type: ignore[method-assign]
        self.bot = qtbot
        self.page = UnitPage(work)
        qtbot.addWidget(self.page)
        self.page.resize(1240, 750)
        self.page.show()
        self.page.came()
        self.stood: list[tuple[Any, ...]] = []
        self.said: list[str] = []
        work.step_stands.connect(lambda *stood: self.stood.append(stood))
        work.said.connect(lambda text, _: self.said.append(text))
        self.until(lambda: self.page.seen is not None)

    def until(self, holds: Callable[[], object]) -> None:
        self.bot.waitUntil(lambda: bool(holds()), timeout=30_000)

    def press(self, text: str) -> None:
        """Press the button of that text by its key."""
        self.bot.keyClick(self.button(text), Qt.Key.Key_Space)

    def button(self, text: str) -> QPushButton:
        def found() -> list[QPushButton]:
            return [
                one for one in self.page.findChildren(QPushButton) if one.text() == text and one.isVisible()
            ]

        self.until(lambda: len(found()) == 1)
        return found()[0]

    def type(self, field: QWidget, text: str, *keys: Qt.Key) -> None:
        self.bot.keyClicks(field, text)
        for key in keys:
            self.bot.keyClick(field, key)

    def example(self, name: str = "Amplifier") -> None:
        self.press(name)
        self.at_hand()

    def leads(self) -> list[str]:
        """What the keys that lead on say."""
        return [cap.does for cap in self.page.at_hand.onward.caps.values() if cap.isVisible()]

    def run_is(self, phase: Phase) -> None:
        """How far a run has come."""
        self.work.runner.view.phase = phase
        self.work.runner.phase_changed.emit(phase)

    def go_on(self, action: Action) -> None:
        """Look at what is drawn, then press its key."""
        self.now += 1.0
        self.page.act(action)

    def at_hand(self) -> None:
        page = self.page
        self.until(lambda: page.views.shown is page.at_hand and page.seen and page.seen.at_hand)

    @property
    def folder(self) -> Path:
        return self.work.shelf.folder

    def visit_label(self) -> str:
        visit = self.work.shelf.visit
        return visit.label if visit is not None else ""


@pytest.fixture
def person(qtbot: QtBot, work: Work) -> Person:
    return Person(qtbot, work)


class TestFirstPage:
    def test_an_empty_library_offers_the_ways_to_begin(self, person: Person) -> None:
        assert person.page.views.shown is person.page.start
        assert [button.text() for button in person.page.start.buttons] == [
            "New unit",
            "Open a unit file",
            "Amplifier",
            "By hand",
            "Lamp ladder",
            "Board",
        ]
        assert not person.page.start.known.isVisible()
        assert not person.page.undo.isVisible()

    def test_an_example_is_taken_in_with_its_complaint(self, person: Person) -> None:
        person.example("By hand")
        unit, visit = person.work.shelf.unit, person.work.shelf.visit
        assert unit is not None
        assert visit is not None
        assert (unit.name, visit.complaint) == ("Hall amplifier, by hand", "Dead on one side.")
        person.until(lambda: person.stood[-1:] == [("Unit", Shape.GOOD, "visit 0001")])

    def test_from_a_unit_in_hand_it_goes_on_to_its_parts(self, person: Person) -> None:
        gone: list[str] = []
        person.work.go_to.connect(gone.append)
        person.example("Board")
        person.run_is(Phase.CHECKED)
        person.until(lambda: person.leads() == ["measure its parts", "to the power-up"])
        person.go_on(Action.GO)
        assert gone == ["Parts"]
        person.go_on(Action.NEXT)
        assert gone == ["Parts", "Power-up"]

    def test_what_is_done_is_passed_by_on_the_way(self, person: Person) -> None:
        gone: list[str] = []
        person.work.go_to.connect(gone.append)
        person.example("Board")
        person.run_is(Phase.NOTHING)
        assert person.leads() == ["to the bench"]
        person.run_is(Phase.LIVE)
        assert person.leads() == ["to the power-up"]
        person.go_on(Action.NEXT)
        assert gone == []
        person.go_on(Action.GO)
        assert gone == ["Power-up"]

    def test_the_enter_that_took_the_unit_does_not_go_on_as_well(self, person: Person) -> None:
        gone: list[str] = []
        person.work.go_to.connect(gone.append)
        person.example("Board")
        person.page.act(Action.GO)
        assert gone == []
        assert person.page.focusWidget() is person.page

    def test_without_a_visit_enter_takes_it_in(self, person: Person) -> None:
        person.example("By hand")
        person.press("Hand it over")
        person.until(lambda: person.leads() == ["take it in"])
        person.go_on(Action.GO)
        person.until(lambda: person.visit_label() == "visit 0002")

    def test_an_example_opened_twice_is_one_unit(self, person: Person) -> None:
        person.example()
        person.press("Another unit")
        person.press("Amplifier")
        person.until(lambda: person.page.views.shown is person.page.at_hand)
        assert len(query_unit.units(person.folder)) == 1
        assert "is known already" in person.said[-1]
        assert person.visit_label() == "visit 0001"

    def test_what_the_window_was_opened_on_stands_first(self, make_work: Make, qtbot: QtBot) -> None:
        text = resources.path("examples", "board", "unit.toml").read_text(encoding="utf-8")
        person = Person(qtbot, make_work(offer=Offer(unit_text=text, unit_name="unit.toml")))
        assert person.page.start.buttons[0].text() == "Take the demo's unit"
        person.press("Take the demo's unit")
        person.at_hand()
        assert person.work.shelf.unit is not None
        assert person.work.shelf.unit.name == "Regulator board, +/-15 V"

    def test_what_it_was_opened_on_has_the_keys_before_the_units_a_library_gathered(
        self, make_work: Make, qtbot: QtBot
    ) -> None:
        text = resources.path("examples", "board", "unit.toml").read_text(encoding="utf-8")
        work = make_work(offer=Offer(unit_text=text, unit_name="unit.toml"))
        earlier: list[object] = []
        work.shelf.edit(lambda library: take_in(library, read_example("by-hand")), earlier.append)
        qtbot.waitUntil(lambda: bool(earlier), timeout=30_000)
        person = Person(qtbot, work)
        start = person.page.start
        assert [row.head for row in start.list.rows] == ["Hall amplifier, by hand"]
        assert person.page.focusWidget() is person.button("Take the demo's unit")
        assert start.buttons[0].mapTo(start, QPoint()).x() < start.list.mapTo(start, QPoint()).x()

    def test_the_list_says_how_far_each_unit_is_and_enter_takes_one(self, person: Person) -> None:
        person.example()
        visit = person.work.shelf.visit
        assert visit is not None
        person.work.shelf.edit(lambda library: edit.start_round(library, visit.id, RoundKind.AS_FOUND))
        person.until(lambda: person.work.shelf.round is not None)
        person.press("Another unit")
        person.press("Board")
        person.until(lambda: person.visit_label() == "visit 0002")
        person.press("Another unit")
        start = person.page.start
        person.until(lambda: [row.right for row in start.list.rows] == ["at hand", ""])
        assert start.list.rows[1].below.startswith("visit 0001, as found 0 of 40")
        start.list.setCurrentRow(1)
        person.bot.keyClick(start.list, ENTER)
        assert person.visit_label() == "visit 0001"
        assert person.work.shelf.round is not None
        person.at_hand()


class TestNewUnit:
    def test_enter_goes_from_field_to_field_and_takes_it_in(self, person: Person) -> None:
        person.press("New unit")
        texts = ["Kitchen radio", "Nimmerton", "K 1", "17", "230 V", "hums"]
        for text, field in zip(texts, person.page.form.inputs.values(), strict=False):
            person.type(field, text, ENTER)
        person.type(person.page.form.inputs["note"], "no back panel", ENTER)
        person.at_hand()
        (unit,) = query_unit.units(person.folder)
        assert (unit.name, unit.mains, unit.note) == ("Kitchen radio", 230.0, "no back panel")
        assert query_unit.visits(person.folder, unit.id)[0].complaint == "hums"

    def test_every_fault_is_told_and_nothing_typed_is_lost(self, person: Person) -> None:
        person.press("New unit")
        form = person.page.form
        form.inputs["maker"].setText("Nimmerton")
        form.inputs["mains"].setText("much")
        person.press("Take it in")
        assert [fault.place for fault in form.faults.faults] == ["mains", "name"]
        assert form.inputs["maker"].text() == "Nimmerton"
        assert query_unit.units(person.folder) == ()

    def test_escape_goes_back(self, person: Person) -> None:
        person.press("New unit")
        person.bot.keyClick(person.page.form.inputs["name"], Qt.Key.Key_Escape)
        assert person.page.views.shown is person.page.start


class TestUnitFile:
    def test_a_file_is_found_by_keys_and_opened(self, person: Person, tmp_path: Path) -> None:
        (tmp_path / "sheets").mkdir()
        (tmp_path / "sheets" / "radio.toml").write_text('file = "benchlog unit 1"\nname = "Kitchen radio"\n')
        (tmp_path / "sheets" / "letter.txt").write_text("")
        person.press("Open a unit file")
        choose = person.page.choose
        choose.path.clear()
        person.type(choose.path, f"{tmp_path.as_posix()}/shee")
        person.until(lambda: [row.head for row in choose.list.rows] == ["sheets/"])
        person.bot.keyClick(choose.path, ENTER)
        person.until(lambda: [row.head for row in choose.list.rows] == ["radio.toml"])
        person.bot.keyClick(choose.path, Qt.Key.Key_Down)
        person.bot.keyClick(choose.path, ENTER)
        person.at_hand()
        assert [unit.name for unit in query_unit.units(person.folder)] == ["Kitchen radio"]

    def test_every_fault_of_a_file_is_told_and_nothing_changes(self, person: Person, tmp_path: Path) -> None:
        file = tmp_path / "bad.toml"
        file.write_text('file = "benchlog unit 1"\nname = 3\nmaker = 4\n')
        person.press("Open a unit file")
        person.page.choose.chosen.emit(file)
        person.until(person.page.faults.isVisible)
        assert [fault.place for fault in person.page.faults.faults] == ["bad.toml: name", "bad.toml: maker"]
        assert query_unit.units(person.folder) == ()

    def test_a_folder_that_is_not_there_is_told(self, person: Person) -> None:
        person.press("Open a unit file")
        person.page.choose.path.clear()
        person.type(person.page.choose.path, "/no/such/folder/")
        person.until(lambda: "cannot be looked into" in person.page.choose.says.text())


class TestVisit:
    def test_it_is_handed_over_and_comes_back(self, person: Person) -> None:
        person.example("By hand")
        person.press("Hand it over")
        person.until(lambda: person.work.shelf.visit is None)
        person.until(lambda: person.stood[-1] == ("Unit", Shape.DOUBT, "not taken in"))
        person.type(person.page.at_hand.complaint, "dead again", ENTER)
        person.type(person.page.at_hand.mains, "231,5", ENTER)
        person.until(lambda: person.visit_label() == "visit 0002")
        visit = person.work.shelf.visit
        assert visit is not None
        assert (visit.complaint, visit.mains) == ("dead again", 231.5)

    def test_mains_that_are_none_are_told(self, person: Person) -> None:
        person.example("By hand")
        person.press("Hand it over")
        person.until(
            lambda: person.page.seen and person.page.seen.at_hand and not person.page.seen.at_hand.visit
        )
        person.type(person.page.at_hand.mains, "4k7", ENTER)
        assert person.page.at_hand.visit_faults.isVisible()
        assert person.work.shelf.visit is None

    def test_what_is_on_the_open_list_is_said_before_it_goes(self, person: Person) -> None:
        person.example("By hand")
        visit = person.work.shelf.visit
        assert visit is not None
        person.work.shelf.edit(
            lambda library: edit.open_item(library, visit.id, "lifted leg", "R209 one leg lifted")
        )
        person.until(
            lambda: person.page.seen and person.page.seen.at_hand and person.page.seen.at_hand.open_items
        )
        person.press("Hand it over")
        person.until(lambda: "1 thing not put back yet" in person.page.at_hand.open_says.text())
        person.press("Not yet")
        assert person.work.shelf.visit is visit
        person.press("Hand it over")
        person.press("Hand it over as it is")
        person.until(lambda: person.work.shelf.visit is None)


class TestBoardsAndParts:
    @pytest.fixture
    def radio(self, person: Person) -> Person:
        person.press("New unit")
        person.type(person.page.form.inputs["name"], "Kitchen radio")
        person.page.form.submit()
        person.at_hand()
        return person

    def board(self, person: Person, name: str) -> None:
        parts = person.page.at_hand.parts
        person.type(parts.board, name, ENTER)
        person.until(lambda: name in [row.head for row in parts.boards.rows])

    def test_a_board_and_several_parts_pasted_at_once(self, radio: Person) -> None:
        self.board(radio, "Receiver")
        parts = radio.page.at_hand.parts
        parts.text.setPlainText("R101 47k 5%\n\nC102 100u 20%\nQ101BE 0.55..0.7 V\n")
        parts.read()
        assert [row.head for row in parts.preview.rows] == [
            "R101, resistor, should read 47 kΩ ±5 %",
            "C102, electrolytic, should read 100 µF ±20 %",
            "Q101BE, transistor junction, should read 0.55..0.7 V",
        ]
        radio.bot.keyClick(parts.text, ENTER, Qt.KeyboardModifier.ControlModifier)
        radio.until(lambda: parts.boards.rows[0].right == "3 parts")
        assert parts.text.toPlainText() == ""
        unit = radio.work.shelf.unit
        assert unit is not None
        assert [line.part.designator for line in query_unit.parts(radio.folder, unit.id)] == [
            "C102",
            "Q101BE",
            "R101",
        ]

    def test_a_bad_line_is_named_with_its_reason_and_nothing_is_added(self, radio: Person) -> None:
        self.board(radio, "Receiver")
        parts = radio.page.at_hand.parts
        parts.text.setPlainText("R101 47k 5%\nR102 4k7\nR101 1k 1%\nR103 4k7 5% = 4.68")
        radio.bot.keyClick(parts.text, ENTER, Qt.KeyboardModifier.ControlModifier)
        wrong = [row for row in parts.preview.rows if row.shape is Shape.DOUBT]
        assert [row.head for row in wrong] == ["2:  R102 4k7", "3:  R101 1k 1%", "4:  R103 4k7 5% = 4.68"]
        assert "does not say how far it may be off" in wrong[0].below
        assert "stands in line 1 already" in wrong[1].below
        assert "go in at Parts" in wrong[2].below
        assert parts.add.text() == "3 lines to mend first"
        assert not parts.add.isEnabled()
        assert parts.text.toPlainText().startswith("R101")

    def test_a_part_the_board_has_is_told_and_what_was_typed_stays(self, radio: Person) -> None:
        self.board(radio, "Receiver")
        parts = radio.page.at_hand.parts
        parts.text.setPlainText("R101 47k 5%")
        parts.add_parts()
        radio.until(lambda: parts.boards.rows[0].right == "1 part")
        parts.text.setPlainText("R102 47k 5%\nr101 47k 5%")
        parts.add_parts()
        radio.until(parts.faults.isVisible)
        assert [fault.place for fault in parts.faults.faults] == ["r101"]
        assert parts.text.toPlainText() == "R102 47k 5%\nr101 47k 5%"

    def test_the_newest_board_takes_the_parts_and_a_name_serves_once(self, radio: Person) -> None:
        self.board(radio, "Receiver")
        self.board(radio, "Output")
        parts = radio.page.at_hand.parts
        assert parts.boards.key == parts.boards.rows[1].key
        radio.type(parts.board, "output", ENTER)
        radio.until(parts.faults.isVisible)
        assert parts.board.text() == "output"


class TestChangesAndUndo:
    def test_the_data_is_changed_and_taken_back(self, person: Person) -> None:
        person.example()
        person.press("Change its data")
        field = person.page.form.inputs["serial"]
        assert field.text() == "70413"
        field.setText("9")
        person.press("Keep the change")
        person.until(lambda: person.work.shelf.unit and person.work.shelf.unit.serial == "9")
        person.until(lambda: person.page.undo.text().startswith("Take back: change the data"))
        person.press(person.page.undo.text())
        person.until(lambda: person.work.shelf.unit and person.work.shelf.unit.serial == "70413")

    def test_rules_for_the_other_side_are_edited_as_text(self, person: Person) -> None:
        person.example("By hand")
        at_hand = person.page.at_hand
        assert at_hand.mirror.toPlainText().startswith("R1## <-> R2##")
        at_hand.mirror.setPlainText("R1## <-> R2##\nD5 <-> D9")
        person.press("Keep the rules")
        person.until(lambda: person.work.shelf.unit and person.work.shelf.unit.mirror == ("R1## <-> R2##",))
        assert person.work.shelf.unit is not None
        assert person.work.shelf.unit.pairs == {"D5": "D9"}

    def test_a_rule_nobody_can_read_is_told_and_stays(self, person: Person) -> None:
        person.example("By hand")
        at_hand = person.page.at_hand
        at_hand.mirror.setPlainText("R1## <-> R2#")
        person.press("Keep the rules")
        person.until(at_hand.mirror_faults.isVisible)
        assert at_hand.mirror.toPlainText() == "R1## <-> R2#"

    def test_a_unit_whose_making_is_taken_back_is_at_hand_no_more(self, person: Person) -> None:
        person.example("By hand")
        person.until(person.page.undo.isVisible)
        person.press("Take back: new unit Hall amplifier, by hand")
        person.until(lambda: person.work.shelf.unit is None)
        person.until(lambda: person.page.views.shown is person.page.start)
        assert person.said[-1] == "Taken back: new unit Hall amplifier, by hand."
        person.until(lambda: person.stood[-1][1] is Shape.TO_DO)


@pytest.mark.parametrize("width", [600, 1240])
def test_nothing_is_wider_than_the_page(person: Person, width: int) -> None:
    person.example()
    person.page.resize(width, 640)
    parts = person.page.at_hand.parts
    parts.text.setPlainText("T7 0.5..0.7 V and a long text behind it that goes on and on and on and on")
    parts.read()
    person.page.grab()
    wide = [
        one
        for one in person.page.findChildren(QWidget)
        if one.isVisible() and one.mapTo(person.page, one.rect().topRight()).x() >= width
    ]
    assert wide == []
