"""The page after a cut, and what may lie over the others while a unit is live."""

from helpers.window_rig import Rig
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.recorder.client import messages


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
    assert shown(rig) == ["The first.", "The second."]


def test_what_is_grave_is_the_last_to_give_way(rig: Rig) -> None:
    rig.work.say("Grave.", grave=True)
    for n in range(4):
        rig.work.say(f"Sentence {n}.")
    assert shown(rig) == ["Grave.", "Sentence 2.", "Sentence 3."]
