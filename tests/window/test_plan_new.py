"""A new plan from six numbers, by keys alone, on a recorder that says what the test lets it say."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.powerup_rig import PowerUpRig
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.domain.sixtyped import Field
from benchlog.errors import BadInput
from benchlog.instruments.bench import SupplyEntry
from benchlog.recorder.client import messages
from benchlog.window.keys import Action
from benchlog.window.look import Look
from benchlog.window.plan_new import At, PlanNew
from benchlog.window.run_view import Phase

ENTER = "|"
"""How Enter stands in what is typed."""
HALL = "2||44||16.5|.33||"
"""The hall amplifier behind a lamp, up to the meters: mains, channels and lamp are there already."""
BOARD = "3" + "15" + ENTER + "1" + ENTER + "5" + ENTER + ".5" + ENTER
_KEYS = {"*": Qt.Key.Key_Asterisk, "+": Qt.Key.Key_Plus, "-": Qt.Key.Key_Minus, ".": Qt.Key.Key_Period}


class Pad:
    """Somebody who has a number pad and nothing else."""

    def __init__(self, rig: PowerUpRig, qtbot: QtBot) -> None:
        self.rig = rig
        self.bot = qtbot
        self.choice = rig.page.choice
        self.form: PlanNew = rig.page.choice.new

    def open(self) -> None:
        """At the choice of a plan, and the form opened."""
        self.bot.waitUntil(lambda: self.choice.rows.count() >= 3)
        self.press("+")
        self.bot.waitUntil(lambda: self.form.meters.count() > 0)

    def press(self, keys: str) -> None:
        """Press these one after the other, where the keys go just then."""
        for char in keys:
            code = Qt.Key.Key_Enter if char == ENTER else _KEYS.get(char, Qt.Key(ord(char.upper())))
            field = self.rig.window.focusWidget()
            if isinstance(field, QLineEdit) and field.isVisible():
                QTest.keyClicks(field, char) if char != ENTER else QTest.keyClick(field, code)
                continue
            typed = QKeyEvent(
                QEvent.Type.KeyPress,
                code,
                Qt.KeyboardModifier.KeypadModifier,
                "\r" if char == ENTER else char,
            )
            action = self.rig.work.keys.action(typed, self.rig.page.place)
            if not self.rig.page.typed(typed) and action is not None:
                self.rig.page.act(action)

    def fault(self, field: Field) -> str:
        return self.form.fields.cells[field].fault

    def made(self) -> Plan:
        """The plan that the recorder was asked to check."""
        self.bot.waitUntil(lambda: bool(self.rig.link.of(messages.LoadPlan)))
        asked = self.rig.link.of(messages.LoadPlan)[-1]
        assert isinstance(asked, messages.LoadPlan)
        return textfile.parse(asked.text, asked.place, Plan)

    @property
    def plans(self) -> dict[str, str]:
        """The library's plans by their file names."""
        folder = self.rig.shelf.folder / "plans"
        return (
            {path.name: path.read_text("utf-8") for path in folder.glob("*.toml")} if folder.is_dir() else {}
        )

    @property
    def watched(self) -> list[str]:
        return [line.text for line in self.form.preview.watched.lines]

    @property
    def bare(self) -> list[str]:
        return [line.text for line in self.form.preview.bare.lines]


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path / "library")
    with qtbot.waitSignal(made.shelf.opened, timeout=60_000):
        made.shelf.open()
    qtbot.addWidget(made.window)
    made.window.resize(1240, 750)
    made.window.show()
    made.bench()
    yield made
    made.close()


@pytest.fixture
def pad(rig: PowerUpRig, qtbot: QtBot) -> Pad:
    made = Pad(rig, qtbot)
    made.open()
    return made


def test_from_the_choice_to_the_check_by_the_number_pad_alone(pad: Pad) -> None:
    pad.press(HALL)
    assert pad.form.at is At.METERS
    pad.press(ENTER)
    plan = pad.made()
    assert plan.name == "Variable transformer behind a 100 W lamp"
    assert [trace.name for trace in plan.trace][:4] == ["lamp", "+B", "-B", "idle L"]
    assert plan.source.mains == 230.0
    assert list(pad.plans) == ["plan.toml"]
    assert textfile.parse(pad.plans["plan.toml"], "plan.toml", Plan) == plan
    pad.rig.link.answer(messages.LoadPlan, sentences=["Not guarded: heat sinks."])
    assert pad.rig.runner.view.phase is Phase.CHECKED
    assert pad.rig.page.views.shown is pad.rig.page.check


