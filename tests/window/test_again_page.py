"""After a trip the Power-up page offers the way back up, asks for its cause by a key, and says what forbids it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.powerup_rig import PLAN, SENTENCES, PowerUpRig, enter, told_cold
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from benchlog.recorder.client import messages
from benchlog.window.again import CAUSES
from benchlog.window.keys import Action
from benchlog.window.look import Look
from benchlog.window.run_view import Phase

Key = Qt.Key


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(made.window)
    made.window.resize(683, 768)
    made.window.show()
    yield made
    made.close()


def tripped(rig: PowerUpRig, trace: str = "offset L", off: str = "verified off", told: bool = False) -> None:
    """A run that tripped at its third stage, and is closed."""
    rig.climb(2, seconds=1.0)
    rig.link.say(messages.Trip(t=int(rig.t * 1e9), wire_ns=0, trace=trace, limit="high", text="too much"))
    rig.event("off", "too much", why="trip")
    if told:
        rig.event("told", "told: the unit is off", prompt="switch_off", done=True)
    rig.event("closed", "too much", outcome="tripped", off=off, told_off=told)
    rig.link.say(messages.Closed(path=rig.session, outcome="tripped", reason="too much", folded=True))
    rig.page.refresh()


def cap(rig: PowerUpRig) -> str:
    """What the key offers just now; empty where it is not there."""
    rig.page.refresh()
    key = rig.page.row.caps[Action.AGAIN]
    return key.does if key.isVisible() else ""


def checked_again(rig: PowerUpRig) -> None:
    """The recorder has checked the plan once more."""
    request = rig.link.of(messages.LoadPlan)[-1]
    assert isinstance(request, messages.LoadPlan)
    assert request.text == PLAN
    rig.link.answer(messages.LoadPlan, sentences=SENTENCES)
    assert rig.runner.view.phase is Phase.CHECKED
    told_cold(rig.runner.view)
    rig.page.refresh()


def armed(rig: PowerUpRig) -> tuple[str, str]:
    """Prove and begin by Enter: what the session is asked to go on from, and the cause."""
    enter(rig)
    rig.link.answer(messages.Prove, said=["proven"])
    enter(rig)
    request = rig.link.of(messages.Arm)[-1]
    assert isinstance(request, messages.Arm)
    return request.again, request.cause


def test_the_cause_is_chosen_by_its_number_and_the_run_goes_on_from_the_old_one(rig: PowerUpRig) -> None:
    tripped(rig)
    assert cap(rig) == "again from 40 %"
    rig.page.act(Action.AGAIN)
    assert [one.does for one in rig.page.again.caps][: len(CAUSES)] == list(CAUSES)
    QTest.keyClicks(rig.page.again.field, "2")
    checked_again(rig)
    said = "Again from 40 %, short dwells below it. Cause named: a limit was set too tight."
    assert said in rig.page.card.call.detail
    assert armed(rig) == (rig.session, "a limit was set too tight")
    assert said in rig.page.card.call.detail


def test_any_other_cause_is_typed(rig: PowerUpRig) -> None:
    tripped(rig)
    rig.page.act(Action.AGAIN)
    QTest.keyClicks(rig.page.again.field, str(len(CAUSES) + 1))
    QTest.keyClicks(rig.page.again.field, "a screw under Q7")
    QTest.keyClick(rig.page.again.field, Key.Key_Enter)
    checked_again(rig)
    assert armed(rig) == (rig.session, "a screw under Q7")


def test_without_a_cause_nothing_is_begun(rig: PowerUpRig) -> None:
    tripped(rig)
    rig.page.act(Action.AGAIN)
    QTest.keyClick(rig.page.again.field, Key.Key_Backspace)
    assert rig.page.again.isHidden()
    rig.page.act(Action.AGAIN)
    QTest.keyClicks(rig.page.again.field, str(len(CAUSES) + 1))
    QTest.keyClick(rig.page.again.field, Key.Key_Enter)
    assert (rig.page.again.isHidden(), rig.runner.view.phase) == (True, Phase.CLOSED)


def test_the_same_key_goes_back_to_full_dwells(rig: PowerUpRig) -> None:
    tripped(rig)
    rig.page.act(Action.AGAIN)
    QTest.keyClicks(rig.page.again.field, "1")
    checked_again(rig)
    assert cap(rig) == "full dwells"
    rig.page.act(Action.AGAIN)
    assert (cap(rig), rig.page.card.call.detail.count("short dwells")) == ("", 0)
    assert armed(rig) == ("", "")


def test_once_more_goes_up_with_full_dwells(rig: PowerUpRig) -> None:
    tripped(rig)
    enter(rig)
    checked_again(rig)
    assert armed(rig) == ("", "")


@pytest.mark.parametrize(
    ("trace", "off", "said"),
    [
        ("lamp", "verified off", "The unit drew too much, as with a short: go up with full dwells."),
        ("offset L", "unknown", "STILL LIVE: nothing has shown that the unit went off after that trip."),
    ],
)
def test_what_forbids_it_is_said_in_one_sentence(rig: PowerUpRig, trace: str, off: str, said: str) -> None:
    heard: list[str] = []
    rig.work.said.connect(lambda text, _: heard.append(text))
    tripped(rig, trace, off)
    rig.page.act(Action.AGAIN)
    assert (heard, rig.page.again.isHidden()) == ([said], True)


def test_a_persons_word_that_a_meter_contradicts_does_not_offer_it(rig: PowerUpRig) -> None:
    heard: list[str] = []
    rig.work.said.connect(lambda text, _: heard.append(text))
    tripped(rig, off="asked, still live", told=True)
    rig.page.act(Action.AGAIN)
    assert heard[0].startswith("STILL LIVE: ")
    assert rig.page.again.isHidden()


def test_after_a_good_run_there_is_no_such_key(rig: PowerUpRig) -> None:
    rig.climb(2, seconds=1.0)
    rig.off()
    rig.closed()
    assert cap(rig) == ""
    rig.page.act(Action.AGAIN)
    assert rig.page.again.isHidden()
