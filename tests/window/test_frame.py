"""The frame: the cut from anywhere, keys to the page that is shown, tiles that never make an old value look new."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from helpers.window_rig import EXAMPLE, SECOND, Rig, bench
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QFontMetricsF, QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from benchlog import resources, textfile
from benchlog.domain.plan import Plan
from benchlog.errors import WATCH, Gone
from benchlog.instruments.bench import OffSwitchEntry
from benchlog.recorder.client import messages
from benchlog.window import words
from benchlog.window.foot import faces_of, gathered
from benchlog.window.keys import Action, Keys
from benchlog.window.look import Look
from benchlog.window.numerals import numerals_of
from benchlog.window.run_view import Live, Phase
from benchlog.window.shapes import Shape
from benchlog.window.tile import TileFace, named
from benchlog.window.wiring_page import WiringPage

NONE = Qt.KeyboardModifier.NoModifier


def cuts(rig: Rig) -> int:
    return len(rig.link.of(messages.Cut))


@pytest.mark.parametrize("key", [Qt.Key.Key_Escape, Qt.Key.Key_F12])
@pytest.mark.parametrize(
    "where", [lambda rig: rig.frame, lambda rig: rig.power.field, lambda rig: rig.power.button]
)
def test_escape_and_f12_cut_from_anywhere(
    rig: Rig, qtbot: QtBot, key: Qt.Key, where: Callable[[Rig], QWidget]
) -> None:
    rig.live()
    rig.frame.go_to(words.POWER_UP)
    where(rig).setFocus()
    qtbot.keyClick(where(rig), key)
    assert cuts(rig) == 1
    assert rig.frame.whole.currentWidget() is rig.frame.cut_screen


def test_nothing_is_cut_where_nothing_can_be_live(rig: Rig, qtbot: QtBot) -> None:
    qtbot.keyClick(rig.frame, Qt.Key.Key_Escape)
    assert cuts(rig) == 0


def test_the_cut_button_acts_at_the_press(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    qtbot.mousePress(rig.frame.foot._button, Qt.MouseButton.LeftButton)
    assert cuts(rig) == 1


def test_a_proof_under_way_can_be_cut(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    rig.runner.view.phase = Phase.PROVING
    qtbot.keyClick(rig.frame, Qt.Key.Key_F12)
    assert cuts(rig) == 1


def test_a_cut_before_the_run_is_open_keeps_it_from_going_on(rig: Rig, qtbot: QtBot) -> None:
    rig.arming()
    qtbot.keyClick(rig.frame, Qt.Key.Key_Escape)
    assert cuts(rig) == 1
    rig.link.answer(messages.Arm, session="folder/run.db")
    assert [one.what for one in rig.link.of(messages.Act) if isinstance(one, messages.Act)] == ["close"]


def test_a_run_that_was_cut_as_it_opened_stays_off(rig: Rig) -> None:
    rig.arming()
    rig.link.say(messages.Event(t=0, kind="off", text="cut by the operator", data={"why": "cut"}))
    rig.link.answer(messages.Arm, session="folder/run.db")
    assert rig.runner.view.phase is Phase.OFF
    assert rig.link.of(messages.Act) == []


def test_keys_reach_the_page_that_is_shown_but_not_from_a_text_field(rig: Rig, qtbot: QtBot) -> None:
    rig.frame.go_to(words.POWER_UP)
    qtbot.keyClick(rig.frame, Qt.Key.Key_Enter, Qt.KeyboardModifier.KeypadModifier)
    qtbot.keyClick(rig.frame, Qt.Key.Key_7)
    qtbot.keyClick(rig.frame, "0")
    assert rig.power.acts == [Action.GO, Action.HOLD]
    rig.power.field.setFocus()
    qtbot.keyClick(rig.power.field, "0")
    assert rig.power.field.text() == "0"
    assert rig.power.acts == [Action.GO, Action.HOLD]


def test_enter_on_a_button_presses_it(rig: Rig, qtbot: QtBot) -> None:
    rig.frame.go_to(words.POWER_UP)
    rig.power.button.setFocus()
    qtbot.keyClick(rig.power.button, Qt.Key.Key_Return)
    assert rig.power.pressed == 1
    assert rig.power.acts == []


def test_enter_held_down_on_a_button_presses_it_once(rig: Rig, qtbot: QtBot) -> None:
    rig.frame.go_to(words.POWER_UP)
    rig.power.button.setFocus()
    for repeats in (False, True, True):
        press = QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_Return, NONE, "\r", repeats)
        QApplication.sendEvent(rig.power.button, press)
    assert rig.power.pressed == 1


def test_an_enter_that_a_text_field_took_does_not_act_on_the_page_as_well(rig: Rig, qtbot: QtBot) -> None:
    rig.frame.go_to(words.POWER_UP)
    taken: list[str] = []
    rig.power.field.returnPressed.connect(lambda: taken.append(rig.power.field.text()))
    rig.power.field.returnPressed.connect(rig.power.setFocus)
    rig.power.field.setText("2SC5200")
    rig.power.field.setFocus()
    qtbot.waitUntil(rig.power.field.hasFocus)
    window = rig.frame.windowHandle()
    QTest.keyClick(window, Qt.Key.Key_Return)
    assert taken == ["2SC5200"]
    assert rig.power.acts == []
    QTest.keyClick(window, Qt.Key.Key_Return)
    assert rig.power.acts == [Action.GO]


def test_function_keys_lead_to_the_pages_from_a_text_field_too(rig: Rig, qtbot: QtBot) -> None:
    rig.frame.go_to(words.POWER_UP)
    rig.power.field.setFocus()
    qtbot.keyClick(rig.power.field, Qt.Key.Key_F4)
    assert rig.frame.page.title == words.PARTS


def test_a_foot_switch_is_bound_by_pressing_it(rig: Rig, qtbot: QtBot) -> None:
    rig.frame.go_to(words.KEYS)
    page = rig.frame.page
    bind = next(
        one
        for one in page.findChildren(QPushButton)
        if one.accessibleName().endswith("next stage, done, prove, begin")
    )
    bind.click()
    qtbot.keyClick(page, Qt.Key.Key_F13)
    rig.frame.go_to(words.POWER_UP)
    qtbot.keyClick(rig.frame, Qt.Key.Key_F13)
    assert rig.power.acts == [Action.GO]
    qtbot.waitUntil((rig.shelf.folder / "keys.toml").exists)


def test_a_key_bound_on_one_page_is_what_it_was_on_the_others(rig: Rig, qtbot: QtBot) -> None:
    rig.work.keys = Keys({"F5": "hold", "F9": "to_power_up"})
    rig.work.keys_changed.emit()
    rig.frame.go_to(words.PARTS)
    qtbot.keyClick(rig.frame, Qt.Key.Key_F5)
    assert rig.frame.page is rig.power
    qtbot.keyClick(rig.frame, Qt.Key.Key_F5)
    assert rig.power.acts == [Action.HOLD]
    assert rig.frame.steps.key_of(words.POWER_UP) == "F9"


def test_a_pedal_that_takes_does_so_on_the_page_that_is_shown_alone(rig: Rig) -> None:
    rig.frame.go_to(words.POWER_UP)
    rig.link.say(messages.Pedal(job="foot", does="take"))
    assert (rig.power.taken, rig.parts.taken) == (1, 0)
    rig.frame.go_to(words.PARTS)
    rig.link.say(messages.Pedal(job="foot", does="cut"))
    assert rig.parts.taken == 0
    rig.link.say(messages.Pedal(job="foot", does="take"))
    assert (rig.power.taken, rig.parts.taken) == (1, 1)
    rig.frame.show_cut()
    rig.link.say(messages.Pedal(job="foot", does="take"))
    assert (rig.power.taken, rig.parts.taken) == (1, 1)


def test_a_key_shows_how_relay_and_pedal_are_wired(rig: Rig, qtbot: QtBot) -> None:
    qtbot.keyClick(rig.frame, Qt.Key.Key_F10)
    page = rig.frame.page
    assert isinstance(page, WiringPage)
    qtbot.waitUntil(lambda: "Second best: the level of RTS or DTR" in page.text.toPlainText())
    assert "Local codes and licensed practice come first." in page.text.toPlainText()


def test_the_cut_keys_cannot_be_given_away(rig: Rig, qtbot: QtBot) -> None:
    rig.frame.go_to(words.KEYS)
    page = rig.frame.page
    page.findChildren(QPushButton)[0].click()
    qtbot.keyClick(page, Qt.Key.Key_F12)
    assert rig.work.keys.own == {}
    rig.live()
    qtbot.keyClick(rig.frame, Qt.Key.Key_F12)
    assert cuts(rig) == 1


def test_a_trip_takes_the_whole_window_and_says_what_is_still_charged(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    rig.reading("+B", 38.4)
    rig.link.say(
        messages.Trip(
            t=2 * SECOND, wire_ns=0, trace="lamp", limit="high", text="lamp 152 V, above its limit of 80.5 V"
        ),
        messages.Event(
            t=2 * SECOND, kind="off", text="lamp 152 V, above its limit of 80.5 V", data={"why": "trip"}
        ),
    )
    screen = rig.frame.cut_screen
    assert rig.frame.whole.currentWidget() is screen
    assert screen.what.text() == "Lamp 152 V, above its limit of 80.5 V"
    assert screen.keep_out.text() == "Treat it as live: switch off by hand and pull the plug."
    off = ("mains relay", "verified off", "off", 0, 3_000_000)
    rig.link.say(messages.CutState(0, *off))
    assert screen.keep_out.text() == "Keep hands out. The reservoirs are still charged."
    assert [bar.accessibleName() for bar in screen._bars.values()] == ["+B: 38.40 V, still charged"]
    rig.now += 30
    screen.refresh()
    assert "measure at its own terminals" in screen._bars["+B"].accessibleName()
    qtbot.keyClick(screen, Qt.Key.Key_Enter)
    assert rig.frame.whole.currentIndex() == 0


def test_nothing_moves_under_the_hand_when_a_sentence_comes_or_is_put_away(rig: Rig, qtbot: QtBot) -> None:
    button = rig.pages[0].findChild(QPushButton)
    assert button is not None

    def where() -> QPoint:
        return button.mapTo(rig.frame, QPoint(0, 0))

    before = where()
    rig.work.say("A sentence so long that it takes several lines. " * 12)
    rig.work.say("Another one.", grave=True)
    rig.frame.strip.show()
    first, second = rig.frame.notices.standing()
    assert not first.isVisible()
    qtbot.mouseClick(second.more, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: first.height() > 60 and rig.frame.strip.height() > 20, timeout=30_000)
    assert first.visibleRegion().boundingRect().size() == first.size()
    assert where() == before
    second.put_away()
    first.put_away()
    rig.frame.strip.hide()
    above = rig.frame.notices.parentWidget()
    assert above is not None
    qtbot.waitUntil(lambda: above.height() == 0, timeout=30_000)
    assert where() == before


def test_closing_on_a_live_unit_says_so_then_cuts_and_goes_once_off_was_seen(rig: Rig) -> None:
    rig.live()
    assert not rig.frame.close()
    assert cuts(rig) == 0
    assert rig.frame.notices.standing()[-1].text.startswith("The unit is on.")
    assert not rig.frame.close()
    assert cuts(rig) == 1
    assert rig.frame.whole.currentWidget() is rig.frame.cut_screen
    off(rig)
    assert not rig.frame.notices.standing()
    assert rig.frame.isVisible()
    rig.link.say(seen_off("mains relay"))
    assert not rig.frame.isVisible()


def test_a_window_told_a_third_time_to_close_goes_whatever_was_seen(rig: Rig) -> None:
    rig.live()
    for _ in range(2):
        assert not rig.frame.close()
    assert rig.frame.close()
    assert cuts(rig) == 2


def off(rig: Rig, *said: messages.Message) -> None:
    """The run goes off by a cut."""
    rig.link.say(messages.Event(t=0, kind="off", text="cut by the operator", data={"why": "cut"}), *said)


def seen_off(path: str) -> messages.CutState:
    return messages.CutState(t=0, path=path, outcome="verified off", text="off", asked_ns=0, at_ns=1)


def test_the_window_does_not_close_at_the_first_try_where_nothing_was_seen_off(rig: Rig) -> None:
    rig.live()
    assert not rig.frame.close()
    off(rig)
    assert rig.frame.foot._button._live
    # What was said of the live unit does not count for this.
    assert not rig.frame.close()
    assert rig.frame.notices.standing()[-1].text.startswith("The unit was not seen off yet.")
    assert rig.frame.close()


def test_the_window_closes_at_once_where_the_unit_was_seen_off(rig: Rig) -> None:
    rig.live()
    off(rig, seen_off("mains"))
    assert not rig.frame.foot._button._live
    assert rig.frame.close()


def test_a_proof_under_way_is_cut_as_the_window_closes(rig: Rig) -> None:
    rig.live()
    rig.runner.view.phase = Phase.PROVING
    assert rig.frame.close()
    assert cuts(rig) == 1


def test_the_critical_traces_come_first_and_a_meter_that_walks_is_shown_too(rig: Rig) -> None:
    rig.live()
    plan = rig.runner.view.plan
    assert plan is not None
    rig.runner.view.plan = replace(plan, trace=(replace(plan.trace[0], critical=False), *plan.trace[1:]))
    names = [face.name for face in faces_of(rig.runner.view, rig.now)]
    first = plan.trace[0].name
    critical = [trace.name for trace in plan.trace[1:] if trace.critical and trace.name in names]
    assert names[: len(critical)] == critical
    assert names.index(first) >= len(critical)
    assert names[-1] == "parts meter"


def test_where_not_all_meters_have_room_the_last_tile_counts_the_rest_and_says_what_is_wrong() -> None:
    faces = [TileFace(f"{n}", number="1") for n in range(12)]
    assert gathered(faces, 12) == faces
    *shown, more = gathered(faces, 10)
    assert shown == faces[:9]
    assert (more.name, more.number, more.wrong, more.tip) == ("more meters", "+3", "", "9 1, 10 1, 11 1")
    faces[10] = TileFace("sink R", number="1", wrong="no news for 6.0 s", brief="6 s")
    more = gathered(faces, 10)[-1]
    assert (more.number, more.wrong, more.tip) == ("+3", "sink R: 6 s", "9 1, sink R no news for 6.0 s, 11 1")


def test_a_value_grows_old_on_its_tile(rig: Rig) -> None:
    rig.live()
    rig.reading("+B", 38.92)
    rig.reading("-B", None, "overload")

    def face(name: str) -> tuple[str, str, str]:
        found = next(one for one in faces_of(rig.runner.view, rig.now) if one.name == name)
        return found.number, found.unit, found.wrong

    assert face("+B") == ("38.92", "V", "")
    assert face("-B") == ("OL", "", "OL")
    rig.now += 4.1
    assert face("+B") == ("38.92", "V", "no news for 4.1 s")
    rig.reading("+B", None, "missing")
    assert face("+B") == ("- -", "", "no news for 4.1 s"), "no answer is no news"
    rig.now += 1.0
    assert face("+B") == ("- -", "", "no news for 5.1 s")


@pytest.mark.parametrize(
    ("outcome", "value", "doubt", "number", "wrong"),
    [
        ("not live", None, "not live: HOLD", "- -", "not live: HOLD"),
        ("wrong function", None, "wrong function: ohms", "- -", "wrong function: ohms"),
        ("did not follow", None, "did not follow", "- -", "did not follow"),
        ("clip off?", None, "", "- -", "clip off?"),
        ("missing", None, "not live: HOLD", "- -", "no answer"),
        ("ok", 0.0121, "unproven", "12.10", "unproven"),
        ("ok", 0.0121, "not live: HOLD", "12.10", ""),
        ("ok", 0.0121, "", "12.10", ""),
    ],
)
def test_what_is_doubted_says_why_on_its_tile(
    rig: Rig, outcome: str, value: float | None, doubt: str, number: str, wrong: str
) -> None:
    rig.live()
    data = {"trace": "offset L", "doubt": doubt}
    rig.link.say(messages.Event(t=0, kind="trust", text="a doubt", data=data))
    rig.reading("offset L", value, outcome)
    found = next(one for one in faces_of(rig.runner.view, rig.now) if one.name == "offset L")
    assert (found.number, found.wrong, found.brief) == (number, wrong, wrong.partition(":")[0])
    seen = next(one for one in numerals_of(rig.runner.view, rig.now, {}) if one.face.name == "offset L")
    assert seen.face == found
    assert (seen.shape is Shape.NOTHING) == bool(wrong)


def test_a_meter_that_was_away_for_long_grows_old_as_soon_as_before(rig: Rig) -> None:
    live = Live("+B")
    for seq in range(1, 20):
        live.take((seq, 0, 38.9, "ok"), rig.now)
        rig.now += 0.5
    rig.now += 100.0
    live.take((20, 0, 38.9, "ok"), rig.now)
    assert not live.stale(rig.now + 1.9)
    assert live.stale(rig.now + 3.1)


def test_a_slow_meter_is_known_as_slow_after_a_while(rig: Rig) -> None:
    live = Live("sink")
    for seq in range(1, 30):
        live.take((seq, 0, 31.0, "ok"), rig.now)
        rig.now += 8.0
    assert not live.stale(rig.now)


def test_without_a_plan_the_meters_stand_there_by_their_jobs(rig: Rig) -> None:
    rig.runner.know_bench(bench())
    rig.reading("lamp", 23.1)
    faces = {one.name: one for one in faces_of(rig.runner.view, rig.now)}
    assert (faces["lamp"].number, faces["lamp"].unit) == ("23.1", "V")
    assert faces["parts meter"].idle == "walks with you"
    assert faces["mains"].idle == "nothing yet"


def test_nothing_is_cut_off_at_half_of_a_small_screen(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    rig.frame.resize(683, 768)
    qtbot.waitUntil(lambda: rig.frame.width() <= 700)
    for trace in textfile.read(EXAMPLE / "plan.toml", Plan).trace:
        rig.reading(trace.name, 12.0)
    for tile in rig.frame.foot._tiles.values():
        assert tile.width() >= tile.minimumSizeHint().width()
    assert rig.frame.foot._button.geometry().right() <= rig.frame.foot.width()


def test_the_names_of_a_bench_of_nine_are_whole_at_the_usual_size(rig: Rig, look: Look, qtbot: QtBot) -> None:
    plan = (resources.path("examples", "board") / "plan.toml").read_text("utf-8")
    rig.runner.know_bench(bench("board"))
    rig.runner.load_plan(plan, "plan.toml")
    rig.link.answer(messages.LoadPlan, sentences=["One sentence."])
    rig.frame.resize(1274, 900)
    qtbot.waitUntil(lambda: len(rig.frame.foot._tiles) == 9 and rig.frame.foot._rows == 2)
    for name, tile in rig.frame.foot._tiles.items():
        age = QFontMetricsF(look.font(13)).horizontalAdvance("0.0 s")
        assert named(look, name, tile.width() - 22 - age - 6, small=tile.height() < 62)[1] == name


def test_a_dead_recorder_is_told_and_nothing_is_believed_to_be_off(rig: Rig) -> None:
    rig.live()
    rig.link.down.emit(Gone(WATCH, "was killed", "switch off by hand now and pull the plug"))
    assert rig.runner.view.phase is Phase.OFF
    assert rig.frame.cut_screen.isVisible() or rig.frame.notices.standing()
    assert not rig.runner.view.seen_off


def test_one_off_switch_of_two_proves_nothing(rig: Rig) -> None:
    rig.live()
    only = rig.runner.view.bench
    assert only is not None
    hand = OffSwitchEntry(job="hand", kind="hand")
    rig.runner.view.bench = replace(only, off_switch=(*only.off_switch, hand))
    ask = messages.Prompt(prompt=4, kind="switch_off", text="Switch the unit off now.")
    off(rig, ask, seen_off("mains"))
    assert not rig.runner.view.seen_off
    assert rig.runner.view.prompt is not None
    rig.link.say(seen_off("hand"))
    assert rig.runner.view.seen_off
    assert rig.runner.view.prompt is None