def test_a_plan_of_the_same_name_is_never_written_over(pad: Pad) -> None:
    folder = pad.rig.shelf.folder / "plans"
    (folder / "plan.toml").write_text("mine", "utf-8")
    pad.press(HALL + ENTER)
    pad.made()
    assert sorted(pad.plans) == ["plan-2.toml", "plan.toml"]
    assert pad.plans["plan.toml"] == "mine"


def test_the_same_numbers_again_are_the_same_plan(pad: Pad) -> None:
    pad.press(HALL + ENTER)
    pad.made()
    pad.press("+")
    pad.bot.waitUntil(lambda: pad.form.fields.texts[Field.IDLE] == "16.5")
    pad.press("2" + 6 * ENTER)
    pad.press(ENTER)
    pad.bot.waitUntil(lambda: len(pad.rig.link.of(messages.LoadPlan)) == 2)
    assert list(pad.plans) == ["plan.toml"]


def test_what_was_typed_for_another_unit_is_not_taken_for_this_one(pad: Pad, qtbot: QtBot) -> None:
    pad.press(HALL.replace("2||", "2120|", 1) + ENTER)
    pad.made()
    with qtbot.waitSignal(pad.rig.shelf.edited):
        pad.rig.shelf.edit(lambda library: library.folder)
    numbers = pad.rig.shelf.folder / "numbers.toml"
    numbers.write_text(numbers.read_text("utf-8").replace("[[unit]]", '[[unit]]\nunit = "another"'), "utf-8")
    pad.press("+")
    texts = pad.form.fields
    qtbot.waitUntil(lambda: texts.texts[Field.MAINS] == "120")
    assert (texts.texts[Field.RAIL], texts.texts[Field.IDLE], texts.texts[Field.ACROSS]) == ("+/-", "", "")


def test_a_field_with_a_fault_is_not_left_and_says_why_in_a_line(pad: Pad) -> None:
    pad.press("2" + ENTER + ENTER)
    assert pad.fault(Field.RAIL) == "Is missing: write +/-44, or +35 for a single one."
    pad.press("44" + ENTER)
    assert pad.fault(Field.RAIL) == ""
    pad.press("3" + ENTER)
    assert pad.fault(Field.CHANNELS) == "Is 3: write 1 or 2."
    assert pad.rig.window.focusWidget() is pad.form.fields.cells[Field.CHANNELS].line


def test_a_sign_says_which_rails_there_are_and_the_figure_stays(pad: Pad) -> None:
    pad.press("2" + ENTER)
    for typed, text in (("44", "+/-44"), ("+", "+44"), ("-", "+/-44")):
        pad.press(typed)
        assert pad.form.fields.texts[Field.RAIL] == text


@pytest.mark.parametrize(("typed", "text"), [("+35", "+35"), ("+/-44", "+/-44"), ("44", "+/-44")])
def test_a_rail_may_be_typed_as_it_is_written(pad: Pad, typed: str, text: str) -> None:
    pad.press("2" + ENTER + typed)
    assert pad.form.fields.texts[Field.RAIL] == text


def test_a_single_rail_unit_begins_with_one_rail(pad: Pad) -> None:
    pad.press("5" + ENTER + "35" + ENTER + "1" + ENTER + "5" + ENTER + ".5" + ENTER + ENTER)
    assert "-B: shown only" not in pad.watched
    assert not any(line.startswith("-B") for line in pad.watched)
    pad.press(ENTER)
    assert pad.made().about.startswith("One rail, +35 V, ")


def test_the_preview_says_what_is_watched_and_what_is_not_guarded(pad: Pad) -> None:
    pad.press(HALL)
    lamp = "more than 12 % of the voltage applied over its healthy figure, up by 25 % within 60 s"
    assert pad.watched[0] == f"lamp: {lamp}"
    assert pad.watched[1] == "+B: above 50.00 V, too low, too high, wrong sign, apart from -B"
    assert pad.bare == ["what only a person hears, sees and smells"]
    assert len(pad.form.preview.ladder.rungs) == 6


def test_a_ladder_has_a_rung_for_each_lamp(pad: Pad) -> None:
    pad.press(HALL.replace("2", "1", 1))
    assert [rung.name for rung in pad.form.preview.ladder.rungs] == [
        "40 W lamp",
        "60 W lamp",
        "100 W lamp",
        "direct",
    ]
    # What is healthy follows the lamp that is fitted.
    assert "over its healthy figure" in pad.watched[0]


