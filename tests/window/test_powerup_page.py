"""The Power-up page, phase by phase, on a recorder that says what the test lets it say."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.parts_rig import Ear
from helpers.powerup_rig import PLAN, SENTENCES, PowerUpRig, acts, answers, enter
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from benchlog.errors import BadInput, Fault
from benchlog.recorder.client import messages
from benchlog.window import words
from benchlog.window.keys import Action
from benchlog.window.look import Look
from benchlog.window.note_line import SHORT
from benchlog.window.offer import Offer
from benchlog.window.run_view import Phase
from benchlog.window.shapes import Shape


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(made.window)
    made.window.resize(1240, 750)
    made.window.show()
    yield made
    made.close()


def key(which: Qt.Key, text: str = "", *, repeated: bool = False) -> QKeyEvent:
    return QKeyEvent(QEvent.Type.KeyPress, which, Qt.KeyboardModifier.NoModifier, text, repeated)


# --- before it is live ---------------------------------------------------------------------------------


def test_without_a_bench_enter_leads_there(rig: PowerUpRig, qtbot: QtBot) -> None:
    assert rig.page.views.shown is rig.page.nothing
    with qtbot.waitSignal(rig.work.go_to) as went:
        rig.page.act(Action.GO)
    assert went.args == [words.BENCH]


def test_a_plan_is_taken_by_its_number(rig: PowerUpRig, qtbot: QtBot) -> None:
    rig.bench()
    qtbot.waitUntil(lambda: rig.page.choice.rows.count() >= 3)
    heads = [row.head for row in rig.page.choice.rows.rows]
    assert heads[0] == "1   First power-up behind a 100 W lamp"
    assert rig.page.typed(key(Qt.Key.Key_2, "2"))
    (asked,) = rig.link.of(messages.LoadPlan)
    assert isinstance(asked, messages.LoadPlan)
    assert "Regulator board" in asked.text


def test_a_plan_is_taken_by_arrows_and_enter(rig: PowerUpRig, qtbot: QtBot) -> None:
    rig.bench()
    qtbot.waitUntil(lambda: rig.page.choice.rows.count() >= 3)
    rig.page.typed(key(Qt.Key.Key_Down))
    rig.page.typed(key(Qt.Key.Key_Down))
    rig.page.act(Action.GO)
    (asked,) = rig.link.of(messages.LoadPlan)
    assert isinstance(asked, messages.LoadPlan)
    assert "by hand behind a 60 W lamp" in asked.text


def test_plans_of_the_library_stand_before_the_examples(rig: PowerUpRig, qtbot: QtBot) -> None:
    folder = rig.shelf.folder / "plans"
    folder.mkdir(parents=True)
    (folder / "mine.toml").write_text(PLAN.replace("100 W lamp", "40 W lamp"), "utf-8")
    (folder / "wrong.toml").write_text(PLAN.replace("dwell = 20.0", "dwel = 20.0"), "utf-8")
    rig.bench()
    qtbot.waitUntil(lambda: rig.page.choice.rows.count() >= 5)
    mine, wrong = rig.page.choice.rows.rows[:2]
    assert mine.head.endswith("First power-up behind a 40 W lamp")
    assert wrong.shape is Shape.DOUBT
    rig.page.typed(key(Qt.Key.Key_2, "2"))
    assert not rig.link.of(messages.LoadPlan)
    assert len(rig.page.choice.faults.faults) == 4


def test_what_the_window_was_opened_on_is_loaded_once_the_bench_is_open(rig: PowerUpRig) -> None:
    rig.work.offer = Offer(plan_text=PLAN, plan_name="offered.toml")
    rig.page.open_offer()
    assert not rig.link.of(messages.LoadPlan)
    rig.bench()
    (asked,) = rig.link.of(messages.LoadPlan)
    assert isinstance(asked, messages.LoadPlan)
    assert asked.place == "offered.toml"
    rig.bench()
    assert len(rig.link.of(messages.LoadPlan)) == 1


def test_every_fault_of_a_plan_is_told_at_once(rig: PowerUpRig) -> None:
    rig.bench()
    rig.page._load(PLAN, "plan.toml")
    faults = [
        Fault("plan.toml: trace[1].meter", "no meter has the job", "it has none"),
        Fault("x", "is missing"),
    ]
    rig.link.refuse(messages.LoadPlan, BadInput.of(faults))
    assert rig.page.views.shown is rig.page.choice
    assert list(rig.page.choice.faults.faults) == faults


def test_the_check_says_first_what_is_not_guarded_then_from_fault_to_off(rig: PowerUpRig) -> None:
    rig.checked()
    check = rig.page.check
    assert [(line.text, line.bold) for line in check.warnings.lines] == [
        (SENTENCES[1], True),
        (SENTENCES[0], False),
    ]
    assert [(line.text, line.right) for line in check.delays.lines] == [
        ("A critical meter that falls silent, after its last reading", "5.5 s"),
        ("+B and -B lower than the source should give, from 5 s after the source is steady", "2.9 s"),
        ("idle L above 33.00 mV, once +B has stood above 22 V for 5 s", "1.8 s"),
    ]
    assert check.warnings.mapTo(check, QPoint()).y() < check.delays.mapTo(check, QPoint()).y()
    assert "mains relay (off-switch)" in rig.page.check.chain.accessibleName()
    assert "variable transformer (set by your hand)" in rig.page.check.chain.accessibleName()
    assert rig.page.check.caution.text() == words.CAUTION


def test_enter_proves_and_then_begins_once(rig: PowerUpRig) -> None:
    rig.checked()
    enter(rig)
    assert rig.runner.view.phase is Phase.PROVING
    rig.prompt("relay_clicked", "The relay should have clicked. Did it?", times=2)
    assert rig.page.card.call.text == "The relay should have clicked. Did it?"
    assert rig.page.card.enter.accessibleName() == "yes, it did (Enter)"
    enter(rig)
    assert answers(rig) == [(1, True)]
    rig.link.answer(messages.Prove, said=["mains relay: in, out, and out"])
    assert [line.text for line in rig.page.check.proofs.lines] == ["mains relay: in, out, and out"]
    enter(rig)
    enter(rig)
    assert len(rig.link.of(messages.Arm)) == 1
    rig.link.answer(messages.Arm, session=rig.session)
    assert acts(rig) == [("next", -1)]
    assert rig.page.views.shown is rig.page.desk


def test_a_refused_arming_can_be_tried_again(rig: PowerUpRig) -> None:
    rig.proven()
    enter(rig)
    rig.link.refuse(messages.Arm, BadInput("mains", "has not been read", "look at its meter"))
    enter(rig)
    assert len(rig.link.of(messages.Arm)) == 2


def test_another_plan_can_be_looked_for_and_the_checked_one_stays(rig: PowerUpRig) -> None:
    rig.checked()
    rig.page.act(Action.BACK)
    assert rig.page.views.shown is rig.page.choice
    rig.page.act(Action.BACK)
    assert rig.page.views.shown is rig.page.check


# --- live ----------------------------------------------------------------------------------------------


def test_a_prompt_is_answered_by_enter_and_by_the_key_for_no(rig: PowerUpRig) -> None:
    rig.armed()
    rig.stage("setting", 0)
    rig.prompt("set_dial", "Set the variable transformer to 10 %, 23 V.")
    assert rig.page.card.call.asks
    enter(rig)
    rig.prompt("set_dial", "Set the variable transformer to 20 %, 46 V.")
    rig.now += 1.0
    rig.page.act(Action.NO)
    assert answers(rig) == [(1, True), (2, False)]


def test_an_enter_meant_for_the_call_before_answers_nothing(rig: PowerUpRig) -> None:
    rig.climb(0, seconds=2.0)
    rig.dwell(0, 0.0)
    enter(rig)
    rig.stage("setting", 1)
    rig.prompt("set_dial", "Set the variable transformer to 20 %, 46 V.")
    before = answers(rig)
    rig.now += 0.2
    rig.page.act(Action.GO)
    assert answers(rig) == before
    rig.now += 1.0
    rig.page.act(Action.GO)
    assert len(answers(rig)) == len(before) + 1


def test_a_key_held_down_acts_once(rig: PowerUpRig) -> None:
    rig.climb(0, seconds=2.0)
    assert rig.page.typed(key(Qt.Key.Key_Enter, "\r", repeated=True))
    assert not rig.page.typed(key(Qt.Key.Key_Enter, "\r"))


def test_the_next_stage_is_offered_and_spoken_once(rig: PowerUpRig) -> None:
    ear = Ear()
    rig.work.voice = ear
    rig.climb(2, seconds=2.0)
    ear.heard.clear()
    rig.dwell(2, 0.0)
    rig.dwell(2, 0.0)
    assert rig.page.card.call.text == "Ready. Next is 60 %, 138 V."
    assert ear.heard == [("ready", "next: 60 %")]
    enter(rig)
    assert acts(rig)[-1] == ("next", 2)


def test_after_the_last_stage_enter_ends_it(rig: PowerUpRig) -> None:
    rig.climb(5, seconds=1.0)
    rig.dwell(5, 0.0)
    assert rig.page.card.enter.accessibleName() == "end (Enter)"
    enter(rig)
    assert acts(rig)[-1] == ("next", 5)


def test_a_dwell_may_be_ended_early_only_where_all_else_holds(rig: PowerUpRig) -> None:
    rig.climb(2, seconds=1.0)
    rig.dwell(2, 20.0)
    assert rig.page.card.call.enter == ""
    rig.stage("dwelling", 2, 20.0, [("dwell 30 s", False, ""), ("+B as expected", True, "15.6 V")])
    assert rig.page.card.call.enter == "early: 60 %"


def test_hold_back_and_off_ask_the_recorder_at_the_stage_that_is_shown(rig: PowerUpRig) -> None:
    rig.climb(1, seconds=1.0)
    rig.page.act(Action.HOLD)
    rig.stage("held", 1, 5.0)
    rig.page.act(Action.HOLD)
    rig.page.act(Action.BACK)
    rig.page.act(Action.OFF)
    assert acts(rig)[-4:] == [("hold", -1), ("resume", -1), ("back", 1), ("off", -1)]


def test_a_key_that_was_clicked_acts_like_the_key(rig: PowerUpRig, qtbot: QtBot) -> None:
    rig.climb(1, seconds=1.0)
    rig.page.refresh()
    qtbot.mouseClick(rig.page.row.caps[Action.HOLD], Qt.MouseButton.LeftButton)
    assert acts(rig)[-1] == ("hold", -1)


def test_what_was_not_done_can_be_tried_again_or_closed(rig: PowerUpRig) -> None:
    rig.armed()
    rig.stage("setting", 0)
    rig.stage("standing", 0)
    assert rig.page.card.call.text == "Not done: the unit stands off."
    enter(rig)
    rig.page.act(Action.OFF)
    assert acts(rig)[-2:] == [("next", 0), ("close", -1)]


def test_the_waits_stand_beside_the_ladder_with_how_far_they_are(rig: PowerUpRig) -> None:
    rig.climb(3, seconds=1.0)
    rig.dwell(3, 12.0)
    lines = {line.text: line for line in rig.page.desk.waits.lines}
    assert lines["dwell 0:40"].right == "0:12 left"
    assert lines["+B as expected"].shape is Shape.GOOD
    assert lines["lamp steady within 10 % for 10 s"].shape is Shape.TO_DO


def test_a_value_that_is_not_fresh_never_looks_good(rig: PowerUpRig) -> None:
    rig.climb(3, seconds=2.0)
    rig.rest(0.6, 6.0, but=("+B",))
    rig.dwell(3, 12.0)
    rig.page.refresh()
    faces = {one.face.face.name: one.face for one in rig.page.desk.numerals.shown}
    assert faces["-B"].shape is Shape.GOOD
    assert faces["+B"].shape is Shape.NOTHING
    assert faces["+B"].face.wrong == "no news for 6.0 s"
    waits = {line.text: line.shape for line in rig.page.desk.waits.lines}
    assert (waits["+B as expected"], waits["-B as expected"]) == (Shape.NOTHING, Shape.GOOD)
    rig.link.say(messages.Meter(job="+B", state="gone", text="the adapter was unplugged"))
    rig.page.refresh()
    face = next(one.face for one in rig.page.desk.numerals.shown if one.face.face.name == "+B")
    assert face.face.wrong.startswith("gone, no news")
    assert rig.page.desk.waits.lines[0].text == "+B: gone, the adapter was unplugged"


def test_a_value_beyond_its_ceiling_is_marked(rig: PowerUpRig) -> None:
    rig.climb(1, seconds=1.0)
    rig.read("+B", 51.0)
    rig.page.refresh()
    face = next(one.face for one in rig.page.desk.numerals.shown if one.face.face.name == "+B")
    assert face.shape is Shape.HIGH


def test_a_warning_is_said_once_whichever_page_is_shown(rig: PowerUpRig) -> None:
    said: list[str] = []
    rig.work.said.connect(lambda text, _: said.append(text))
    ear = Ear()
    rig.work.voice = ear
    rig.climb(1, seconds=1.0)
    rig.window.hide()
    rig.event("warn", "offset L 130 mV, above its limit of 100 mV")
    rig.page.refresh()
    assert said == ["offset L 130 mV, above its limit of 100 mV"]
    assert ear.heard[-1] == ("warn", "offset L 130 mV, above its limit of 100 mV")


@pytest.mark.parametrize(
    ("typed", "kept"), [("3", SHORT[2]), ("3 V across R12", "3 V across R12"), ("", None), ("  ", None)]
)
def test_a_note_is_a_digit_or_words(rig: PowerUpRig, qtbot: QtBot, typed: str, kept: str | None) -> None:
    rig.climb(1, seconds=1.0)
    rig.page.act(Action.NOTE)
    assert rig.page.note.isVisible()
    qtbot.keyClicks(rig.page.note.field, typed)
    qtbot.keyClick(rig.page.note.field, Qt.Key.Key_Enter)
    remarks = [one.text for one in rig.link.of(messages.Remark) if isinstance(one, messages.Remark)]
    assert remarks == ([kept] if kept else [])
    assert not rig.page.note.isVisible()


def test_a_short_note_is_kept_by_a_click(rig: PowerUpRig, qtbot: QtBot) -> None:
    rig.climb(1, seconds=1.0)
    rig.page.act(Action.NOTE)
    qtbot.mouseClick(rig.page.note.caps[0], Qt.MouseButton.LeftButton)
    (remark,) = rig.link.of(messages.Remark)
    assert isinstance(remark, messages.Remark)
    assert remark.text == "hum"


# --- off -----------------------------------------------------------------------------------------------


def test_the_tail_says_how_the_off_switch_stands_and_what_is_still_charged(rig: PowerUpRig) -> None:
    rig.climb(5, seconds=2.0)
    rig.event("off", "all stages done", why="off")
    assert rig.page.card.call.detail == "Not seen off yet: treat it as live."
    rig.off()
    rig.rest(0.9, 1.0)
    rig.page.refresh()
    assert rig.page.card.call.text == "Off was asked: all stages done."
    assert rig.page.card.call.detail == "Keep hands out. The reservoirs are still charged."
    lines = [line.text for line in rig.page.desk.waits.lines]
    assert "mains relay: seen off" in lines
    assert any(line.startswith("+B: still charged") for line in lines)
    assert any("until the reservoirs are seen low, 10 min at most; close it" in line for line in lines)
    assert any(line.startswith("Never trust the screen alone: measure across") for line in lines)


def test_a_hand_is_asked_to_switch_off_as_large_as_anything(rig: PowerUpRig) -> None:
    rig.climb(5, seconds=1.0)
    rig.event("off", "all stages done", why="off")
    rig.prompt("switch_off", "Switch the unit off now.")
    assert rig.page.card.call.text == "Switch the unit off now."
    enter(rig)
    assert answers(rig)[-1][1] is True


def test_a_closed_run_gives_its_account_and_may_be_run_once_more(rig: PowerUpRig, qtbot: QtBot) -> None:
    rig.climb(5, seconds=1.0)
    rig.off()
    rig.closed()
    assert rig.page.card.call.text == "The run went through: 6 of 6 stages."
    with qtbot.waitSignal(rig.work.go_to) as went:
        qtbot.mouseClick(rig.page.row.caps[Action.TO_PAST_RUNS], Qt.MouseButton.LeftButton)
    assert went.args == [words.PAST_RUNS]
    enter(rig)
    assert len(rig.link.of(messages.LoadPlan)) == 2
    rig.link.answer(messages.LoadPlan, sentences=[])
    assert rig.runner.view.phase is Phase.CHECKED
    assert rig.runner.view.marks == []


def test_a_trip_is_told_as_one_in_the_account(rig: PowerUpRig) -> None:
    rig.climb(2, seconds=1.0)
    rig.trip("lamp 152 V, above its limit of 80.5 V")
    rig.closed("tripped", "lamp 152 V, above its limit of 80.5 V")
    assert rig.page.card.call.text == "The run tripped: 3 of 6 stages."
    assert rig.page.card.call.shape is Shape.STOP


def test_the_step_says_which_stage(rig: PowerUpRig) -> None:
    stood: list[tuple[Shape, str]] = []
    rig.work.step_stands.connect(lambda _step, shape, detail: stood.append((shape, detail)))
    rig.climb(3, seconds=1.0)
    assert stood[-1] == (Shape.HERE, "stage 4 of 6")


# --- room ----------------------------------------------------------------------------------------------


def cut_off(rig: PowerUpRig) -> list[QWidget]:
    """Widgets that reach out of the page, or have less room than they need."""
    page = rig.page
    found = []
    for widget in (
        page.card,
        page.ladder,
        page.row,
        page.note,
        page.touch,
        page.name,
        *page.row.caps.values(),
    ):
        if widget.isVisible():
            corner = widget.mapTo(page, widget.rect().bottomRight())
            small = widget.width() < widget.minimumSizeHint().width()
            if not page.rect().contains(corner) or small:
                found.append(widget)
    return found


@pytest.mark.parametrize("size", [(1240, 750), (612, 553), (900, 600)])
def test_nothing_is_cut_off(rig: PowerUpRig, qtbot: QtBot, size: tuple[int, int]) -> None:
    rig.climb(3, seconds=1.0)
    rig.dwell(3, 12.0)
    rig.window.resize(*size)
    qtbot.waitUntil(lambda: (rig.page.width(), rig.page.height()) == size)
    qtbot.waitUntil(lambda: cut_off(rig) == [])
    rig.page.act(Action.NOTE)
    qtbot.waitUntil(rig.page.note.isVisible)
    qtbot.waitUntil(lambda: cut_off(rig) == [])
    for numeral in rig.page.desk.numerals.shown:
        assert numeral.width() >= numeral.minimumSizeHint().width()
