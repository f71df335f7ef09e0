"""The page after a cut, and what may lie over the others while a unit is live."""

from itertools import pairwise

import pytest
from helpers.window_rig import Rig, bench
from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics
from pytestqt.qtbot import QtBot

from benchlog import resources
from benchlog.recorder.client import messages
from benchlog.window.after_cut import story_of
from benchlog.window.cut_screen import SwitchLine
from benchlog.window.look import Look


def test_after_a_cut_by_hand_enter_says_that_it_is_off(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    rig.link.say(
        messages.Event(t=0, kind="off", text="cut by the operator", data={"why": "cut"}),
        messages.Prompt(prompt=4, kind="switch_off", text="Switch the unit off now."),
    )
    # This one was meant for what stood there before.
    qtbot.keyClick(rig.frame.cut_screen, Qt.Key.Key_Enter)
    assert rig.link.of(messages.Answer) == []
    assert rig.frame.whole.currentWidget() is rig.frame.cut_screen
    rig.now += 2.1
    qtbot.keyClick(rig.frame.cut_screen, Qt.Key.Key_Enter)
    answers = rig.link.of(messages.Answer)
    assert [(one.prompt, one.yes) for one in answers if isinstance(one, messages.Answer)] == [(4, True)]
    assert rig.frame.whole.currentWidget() is rig.frame.cut_screen


def test_enter_that_is_hammered_across_a_cut_does_not_leave_its_page(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    rig.link.say(messages.Event(t=0, kind="off", text="cut by the operator", data={"why": "cut"}))
    screen = rig.frame.cut_screen
    for _ in range(12):
        qtbot.keyClick(screen, Qt.Key.Key_Enter)
        assert rig.frame.whole.currentWidget() is screen
        rig.now += 0.4
    rig.now += 1.0
    qtbot.keyClick(screen, Qt.Key.Key_Enter)
    assert rig.frame.whole.currentIndex() == 0


def on_the_board(rig: Rig) -> None:
    """Live on the board of the example, with four reservoirs."""
    folder = resources.path("examples", "board")
    rig.runner.know_bench(bench("board"))
    rig.runner.load_plan((folder / "plan.toml").read_text("utf-8"), "plan.toml")
    rig.link.answer(messages.LoadPlan, sentences=["One sentence."])
    rig.runner.prove()
    rig.link.answer(messages.Prove, said=["proven"])
    rig.runner.arm("folder")
    rig.link.answer(messages.Arm, session="folder/run.db")
    rig.link.say(rig.stage("standing"), rig.stage("dwelling"))


def shown(rig: Rig) -> list[str]:
    """The sentences that can be seen."""
    return [one.text for one in rig.frame.notices.standing() if not one.isHidden()]


def test_one_line_at_most_lies_over_the_page_of_a_live_unit(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    rig.work.say("A grave sentence so long that it takes several lines. " * 12, grave=True)
    rig.work.say("The first.")
    rig.work.say("The second.")
    (lead, *_) = rig.frame.notices.standing()
    assert shown(rig) == [lead.text]
    assert lead.more.text() == "+2 more"
    above = rig.frame.notices.parentWidget()
    assert above is not None
    qtbot.waitUntil(lambda: 0 < above.height() < 60, timeout=30_000)
    qtbot.mouseClick(lead.more, Qt.MouseButton.LeftButton)
    assert len(shown(rig)) == 3
    qtbot.mouseClick(lead.more, Qt.MouseButton.LeftButton)
    lead.put_away()
    assert shown(rig) == ["The second."]
    rig.link.say(messages.Event(t=0, kind="off", text="all stages done", data={"why": "off"}))
    assert shown(rig) == ["The second."]


def test_what_is_grave_is_the_last_to_give_way(rig: Rig) -> None:
    rig.work.say("Grave.", grave=True)
    for n in range(4):
        rig.work.say(f"Sentence {n}.")
    assert shown(rig) == ["Grave.", "Sentence 3."]
    assert len(rig.frame.notices.standing()) == 3


# --- an off that does not come ---------------------------------------------------------------------


def stands(path: str, outcome: str, text: str, *, seen_off: bool = False) -> messages.CutState:
    """How an off-switch stands, a little after it was asked."""
    return messages.CutState(
        t=0, path=path, outcome=outcome, text=text, asked_ns=0, at_ns=2_100_000_000, seen_off=seen_off
    )


LIVE = stands("mains relay", "asked, still live", "STILL LIVE: mains reads 230.0 V")
ANOTHERS = stands(
    "mains relay",
    "asked, still live",
    "did not act: mains read 230.0 V 2.5 s after off was asked; off since, not by this one",
    seen_off=True,
)


def lines(rig: Rig) -> list[str]:
    """What is said of each off-switch."""
    return [line.text for line in rig.frame.cut_screen.findChildren(SwitchLine) if not line.isHidden()]


def test_while_it_is_live_the_page_says_so_with_the_number_of_now(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    screen = rig.frame.cut_screen
    rig.link.say(messages.Event(t=0, kind="off", text="lamp too bright", data={"why": "cut"}))
    assert screen.word.text() == "CUT"
    rig.reading("mains", 230.0)
    ask = messages.Prompt(prompt=4, kind="switch_off", text="STILL LIVE: mains reads 230.0 V. Pull the plug.")
    rig.link.say(LIVE, ask)
    assert (screen.word.text(), screen.what.text()) == ("STILL LIVE", "mains 230.0 V")
    assert screen.where.text().startswith("lamp too bright, stage 10 %")
    qtbot.waitUntil(lambda: lines(rig) == ["mains relay: STILL LIVE"], timeout=30_000)
    assert screen.next.text() == "Pull the plug. Then say so."
    assert screen.keep_out.text() == "Treat it as live: switch off by hand and pull the plug."
    rig.reading("mains", 118.0, seq=2)
    screen.refresh()
    assert screen.what.text() == "mains 118.0 V"


def test_a_number_that_is_old_gives_way_to_what_was_read_then(rig: Rig) -> None:
    rig.live()
    rig.reading("mains", 118.0)
    rig.now += 60.0
    rig.link.say(messages.Event(t=0, kind="off", text="lamp too bright", data={"why": "cut"}), LIVE)
    assert rig.frame.cut_screen.what.text() == "Mains reads 230.0 V"


def test_one_that_did_not_act_is_said_so_beside_the_hand_that_did(rig: Rig, qtbot: QtBot) -> None:
    rig.live()
    rig.link.say(messages.Event(t=0, kind="off", text="lamp too bright", data={"why": "cut"}), LIVE)
    rig.link.say(ANOTHERS, stands("wall switch", "verified off", "mains fell to 0.10 V"))
    screen = rig.frame.cut_screen
    assert screen.word.text() == "CUT"
    qtbot.waitUntil(
        lambda: lines(rig) == ["mains relay: did not act", "wall switch: seen off"], timeout=30_000
    )
    assert screen.next.text().startswith("mains relay did not act: find out why.")
    assert rig.runner.view.seen_off
    assert rig.runner.view.failed == ("mains relay",)


def test_an_off_in_good_order_that_does_not_come_takes_the_window_once(rig: Rig) -> None:
    rig.live()
    rig.link.say(messages.Event(t=0, kind="off", text="all stages done", data={"why": "off"}))
    whole = rig.frame.whole
    assert whole.currentWidget() is not rig.frame.cut_screen
    rig.link.say(LIVE)
    assert whole.currentWidget() is rig.frame.cut_screen
    rig.frame.leave_cut()
    rig.link.say(LIVE)
    assert whole.currentWidget() is not rig.frame.cut_screen


def test_one_that_came_late_and_was_seen_off_was_off_and_never_cut(rig: Rig) -> None:
    rig.live()
    rig.link.say(messages.Event(t=0, kind="off", text="all stages done", data={"why": "off"}), LIVE)
    screen = rig.frame.cut_screen
    assert screen.word.text() == "STILL LIVE"
    rig.link.say(stands("mains relay", "verified off", "mains fell to 0.0 V", seen_off=True))
    screen.refresh()
    assert screen.word.text() == "OFF"


def test_four_reservoirs_stand_below_each_other_in_a_small_window(rig: Rig, look: Look, qtbot: QtBot) -> None:
    rig.frame.resize(683, 768)
    on_the_board(rig)
    names = ("raw + volts", "raw - volts", "regulated +", "regulated -")
    for name in names:
        rig.reading(name, 14.0)
    rig.link.say(messages.Event(t=0, kind="off", text="cut by the operator", data={"why": "cut"}))
    screen = rig.frame.cut_screen
    rig.now += 9.0  # What is said of them is longest where nothing is heard of them any more.
    screen.refresh()
    bars = [screen._bars[name] for name in names]

    def apart() -> bool:
        screen.refresh()
        boxes = [bar.geometry() for bar in bars]
        return all(one.bottom() < other.top() for one, other in pairwise(boxes))

    qtbot.waitUntil(apart, timeout=30_000)
    layout = screen.layout()
    assert layout is not None
    assert layout.minimumSize().height() <= screen.height()
    for bar in bars:
        assert bar.height() >= bar.minimumHeight()
        lowest = QFontMetrics(look.font(10, bold=True))
        assert lowest.horizontalAdvance("measure at its own terminals") < bar.width() - sum(bar._columns) - 20


@pytest.mark.parametrize(("ns", "took"), [(155_000_000, "155 ms"), (12_422_000_000, "12.4 s")])
def test_how_long_off_took_is_said_in_the_unit_that_reads_well(rig: Rig, ns: int, took: str) -> None:
    rig.live()
    off = messages.CutState(
        t=0,
        path="wall switch",
        outcome="verified off",
        text="mains fell",
        asked_ns=0,
        at_ns=ns,
        seen_off=True,
    )
    rig.link.say(messages.Event(t=0, kind="off", text="cut by the operator", data={"why": "cut"}), off)
    (switch,) = story_of(rig.runner.view, rig.now).switches
    assert switch.took == f"{took} after the cut"