def test_a_meter_that_is_left_out_guards_nothing_and_is_said_to(pad: Pad) -> None:
    pad.press(HALL + "15")
    rows = {row.key: row for row in pad.form.meters.rows}
    assert (rows["lamp"].right, rows["offset R"].right) == ("left out", "left out")
    assert {"the lamp", "offset R"} <= set(pad.bare)
    pad.press("1")
    assert "the lamp" not in pad.bare
    pad.press(ENTER)
    assert "offset R" not in {trace.name for trace in pad.made().trace}


def test_a_walking_meter_is_left_out_until_it_is_asked_for(pad: Pad) -> None:
    pad.press(HALL)
    assert pad.form.meters.rows[-1].key == "parts meter"
    assert pad.form.meters.rows[-1].right == "left out"
    pad.press("2")
    pad.form.meters.setCurrentRow(9)
    pad.press("0")
    assert pad.form.meters.rows[-1].head == "parts meter  goes to  +B"


def test_without_any_meter_it_is_said_below_them(pad: Pad) -> None:
    pad.press(HALL + "123456789" + ENTER)
    assert "eyes alone cut nothing" in pad.form.fault
    assert not pad.plans


def test_of_two_supplies_the_one_that_feeds_the_board_is_asked_for(rig: PowerUpRig, qtbot: QtBot) -> None:
    bench = rig.runner.view.bench
    assert bench is not None
    feeds = tuple(
        SupplyEntry(job=job, profile="scpi-supply", address="tcp://127.0.0.1:9") for job in ("old", "new")
    )
    rig.runner.view.bench = replace(bench, supply=feeds)
    pad = Pad(rig, qtbot)
    pad.open()
    pad.press(BOARD)
    assert pad.form.at is At.METERS
    pad.press(ENTER)
    assert "supply" in pad.form.fault
    # Past the last meter by the arrows; 0 takes the marked one.
    for _ in range(pad.form.meters.count() - 1):
        rig.page.typed(QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_Down, Qt.KeyboardModifier.KeypadModifier))
    pad.press("0")
    pad.press(ENTER)
    assert pad.made().source.supply == "new"


def test_a_board_without_a_supply_is_said_below_the_meters(pad: Pad) -> None:
    pad.press(BOARD + ENTER)
    assert "supply" in pad.form.fault
    assert not pad.plans


def test_the_star_goes_back_step_by_step_and_out(pad: Pad) -> None:
    pad.press(HALL + "*")
    assert pad.form.at is At.FIELDS
    pad.press("******")
    assert pad.form.at is At.KIND
    pad.press("*")
    assert pad.form.isHidden()
    assert pad.choice.rows.isVisible()
    assert not pad.plans


def test_the_other_keys_of_the_page_mean_nothing_while_it_is_filled_in(pad: Pad) -> None:
    pad.press("-/")
    assert pad.form.isVisible()
    assert not pad.rig.page.row.isVisible()


def test_a_key_held_down_does_not_run_through_the_fields(pad: Pad) -> None:
    pad.press("2")
    line = pad.form.fields.cells[Field.MAINS].line
    held = QKeyEvent(
        QEvent.Type.KeyPress, Qt.Key.Key_Enter, Qt.KeyboardModifier.KeypadModifier, "\r", autorep=True
    )
    assert pad.form.fields.eventFilter(line, held)
    assert pad.rig.window.focusWidget() is line


def test_a_plan_that_the_check_refuses_is_told_at_the_choice(pad: Pad) -> None:
    pad.press(HALL + ENTER)
    pad.made()
    pad.rig.link.refuse(messages.LoadPlan, BadInput("plan.toml: trace[1].meter", "is none", "name one"))
    assert pad.rig.page.views.shown is pad.choice
    assert len(pad.choice.faults.faults) == 1
    assert pad.rig.page.act(Action.GO)


@pytest.mark.parametrize("size", [(1240, 750), (612, 553)])
def test_its_keys_stay_in_sight_and_nothing_is_cut_off(pad: Pad, qtbot: QtBot, size: tuple[int, int]) -> None:
    pad.press(HALL)
    pad.rig.window.resize(*size)
    qtbot.waitUntil(lambda: (pad.rig.page.width(), pad.rig.page.height()) == size)
    for widget in (pad.form.go, pad.form.back):
        corner = widget.mapTo(pad.rig.page, widget.rect().bottomRight())
        assert pad.rig.page.rect().contains(corner)
    assert pad.form.meters.isVisible()
    assert pad.form.fields.isVisible() is (size[0] > 820)
